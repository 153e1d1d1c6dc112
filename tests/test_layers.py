"""Imports only run downward: ground ← rooms ← road ← faces, and no room imports another."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
GROUND = {"models", "inches", "errors", "files", "quiet_highs", "second_core", "colour"}
ROOMS = {"keeping", "photo", "prints", "order", "contrasts", "plan", "rendering", "sheets"}
ROAD = {
    "reading", "both_cores", "photograph", "corrections", "ordering", "make", "piece", "__init__",
}
# Rooms within a room, lowest first: each imports itself and those before it.
INNER = {
    "photo": ("shapes", "files", "finds", "reference", "scale", "colour", "agreement"),
}
FILES = sorted([*ROOT.glob("sequencer/**/*.py"), *ROOT.glob("cli/passalong/*.py")])


def place(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return "face" if parts[0] == "cli" or parts[1] == "web" else parts[1]


def inner_place(path: Path) -> str | None:
    """The room within a room that a file lies in: "finds" for sequencer/photo/finds/…"""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[2] if len(parts) > 3 and parts[1] in INNER else None


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
    return GROUND | ROOMS | ROAD if here in ROAD else GROUND | ROAD


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
        below = set(order[:order.index(here) + 1]) if here else set(order)
        assert theirs <= below, f"{path} reaches up or sideways to {sorted(theirs - below)}"
