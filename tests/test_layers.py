"""Imports only run downward: ground ← rooms ← road ← faces, and no room imports another."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
GROUND = {"models", "inches", "errors", "files", "quiet_highs", "second_core", "colour"}
ROOMS = {"photo", "prints", "order", "contrasts", "plan", "rendering", "sheets"}
ROAD = {
    "reading", "both_cores", "photograph", "corrections", "ordering", "make", "piece", "__init__",
}
FILES = sorted([*ROOT.glob("sequencer/**/*.py"), *ROOT.glob("cli/passalong/*.py")])


def place(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return "face" if parts[0] == "cli" or parts[1] == "web" else parts[1]


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            modules = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            modules = [alias.name for alias in node.names]
        else:
            continue
        names |= {m.split(".")[1] if "." in m else "__init__"
                  for m in modules if m.split(".")[0] == "sequencer"}
    return names


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
