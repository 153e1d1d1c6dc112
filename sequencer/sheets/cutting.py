"""The cutting list: strips of each print with boxes to check off, then border to batting."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from reportlab.platypus import Paragraph, Spacer

from sequencer.models import FabricNeed, StripCut
from sequencer.sheets.finishing import finishing_rows
from sequencer.sheets.job import Job
from sequencer.sheets.layout import BODY, CELL, KEY, SMALL, Story, section, subheading
from sequencer.sheets.pictures import Picture, thumbnail
from sequencer.sheets.tables import Boxes, Cell, ruled

CLOTH = 26.0
"""Side of the cloth's picture beside its strips, points."""


def cutting(job: Job) -> Story:
    """The pages' story."""
    unit = job.measure.units
    heads = ["key", "print", f"strips to cut: width × length, {unit}", f"finish, {unit}",
             f"length, {unit}"]  # fmt: skip
    rows = [_row(job, need) for need in job.plan.fabric]
    widths = [34.0, 138.0, job.width - 34 - 138 - 62 - 122, 62.0, 122.0]
    return [
        *section("Cutting list"),
        Paragraph(_how(job), BODY),
        Spacer(0, 6),
        ruled(heads, rows, widths),
        *_finishing(job),
    ]


def _how(job: Job) -> str:
    seam = job.measure.of(job.plan.seam)
    text = (
        f"Widths are cut widths: they hold the {seam} seam allowance on both sides. "
        "Check a box for each strip as it falls. "
    )
    squared = sum((one.squared for one in job.trail.sets), Fraction(0)) if job.trail else 0
    if job.trail and squared:
        each = job.measure.of(max(one.squared for one in job.trail.sets))
        text += f"The lengths allow {each} in each strip set for squaring its end."
    return text


def _row(job: Job, need: FabricNeed) -> list[Cell]:
    finished = job.plan.finished_strip.get(need.print)
    return [
        Paragraph(job.key(need.print), KEY),
        [Picture(thumbnail(job.prints[need.print], CLOTH * 2, CLOTH), CLOTH * 2, CLOTH),
         Spacer(0, 2), Paragraph(job.name(need.print), CELL)],
        _strips(job, need),
        Paragraph("" if finished is None else job.measure.bare(finished), CELL),
        _length(job, need),
    ]  # fmt: skip


def _strips(job: Job, need: FabricNeed) -> list[Cell]:
    cell: list[Cell] = []
    for strip, count in _counted(need.strips):
        size = f"{job.measure.bare(strip.width)} × {job.measure.bare(strip.length)}"
        cell += [Paragraph(f"{count} of <b>{size}</b>", CELL), Spacer(0, 3), Boxes(count),
                 Spacer(0, 3)]  # fmt: skip
    if need.joins:
        ways = _join_ways(job, need.print)
        cell.append(Paragraph(f"{_times(need.joins, 'join')} end to end{ways}", SMALL))
    return cell


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
        cell.append(Paragraph("scrap not measured", SMALL))
    else:
        cell.append(Paragraph(f"has {show.bare(need.have_length)}", CELL))
    if need.short_by > 0:
        cell.append(Paragraph(f"<b>short by {show.bare(need.short_by)}</b>", CELL))
    return cell


def _finishing(job: Job) -> Story:
    rows = finishing_rows(job)
    if not rows:
        return []
    cells = [[Boxes(1), Paragraph(f"<b>{what}</b>", CELL), Paragraph(text, CELL)]
             for what, text in rows]  # fmt: skip
    return [
        *subheading("Border, binding, backing, batting"),
        ruled(["", "for", "cut"], cells, [24, 90, job.width - 114]),
    ]


def _times(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


