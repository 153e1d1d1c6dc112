"""No control character of a name, a file or a typed word reaches the terminal."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from passalong.main import _document
from passalong.terminal import Tame, say, tamed
from rich.console import Console

HOSTILE = "a\x1b[2Jb\x9b1mc\u202ed\x07\x7f\u2066e"
SHOWN = "a�[2Jb�1mc�d���e"


def test_controls_are_shown_as_what_they_are(capsys: pytest.CaptureFixture[str]):
    assert tamed(HOSTILE) == SHOWN
    assert tamed("naïve\tסי\u200cم\nline 海") == "naïve\tסי\u200cم\nline 海"
    say(HOSTILE)
    assert capsys.readouterr().out == SHOWN + "\n"


def test_json_says_the_same_without_them():
    text = _document({"name": HOSTILE})
    assert json.loads(text) == {"name": HOSTILE}
    assert tamed(text) == text


def test_tables_and_lines_of_rich_are_tamed_and_keep_their_colour():
    from rich.table import Table

    console = Console(force_terminal=True, color_system="truecolor", width=80, legacy_windows=False,
                      highlight=False)
    console.push_render_hook(Tame())
    table = Table("print")
    table.add_row(HOSTILE, style="red")
    with console.capture() as caught:
        console.print(table)
        console.print(HOSTILE, markup=False)
    said = caught.get()
    assert said.count(SHOWN.replace("���", "��")) == 2  # rich itself drops the bell
    assert "\x1b[2J" not in said
    assert "\x9b" not in said
    assert "\x1b[31m" in said


@pytest.mark.parametrize("arguments", [
    ["order", HOSTILE], ["name", HOSTILE, f"a={HOSTILE}"], ["order", "x", f"--{HOSTILE}"],
    [HOSTILE], ["make", HOSTILE, "--out", HOSTILE], ["plan", "x", "--size", HOSTILE],
])  # fmt: skip
def test_a_hostile_word_is_answered_in_plain_letters(arguments: list[str], tmp_path: Path):
    done = subprocess.run(
        [sys.executable, "-m", "passalong", *arguments], capture_output=True, cwd=tmp_path,
        check=False,
    )  # fmt: skip
    assert done.returncode in (1, 2)
    said = (done.stdout + done.stderr).decode()
    assert "Traceback" not in said
    assert tamed(said) == said
