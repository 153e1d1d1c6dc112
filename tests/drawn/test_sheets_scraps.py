"""The scraps on the sheets: drawn to scale with their cuts, joins, photographs, what is bought."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from sequencer.inches import show_inches
from sequencer.keys import key_letters
from sequencer.models import Print, ScrapUse
from sequencer.sheets.pages.table_photo import TablePhoto
from sequencer.sheets.paper.measure import Measure
from tests.made.sheets.ink import Ink, ink_of
from tests.made.sheets.made import made_prints
from tests.made.sheets.read import check_ink, inks_of, planned, text_of, written


def short_of_cloth(count: int = 5) -> list[Print]:
    """Prints whose scraps make the strips only with joins; one scrap of each, measured."""
    sizes = [(9.0, 4.0), (7.5, 3.25), (8.0, 2.75), (6.0, 5.0), (10.0, 3.0)]
    return [replace(one, size_in=sizes[k % 5], scraps=())
            for k, one in enumerate(made_prints(count))]  # fmt: skip


def drawn_to_scale(use: ScrapUse, ink: Ink) -> bool:
    """Whether some rectangle is the straightened scrap, with every cut in its place inside it."""
    long, short = (float(side) for side in use.usable)
    for left, low, right, high in ink.rects:
        scale = (right - left) / long
        if scale < 1 or high - low != pytest.approx(short * scale, abs=0.1):
            continue
        wanted = []
        for cut in use.cuts:
            x, y = (float(side) for side in cut.at)
            along, across = float(cut.length), float(cut.width)
            wide, tall = (along, across) if cut.along == "long" else (across, along)
            wanted.append((left + x * scale, low + y * scale, left + (x + wide) * scale,
                           low + (y + tall) * scale))  # fmt: skip
        if all(any(box == pytest.approx(one, abs=0.1) for box in ink.rects) for one in wanted):
            return True
    return False


@pytest.mark.parametrize(("paper", "units"), [("letter", "in"), ("a4", "cm")])
def test_every_scrap_is_drawn_to_scale_with_its_cuts(
    paper: str, units: str, tmp_path: Path
) -> None:
    prints = short_of_cloth()
    plan = planned(prints, size="8x6", repeats=2, strip="fit")
    uses = [(need.print, use) for need in plan.fabric for use in need.scraps if use.cuts]
    assert len(uses) == len(prints)
    reader = written(tmp_path / "s.pdf", plan, prints, paper=paper, units=units)
    inks, keys, show = inks_of(reader), key_letters(plan.prints), Measure(units)
    text = text_of(reader)
    for ident, use in uses:
        assert any(drawn_to_scale(use, ink) for ink in inks), ident
        least = f"{show.bare(use.at_least[0])} × {show.of(use.at_least[1])}".replace("\u00a0", " ")
        start = text.index(f"{keys[ident]}{use.scrap + 1} {_name(prints, ident)}, ")
        assert f"at least {least}" in text[start : start + 400]
    check_ink(reader)
    use = uses[0][1]
    grown = replace(use, cuts=(*use.cuts, replace(use.cuts[0], width=Fraction(9))))
    assert not any(drawn_to_scale(grown, ink) for ink in inks), "a planted cut is not drawn"


def _name(prints: list[Print], ident: str) -> str:
    return next(one.name for one in prints if one.id == ident)


def test_join_tables_name_pieces_scraps_and_columns(tmp_path: Path) -> None:
    prints = short_of_cloth()
    plan = planned(prints, size="8x6", repeats=2, strip="fit")
    joined = [(one, strip) for one in plan.sets for strip in one.strips if strip.joins]
    assert joined
    text, keys = text_of(written(tmp_path / "s.pdf", plan, prints)), key_letters(plan.prints)
    where = {cut.makes: (f"{keys[need.print]}{use.scrap + 1}", number) for need in plan.fabric
             for use in need.scraps for number, cut in enumerate(use.cuts, 1)}  # fmt: skip
    for _, strip in joined:
        pieces = " + ".join(
            f"{show_inches(length)}"
            + ("" if scrap is None else f" ({where[makes][0]} cut {where[makes][1]})")
            for makes, scrap, length in strip.pieces
        )
        falls = "; ".join(in_words(sorted(join["columns"])) for join in strip.joins)
        reach = sum((length for _, _, length in strip.pieces), Fraction(0))
        reach -= (len(strip.pieces) - 1) * (plan.finished_strip[strip.print] + 2 * plan.seam)
        row = f"{keys[strip.print]}, {strip.number} {pieces} {show_inches(reach)} {falls} "
        assert row in text


def in_words(columns: list[int]) -> str:
    """``columns 2, 4 and 7 to 9``."""
    runs: list[list[int]] = []
    for column in columns:
        if runs and column == runs[-1][-1] + 1:
            runs[-1].append(column)
        else:
            runs.append([column])
    parts = [str(one) for run in runs if len(run) < 3 for one in run]
    if any(len(run) > 2 for run in runs):
        parts = [part for run in runs for part in (
            [f"{run[0]} to {run[-1]}"] if len(run) > 2 else list(map(str, run)))]
    listed = " and ".join([", ".join(parts[:-1]), parts[-1]] if parts[1:] else parts)
    return f"column{'s' if len(columns) > 1 else ''} {listed}" if columns else "no column"


def test_what_no_scrap_holds_is_listed_to_be_found(tmp_path: Path) -> None:
    prints = [replace(one, size_in=(5.0, 2.0)) for one in made_prints(4)]
    plan = planned(prints, size="20x24", repeats=3, strip="2")
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    assert "Held by no scrap, to find:" in text
    for need in plan.fabric:
        assert f"lacks {show_inches(need.short_by)}" in text
    assert not re.search(r"gives \d", text)


def test_the_table_photo_carries_the_numbers(tmp_path: Path) -> None:
    prints = short_of_cloth()
    plan = planned(prints, size="8x6", repeats=2, strip="fit")
    finds = tuple((one.id, ((40 + 100 * k, 50), (120 + 100 * k, 50), (120 + 100 * k, 300),
                            (40 + 100 * k, 300))) for k, one in enumerate(prints))  # fmt: skip
    photo = TablePhoto("table.jpg", np.full((400, 600, 3), 90, np.uint8), 1.0, finds)
    reader = written(tmp_path / "s.pdf", plan, prints, photos=[photo])
    page, keys = reader.pages[1], key_letters(plan.prints)
    assert "Your scraps and their numbers" in page.extract_text()
    ink = ink_of(page, reader)
    (image,) = ink.images
    scale = (image[2] - image[0]) / 600
    words = page.extract_text()
    for place, one in enumerate(prints):
        assert f"{keys[one.id]}1" in words
        centre = image[0] + (80 + 100 * place) * scale
        boxes = [box for box in ink.rects if box[0] < centre < box[2] and box[3] - box[1] == 16]
        assert boxes, one.id
    assert "Your scraps" not in text_of(written(tmp_path / "n.pdf", plan, prints))


def test_columns_already_sewn_are_ticked(tmp_path: Path) -> None:
    prints = made_prints(4)
    plan = planned(prints)
    lines = []
    for done in ([], [1, 2, 5]):
        told = replace(plan, options={**plan.options, "sewn": done})
        reader = written(tmp_path / "s.pdf", told, prints)
        lines.append(sum(len(ink.marks) for ink in inks_of(reader)))
    more = lines[1] - lines[0]  # two strokes a tick: in the columns, at the cuts, and at set 1
    assert (more % 2, more > 2 * 2 * 3) == (0, True)


def test_the_sheets_say_why_the_binding_takes_more_strips(tmp_path: Path) -> None:
    """50 x 60 in at 38 usable inches is 6 strips by division (published teaching example)."""
    prints = made_prints(4)
    plan = planned(prints, strip="15", repeats=1, columns=["1"] * 50, border=0, binding="2 1/2",
                   usable="38", set_length="38")  # fmt: skip
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    assert plan.binding["strips"] == 7
    assert "The edge alone, 220 in, would take 6; each diagonal join takes 2 1/2 in" in text
