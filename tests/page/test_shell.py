"""The shell: where things are, undo and redo, two hands on one folder, a lost connection."""

from __future__ import annotations

from pathlib import Path

STATIC = Path(__file__).parents[2] / "sequencer" / "web" / "static"
MOST = 120_000


def test_page_code_is_small_and_has_no_inline_script() -> None:
    files = [one for one in STATIC.rglob("*") if one.is_file()]
    assert sum(one.stat().st_size for one in files) <= MOST
    for one in files:
        text = one.read_text("utf-8")
        if one.suffix == ".html":
            assert not [one for one in ("<style", " style=", "onclick=") if one in text]
            assert text.count("<script") == text.count("<script type=\"module\" src=")
