"""The columns: a drawing to scale, how each strip set is cut, and the table of all columns."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Paragraph, Spacer

from sequencer.sheets.columns_drawing import ColumnsOverview, column_tops
from sequencer.sheets.fonts import BOLD, fitted
from sequencer.sheets.job import Job, marked
from sequencer.sheets.layout import BODY, CELL, SMALL, Story, flowing_section, subheading
from sequencer.sheets.marks import Boxes
from sequencer.sheets.tables import Cell, grid, ruled
from sequencer.sheets.trail import ColumnTrail, Cut, StripSet, Trail

MOST_TOPS = 150
"""With more columns the tops are not drawn; the table names them all the same."""


def columns(job: Job) -> Story:
    """The pages' story."""
    first = job.keyed(job.plan.prints[0])
    story: Story = [
        Paragraph(
            f"Drawn to scale, left to right. Black marks print {first}: its steps draw the curve.",
            BODY,
        ),
        Spacer(0, 6),
        ColumnsOverview(job),
        Spacer(0, 4),
    ]
    if len(job.plan.columns) <= MOST_TOPS:
        story += [*subheading("Column tops"), Paragraph(
            "Widths to scale where they fit. The letter is the print at the top of the column.",
            SMALL,
        ), Spacer(0, 3), *column_tops(job)]  # fmt: skip
    if job.trail:
        story += _sets(job, job.trail)
    return flowing_section("Columns", [*story, *_table(job)], job.paper)


def _sets(job: Job, trail: Trail) -> Story:
    story: Story = subheading("Strip sets, and the order to cut them")
    story.append(Paragraph(
        f"Bold is the column that a cut is for, then its cut width ({job.measure.units}). Cut in "
        "reading order, a box for each cut.", SMALL,
    ))  # fmt: skip
    for one in trail.sets:
        story += [CondPageBreak(60), Spacer(0, 4), Paragraph(_sewn(job, one), CELL), Spacer(0, 2)]
        for rings, cuts in groupby(_cuts_from(trail, one.number), key=lambda item: item[1].ring):
            if rings:
                tube = Paragraph("Sew its ends together into a tube. Then cut rings:", CELL)
                story += [Spacer(0, 4), tube, Spacer(0, 2)]
            story.append(grid(_cells(job, cuts), job.width))
    return story


def _sewn(job: Job, one: StripSet) -> str:
    letters = [job.key(ident) for ident in one.prints]
    if len(letters) > 12:
        letters = [*letters[:2], "…", letters[-1]]
    text = (
        f"<b>Set {one.number}</b>: {len(one.prints)} strips {', '.join(letters)} from the top, "
        f"seams pressed {one.press}"
    )
    return f"{text}, end squared by {job.measure.of(one.squared)}." if one.squared else f"{text}."


def _cuts_from(trail: Trail, number: int) -> list[tuple[int, Cut]]:
    """Column number and cut, in cutting order, of one strip set."""
    cuts = [(place, cut) for place, column in enumerate(trail.columns, 1)
            for cut in column.cuts if cut.of == number]  # fmt: skip
    return sorted(cuts, key=lambda item: item[1].number)


def _cells(job: Job, cuts: Iterable[tuple[int, Cut]]) -> list[tuple[int, str]]:
    """For each run of like cuts: how many, and the words."""
    runs = groupby(cuts, key=lambda item: (item[0], item[1].width))
    return [(len(list(run)), f"<b>{column}</b>: {job.measure.bare(width)}")
            for (column, width), run in runs]  # fmt: skip


def _table(job: Job) -> Story:
    unit = job.measure.units
    heads = ["", "column", f"cut width, {unit}", f"finished, {unit}", "offset", "top print",
             "open the seam", "set: cuts"]  # fmt: skip
    fixed = [24.0, 50.0, 58.0, 62.0, 44.0]
    rest = job.width - sum(fixed)
    widths = [*fixed, rest * 0.46, rest * 0.26, rest * 0.28]
    rows = [_row(job, place, widths[5] - 8) for place in range(len(job.plan.columns))]
    return [
        *subheading("Column table"),
        Paragraph(
            "The offset says by how many prints a column is shifted: offset 2 starts with the "
            "third print of the sequence. Check the top print before you sew a column on.", SMALL,
        ),
        Spacer(0, 4),
        ruled(heads, rows, widths, pad=3),
    ]  # fmt: skip


def _row(job: Job, place: int, name_width: float) -> list[Cell]:
    column = job.plan.columns[place]
    trail = job.trail.columns[place] if job.trail else None
    return [
        Boxes(1),
        Paragraph(f"<b>{place + 1}</b>", CELL),
        Paragraph(f"<b>{job.measure.bare(column.cut_width)}</b>", CELL),
        Paragraph(job.measure.bare(column.finished_width), CELL),
        Paragraph(str(column.offset), CELL),
        Paragraph(_top(job, place, name_width), CELL),
        Paragraph(_seam_to_open(job, place, trail), CELL),
        Paragraph(_origin(trail), CELL),
    ]


def _top(job: Job, place: int, width: float) -> str:
    """Letter and name of a column's top print, on one line; whole names are in the list."""
    ident = job.plan.patch_print(0, place)
    key = job.key(ident)
    room = width - stringWidth(f"{key} ", BOLD, CELL.fontSize) - 1
    return f"<b>{key}</b> {marked(fitted(job.name(ident), room, CELL.fontSize))}"


def _seam_to_open(job: Job, place: int, trail: ColumnTrail | None) -> str:
    if trail is not None:
        pairs = [(seam.above, seam.below) for seam in trail.opened]
    else:
        offset = job.plan.columns[place].offset
        ids = job.plan.prints
        needed = offset or job.plan.method == "loop"
        pairs = [(ids[offset - 1], ids[offset])] if needed else []
    if not pairs:
        return "none"
    return ", ".join(f"<b>{job.key(above)}</b> | <b>{job.key(below)}</b>" for above, below in pairs)


def _origin(trail: ColumnTrail | None) -> str:
    if trail is None:
        return ""
    by_set: dict[int, list[int]] = {}
    for cut in trail.cuts:
        by_set.setdefault(cut.of, []).append(cut.number)
    return "; ".join(
        f"{one}: {_runs(sorted(numbers))}" for one, numbers in by_set.items()
    )


def _runs(numbers: list[int]) -> str:
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)
