"""The cutting list: strips of each print with boxes to check off, then border to batting."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from reportlab.platypus import Paragraph, Spacer

from sequencer.models import FabricNeed, StripCut
from sequencer.sheets.followed.addresses import label
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.pages.finishing import finishing_lines
from sequencer.sheets.paper.layout import BODY, CELL, KEY, SMALL, Story, subheading
from sequencer.sheets.paper.marks import Boxes, boxes_for
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import Cell, ruled, side_by_side

CLOTH = 26.0
"""Side of the cloth's picture beside its strips, points."""
NAME, SIZE, BOXES = 140.0, 112.0, 84.0
LINES = 16
"""Most lines of strips in one row of the list."""


def cutting(job: Job) -> Section:
    """The pages' section."""
    unit = job.measure.units
    heads = ["key", "print", f"strips to cut: width × length, {unit}", f"finish, {unit}",
             f"strip length, {unit}"]  # fmt: skip
    rows = [row for need in job.plan.fabric for row in _rows(job, need)]
    strips = job.width - 34 - NAME - 54 - 92
    widths = [34.0, NAME, strips, 54.0, 92.0]
    content = [
        Paragraph(_how(job), BODY), Spacer(0, 6), ruled(heads, rows, widths), *_finishing(job),
    ]  # fmt: skip
    return Section("Cutting list", content)


def _how(job: Job) -> str:
    seam = job.measure.of(job.plan.seam)
    text = (
        f"Widths are cut widths: they hold the {seam} seam allowance on both sides. "
        "Check a box for each strip as it falls. "
        "Read the page <b>Before the first cut</b> before you pick up a blade. "
    )
    squared = sum((one.squared for one in job.trail.sets), Fraction(0)) if job.trail else 0
    if job.trail and squared:
        each = job.measure.of(max(one.squared for one in job.trail.sets))
        text += f"The lengths allow {each} in each strip set for squaring its end."
    return text


def _rows(job: Job, need: FabricNeed) -> list[list[Cell]]:
    """A print's row; a long list of strips goes on in further rows, so that pages can turn."""
    finished = job.plan.finished_strip.get(need.print)
    lines = [_strip_line(job, strip, count) for strip, count in _counted(_homeless(job, need))]
    lines = [*_drawn_elsewhere(job, need, bool(lines)), *lines]
    if need.joins:
        ways = _join_ways(job, need.print)
        lines.append(Paragraph(f"{_times(need.joins, 'join')} end to end{ways}", SMALL))
    rows: list[list[Cell]] = [[
        Paragraph(job.key(need.print), KEY),
        side_by_side([job.gallery.swatch(need.print, CLOTH * 1.5, CLOTH),
                      Paragraph(marked(job.name(need.print)), CELL)],
                     [CLOTH * 1.5 + 6, NAME - CLOTH * 1.5 - 16]),
        lines[:LINES] or "",
        Paragraph("" if finished is None else job.measure.bare(finished), CELL),
        _length(job, need),
    ]]  # fmt: skip
    for start in range(LINES, len(lines), LINES):
        again = Paragraph("continued", SMALL)
        key = Paragraph(job.key(need.print), KEY)
        rows.append([key, again, lines[start : start + LINES], "", ""])
    return rows


def _homeless(job: Job, need: FabricNeed) -> tuple[StripCut, ...]:
    """The strips that no drawn scrap holds: all of them where no scrap is known."""
    if not need.scraps:
        return need.strips
    return tuple(
        StripCut(Fraction(step["width"]), Fraction(step["length"])) for step in job.plan.steps
        if step["op"] == "cut_strip" and step["print"] == need.print and step.get("scrap") is None
    )  # fmt: skip


def _drawn_elsewhere(job: Job, need: FabricNeed, more: bool) -> list[Cell]:
    """What the drawings of the scraps tell already, in one line."""
    parts = [f"<b>{label(job.keys, need.print, use.scrap)}</b>: {_times(len(use.cuts), 'piece')}"
             for use in need.scraps if use.cuts]  # fmt: skip
    lines = [Paragraph(f"As drawn, {', '.join(parts)}.", CELL)] if parts else []
    if need.scraps and more:
        lines.append(Paragraph("<b>Held by no scrap, to find:</b>", CELL))
    return lines


def _strip_line(job: Job, strip: StripCut, count: int) -> Cell:
    size = f"{job.measure.bare(strip.width)} × {job.measure.bare(strip.length)}"
    each = boxes_for(count)[1]
    many = f", box = {each}" if each > 1 else ""
    words = Paragraph(f"{count} of <b>{size}</b>{many}", CELL)
    return side_by_side([words, [Spacer(0, 2), Boxes(count)]], [SIZE, BOXES], above=1, below=2)


def _counted(strips: tuple[StripCut, ...]) -> list[tuple[StripCut, int]]:
    return sorted(Counter(strips).items(), key=lambda item: (-item[0].length, -item[0].width))


def _join_ways(job: Job, ident: str) -> str:
    owner: dict[str, str] = {}
    ways: set[str] = set()
    for step in job.plan.steps:
        if step["op"] == "cut_strip":
            owner[str(step["makes"])] = str(step["print"])
        elif step["op"] == "join_ends":
            taken = str(next(iter(step["takes"])))
            owner[str(step["makes"])] = owner.get(taken, "")
            if owner[str(step["makes"])] == ident:
                ways.add(str(step["seam"]))
    return f", {' and '.join(sorted(ways))} seam" if ways else ""


def _length(job: Job, need: FabricNeed) -> list[Cell]:
    show = job.measure
    cell: list[Cell] = [Paragraph(f"needs {show.bare(need.needed_length)}", CELL)]
    if need.have_length is None:
        cell.append(Paragraph("not measured", SMALL))
    if need.short_by > 0:
        cell.append(Paragraph(f"<b>lacks {show.bare(need.short_by)}</b>", CELL))
    return cell


def _finishing(job: Job) -> Story:
    lines = finishing_lines(job)
    if not lines:
        return []
    cells = [[Paragraph(f"<b>{what}</b>", CELL), Boxes(count), Paragraph(text, CELL)]
             for what, count, text in lines]  # fmt: skip
    return [
        *subheading("To finish"),
        ruled(["for", "", "cut width × length"], cells, [74, 64, job.width - 138]),
    ]


def _times(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


