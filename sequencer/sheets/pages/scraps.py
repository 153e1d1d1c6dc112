"""Cutting the scraps: each drawn to scale, with its cuts, where each goes, and what is left."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from reportlab.platypus import CondPageBreak, KeepTogether, Paragraph, Spacer

from sequencer.models import ScrapUse
from sequencer.sheets.drawn.scrap_drawing import ScrapDrawing
from sequencer.sheets.followed.addresses import label, used
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.paper.layout import BODY, CELL, SUBHEADING, Story
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import Cell, grid, side_by_side

DRAWING = 268.0
BESIDE = 12
"""Cuts listed beside the drawing; more are listed below it."""


def scraps(job: Job) -> Section | None:
    """The section; None where no scrap's cuts are known."""
    found = used(job.plan)
    if not found:
        return None
    story: Story = [Paragraph(_how(job), BODY), Spacer(0, 4)]
    for ident, use in found:
        story += _scrap(job, ident, use)
    return Section("Cutting the scraps", story)


def _how(job: Job) -> str:
    trimmed = job.plan.options.get("straighten")
    rim = f" by at least {job.measure.of(_length(trimmed))}" if trimmed else ""
    return (
        f"Straighten each scrap first: trim every side{rim} until corners are square (dashed: the "
        "scrap as it is). Lay it as drawn, long side along, and start at the marked corner, "
        "bottom left. Cut in the order of the numbers, each cut straight through; ruled areas are "
        "left over. All widths are cut widths. Pin a slip to each piece with the words beside its "
        "number: <b>set 1, strip 4</b> is the fourth strip from the top of set 1. The length of a "
        "piece marked <b>short side</b> runs along the scrap's short side."
    )


def _length(given: object) -> Fraction:
    return Fraction(str(given))


def _scrap(job: Job, ident: str, use: ScrapUse) -> Story:
    """One scrap: heading, drawing, cuts."""
    name = label(job.keys, ident, use.scrap)
    size = f"{job.measure.bare(use.size[0])} × {job.measure.of(use.size[1])}"
    title = Paragraph(f"{name} &nbsp; {marked(job.name(ident))}, {size}", SUBHEADING)
    drawing = ScrapDrawing(use, job.measure, DRAWING if len(use.cuts) <= BESIDE else job.width)
    cuts = [(1, words) for words in _cuts(job, use)]
    least = _least(job, use)
    if len(use.cuts) > BESIDE or drawing.width > DRAWING:
        listed = grid(cuts, job.width, 3)
        return [CondPageBreak(drawing.height + 90), title, least, Spacer(0, 3), drawing,
                Spacer(0, 3), listed, Spacer(0, 6)]  # fmt: skip
    rest = job.width - DRAWING - 10
    beside = side_by_side([drawing, grid(cuts, rest, 1)], [DRAWING + 10, rest])
    return [KeepTogether([title, least, Spacer(0, 3), beside, Spacer(0, 6)])]


def _least(job: Job, use: ScrapUse) -> Cell:
    """How large the scrap must be, with a box where it must be measured before a cut."""
    show = job.measure
    size = f"{show.bare(use.at_least[0])} × {show.of(use.at_least[1])}"
    if use.sure:
        return Paragraph(f"Fits only if this scrap is at least {size}.", CELL)
    words = Paragraph(
        f"<b>Measure before you cut:</b> it fits only if this scrap is at least <b>{size}</b>, "
        "and a photo may show it larger than it is.", CELL,
    )  # fmt: skip
    return side_by_side([[Spacer(0, 1), Boxes(1)], words], [18, job.width - 18])


def _cuts(job: Job, use: ScrapUse) -> Iterator[str]:
    show = job.measure
    for number, cut in enumerate(use.cuts, 1):
        goes = job.addresses.places.get(cut.makes, "")
        side = "" if cut.along == "long" else " (short side)"
        size = f"{show.bare(cut.width)} × {show.bare(cut.length)}"
        yield f"<b>{number}</b> &nbsp; {size}{side}: {goes}" if goes else f"<b>{number}</b> {size}"


