"""Imports only run downward: ground ← rooms ← road ← faces, and no room imports another."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GROUND = {
    "models", "inches", "errors", "doors", "files", "kept", "keys", "quiet_highs", "second_core",
    "colour", "lettering",
}
ROOMS = {"keeping", "photo", "prints", "order", "contrasts", "plan", "rendering", "sheets"}
ROAD = {
    "reading", "intake", "set_right", "corrections", "ordering", "planning", "written", "make",
    "piece", "summary", "__init__", "opened", "marks",
}
# Rooms within a room (and modules they stand on), lowest first: each imports itself and those
# before it.
INNER = {
    "order": ("graph", "search", "wishes", "words"),
    "sheets": ("paper", "followed", "drawn", "pages"),
    "keeping": ("disk",),
    "photo": ("shapes", "files", "finds", "reference", "scale", "colour", "agreement"),
    "opened": ("trying", "shown"),
}
FILES = sorted([*ROOT.glob("sequencer/**/*.py"), *ROOT.glob("cli/passalong/*.py")])


def place(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return "face" if parts[0] == "cli" or parts[1] == "web" else parts[1]


def inner_place(path: Path) -> str | None:
    """The room within a room that a file lies in: "finds" for sequencer/photo/finds/…; or the
    module itself, where it is one that rooms stand on.
    """
    parts = path.relative_to(ROOT).with_suffix("").parts
    if parts[1] not in INNER or len(parts) < 3:
        return None
    return parts[2] if len(parts) > 3 or parts[2] in INNER[parts[1]] else None


def modules(path: Path) -> list[tuple[str, ...]]:
    found: list[str] = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found += [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
    return [parts for parts in (tuple(name.split(".")) for name in found)
            if parts[0] == "sequencer"]


def imported(path: Path) -> set[str]:
    return {parts[1] if len(parts) > 1 else "__init__" for parts in modules(path)}


def allowed(here: str) -> set[str]:
    if here in GROUND:
        return GROUND
    if here in ROOMS:
        return GROUND | {here} | ({"rendering"} if here == "sheets" else set())
    return GROUND | ROOMS | ROAD if here in ROAD else GROUND | ROAD | {"web"}


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_run_downward(path: Path) -> None:
    wrong = imported(path) - allowed(place(path))
    assert not wrong, f"{path} reaches up or sideways to {sorted(wrong)}"


@pytest.mark.parametrize("room", INNER)
def test_rooms_within_a_room_import_one_way(room: str) -> None:
    order = INNER[room]
    files = sorted((ROOT / "sequencer" / room).glob("**/*.py"))
    assert {inner_place(path) for path in files} - {None} == set(order)
    for path in files:
        here = inner_place(path)
        theirs = {parts[2] for parts in modules(path)
                  if parts[:2] == ("sequencer", room) and len(parts) > 2}
        if here is None:
            theirs &= set(order)
        below = set(order[:order.index(here) + 1]) if here else set(order)
        assert theirs <= below, f"{path} reaches up or sideways to {sorted(theirs - below)}"


PLAN_ROOMS = ("asked", "curve", "columns", "sewing", "cloth", "words")
"""Rooms of the plan, each of which may ask only those before it, through their doors."""
PLAN_FILES = [p for p in FILES if p.is_relative_to(ROOT / "sequencer" / "plan")
              and p.name != "__init__.py"]  # fmt: skip
PLAN_ANSWERS = ("answers", "scaling")
"""Rooms that plan again, and so stand above the planner."""


def plan_place(path: Path) -> str:
    return path.relative_to(ROOT / "sequencer" / "plan").parts[0].removesuffix(".py")


def plan_imports(path: Path) -> set[str]:
    found = ast.walk(ast.parse(path.read_text("utf-8")))
    modules = {node.module or "" for node in found if isinstance(node, ast.ImportFrom)}
    return {one for one in modules if one.startswith("sequencer.plan.")}


@pytest.mark.parametrize("path", PLAN_FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_plan_rooms_are_entered_by_their_doors(path: Path) -> None:
    here = plan_place(path)
    rooms = [*PLAN_ROOMS, "options", "planner", "kept", "answers", "scaling"]
    below = set(rooms[: rooms.index(here)]) if here in rooms else set()
    below -= set(PLAN_ANSWERS) - ({"scaling"} if here == "answers" else set())
    for name in plan_imports(path):
        room, *inside = name.split(".")[2:]
        if room == here:
            continue
        assert not inside, f"{path}: {name} is inside another room"
        assert room == "telling" or room in below or (here, room) == ("answers", "scaling"), (
            f"{path}: {here} may not ask {room}"
        )


def test_plan_has_no_circles() -> None:
    files = {
        ".".join(p.relative_to(ROOT).with_suffix("").parts): p for p in PLAN_FILES
    }
    asks = {name: {one for one in plan_imports(p) if one in files} for name, p in files.items()}
    while asks:
        free = [name for name, others in asks.items() if not others & set(asks)]
        assert free, f"a circle among {sorted(asks)}"
        for name in free:
            del asks[name]
