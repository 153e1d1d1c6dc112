"""The README cannot lie: every command line in it parses, and every command is in it."""

import re
import shlex
from pathlib import Path

import pytest
from passalong.options import parser

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
LINES = [line.split("  #")[0].strip() for line in README.splitlines()
         if re.match(r"    passalong ", line)]
COMMANDS = set(next(action.choices for action in parser()._actions
                    if action.dest == "command") or ())


@pytest.mark.parametrize("line", LINES)
def test_every_example_parses(line):
    asked = parser().parse_args(shlex.split(line)[1:])
    assert asked.command in COMMANDS


def test_every_command_is_shown():
    assert {shlex.split(line)[1] for line in LINES} == COMMANDS


def test_pictures_are_there():
    shown = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert len(shown) >= 3
    for path in shown:
        assert (ROOT / path).is_file(), path


def test_no_machine_path_in_the_documents():
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        assert str(ROOT) not in (ROOT / name).read_text("utf-8")
