"""The columns: a drawing to scale, how each strip set is cut, and the table of all columns."""

from __future__ import annotations

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Paragraph, Spacer

from sequencer.sheets.drawn.columns_drawing import ColumnsOverview, column_tops
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.followed.trail import ColumnTrail
from sequencer.sheets.pages.numbers import runs
from sequencer.sheets.paper.fonts import BOLD, fitted
from sequencer.sheets.paper.layout import BODY, CELL, SMALL, Story, subheading
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import Cell, ruled

MOST_TOPS = 150
"""With more columns the tops are not drawn; the table names them all the same."""


def columns(job: Job) -> Section:
    """The pages' section."""
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
    return Section("Columns", [*story, *_table(job)])


def _table(job: Job) -> Story:
    unit = job.measure.units
    heads = ["", "column", f"cut width, {unit}", f"finished, {unit}", "offset", "top print",
             "open the seam", "set: cuts"]  # fmt: skip
    fixed = [24.0, 50.0, 58.0, 62.0, 44.0]
    rest = job.width - sum(fixed)
    widths = [*fixed, rest * 0.42, rest * 0.34, rest * 0.24]
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
        Boxes(1, ticked=place + 1 in job.sewn),
        Paragraph(f"<b>{place + 1}</b>", CELL),
        Paragraph(f"<b>{job.measure.bare(column.cut_width)}</b>", CELL),
        Paragraph(job.measure.bare(column.finished_width), CELL),
        Paragraph(str(column.offset), CELL),
        Paragraph(_top(job, place, name_width), CELL),
        Paragraph(_seam_to_open(job, place), CELL),
        Paragraph(_origin(trail), CELL),
    ]


def _top(job: Job, place: int, width: float) -> str:
    """Letter and name of a column's top print, on one line; whole names are in the list."""
    ident = job.plan.patch_print(0, place)
    key = job.key(ident)
    room = width - stringWidth(f"{key} ", BOLD, CELL.fontSize) - 1
    return f"<b>{key}</b> {marked(fitted(job.name(ident), room, CELL.fontSize))}"


def opened_pairs(job: Job, place: int) -> list[tuple[str, str, int]]:
    """The seams of a column to open: prints above and below, and how many would do as well."""
    if job.trail is not None:
        opened = job.trail.columns[place].opened
        return [(seam.above, seam.below, seam.alike) for seam in opened]
    offset = job.plan.columns[place].offset
    ids = job.plan.prints
    needed = offset or job.plan.method == "loop"
    return [(ids[offset - 1], ids[offset], 1)] if needed else []


def _seam_to_open(job: Job, place: int) -> str:
    pairs = opened_pairs(job, place)
    if not pairs:
        return "none"
    return ", ".join(
        f"<b>{job.key(above)}</b> | <b>{job.key(below)}</b>"
        + (f", any of {alike}" if alike > 1 else "")
        for above, below, alike in pairs
    )


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
    return ", ".join(
        str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs(numbers))
