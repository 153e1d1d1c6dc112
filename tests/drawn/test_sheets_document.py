"""The sheets as a document: title, date, fonts, the same bytes again, nothing half written."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sequencer import write_sheets
from sequencer.errors import SheetError, UsageError
from tests.made.sheets.made import made_prints, made_sequence
from tests.made.sheets.read import check_ink, planned, text_of, written


def test_title_and_date_by_wish_and_no_clock(tmp_path: Path) -> None:
    prints = made_prints(3)
    reader = written(tmp_path / "s.pdf", planned(prints), prints, title="Low tide", date="May 2031")
    assert "Low tide May 2031" in " ".join(reader.pages[0].extract_text().split())
    plain = written(tmp_path / "p.pdf", planned(prints), prints)
    assert not re.search(r"20\d\d", text_of(plain))


def test_every_font_is_embedded_and_the_document_names_itself(tmp_path: Path) -> None:
    prints = made_prints(3)
    reader = written(tmp_path / "s.pdf", planned(prints), prints, title="Harbour <evening> & more")
    assert reader.metadata.title == "Harbour <evening> & more"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    for number, page in enumerate(reader.pages, 1):
        shown = " ".join(page.extract_text().split())
        assert f"Harbour <evening> & more page {number} of {len(reader.pages)}" in shown
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"]
    assert [entry.title for entry in reader.outline] == [
        "The piece", "The prints in sequence", "Before the first cut", "Cutting the scraps",
        "Cutting list", "Strip set 1", "Columns", "From columns to the finished piece",
        "Pin labels",
    ]  # fmt: skip


def test_same_input_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        prints = made_prints(5)
        write_sheets(planned(prints), prints, tmp_path / name, seq=made_sequence(prints))
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_nothing_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    prints = made_prints(3)
    plan, target = planned(prints), tmp_path / "s.pdf"
    target.write_bytes(b"the old sheets")
    with pytest.raises(SheetError, match="no such print"):
        write_sheets(plan, prints[1:], target)
    with pytest.raises(UsageError, match=r"'a5'.*letter or a4"):
        write_sheets(plan, prints, target, paper="a5")
    with pytest.raises(UsageError, match=r"'ft'.*in or cm"):
        write_sheets(plan, prints, target, units="ft")
    with pytest.raises(SheetError, match="cannot be written"):
        write_sheets(plan, prints, tmp_path / "missing" / "s.pdf")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(SheetError, match="No space left"):
        write_sheets(plan, prints, target)
    assert target.read_bytes() == b"the old sheets"
    assert [path.name for path in tmp_path.iterdir()] == ["s.pdf"]


def test_a_part_larger_than_a_page_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prints = made_prints(3)
    monkeypatch.setattr("sequencer.sheets.drawn.columns_drawing.TALLEST", 3000.0)
    plan = planned(prints, columns=["1/4"] * 3, repeats=40)
    with pytest.raises(SheetError, match="larger than a page of letter paper"):
        write_sheets(plan, prints, tmp_path / "s.pdf")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("title", ["W" * 300, "a b " * 100, ""])
def test_long_titles_leave_room_for_the_page_count(title: str, tmp_path: Path) -> None:
    prints = made_prints(2)
    reader = written(tmp_path / "s.pdf", planned(prints), prints, title=title)
    check_ink(reader)
    assert f"page 1 of {len(reader.pages)}" in text_of(reader)
