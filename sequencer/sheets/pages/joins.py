"""Short pieces of a set joined into strips: how, and where each join comes to lie."""

from __future__ import annotations

from collections import Counter

from reportlab.platypus import Paragraph

from sequencer.sheets.followed.job import Job
from sequencer.sheets.followed.trail import Cut, Strip, StripSet
from sequencer.sheets.pages.numbers import numbers_words
from sequencer.sheets.paper.layout import CELL
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.tables import Cell, ruled

Cuts = list[tuple[int, Cut]]
"""Column number and cut."""


def joining(job: Job, one: StripSet) -> str:
    """How short pieces become a strip."""
    straight = any(strip.seam == "straight" for strip in one.strips)
    seam = job.measure.of(job.plan.seam)
    how = (
        f"Lay two ends right sides together and sew straight across with a {seam} seam"
        if straight
        else "Lay one end across the other at a right angle, right sides together, sew from corner "
        f"to corner and trim to {seam} beyond the seam"
    )
    turned = " Turn no upright piece round." if any(i in one.prints for i in job.upright) else ""
    return (
        f"{how}; press open. Begin each strip with the piece named first: its free end lies at the "
        f"end that will be squared. A number after the letter counts strips from the top.{turned}"
    )


def joins(job: Job, one: StripSet, cuts: Cuts, done: bool) -> Cell:
    """The table of a set's joined strips."""
    unit = job.measure.units
    heads = ["", "strip", f"pieces from the squared end, {unit}", f"joined, {unit}",
             "each join falls into"]  # fmt: skip
    rest = job.width - 30 - 48 - 50
    widths = [30.0, 48.0, rest * 0.56, 50.0, rest * 0.44]
    pieced = [strip for strip in one.strips if strip.seam]
    like = Counter(strip_key(job, strip) for strip in pieced)
    first = {strip_key(job, strip): strip for strip in reversed(pieced)}
    rows = [
        [
            Boxes(count, done),
            Paragraph(_which(job, one, first[key]), CELL),
            Paragraph(_pieces(job, first[key]) + (f" ({count} alike)" if count > 1 else ""), CELL),
            Paragraph(job.measure.bare(first[key].length), CELL),
            Paragraph("; ".join(falls_into(job, first[key], cuts)), CELL),
        ]
        for key, count in like.items()
    ]
    return ruled(heads, rows, widths, pad=2)


def strip_key(job: Job, strip: Strip) -> tuple[object, ...]:
    """What makes two joined strips interchangeable: the same pieces, from no particular scrap."""
    pieces = tuple((p.length, job.addresses.of(p.makes)) for p in strip.pieces)
    return strip.print, strip.width, pieces


def _which(job: Job, one: StripSet, strip: Strip) -> str:
    """A strip's letter; its number from the top too, where its pieces have addresses."""
    key = f"<b>{job.key(strip.print)}</b>"
    if not any(job.addresses.of(piece.makes) for piece in strip.pieces):
        return key
    return f"{key}, {one.strips.index(strip) + 1}"


def _pieces(job: Job, strip: Strip) -> str:
    return " + ".join(
        f"<b>{job.measure.bare(piece.length)}</b>"
        + (f" ({where})" if (where := job.addresses.of(piece.makes)) else "")
        for piece in strip.pieces
    )


def falls_into(job: Job, strip: Strip, cuts: Cuts) -> list[str]:
    """For each join of a strip, the columns it falls into, in words.

    The plan's own tables tell them; without tables they are the columns cut through the seam.
    """
    told = {one.pieces[0][0]: one.joins for table in job.plan.sets for one in table.strips}
    joins = told.get(strip.pieces[0].makes)
    hits = [sorted(join["columns"]) for join in joins] if joins else [
        sorted({column for column, cut in cuts if cut.start < last and first < cut.end})
        for first, last in strip.spans()
    ]  # fmt: skip
    return [numbers_words("column", hit) if hit else "no column" for hit in hits]
