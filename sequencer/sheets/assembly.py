"""The sewing itself: the plan's instructions in order, with a drawing for each kind of step."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import KeepTogether, Paragraph, Spacer, Table, TableStyle

from sequencer.models import Instruction
from sequencer.sheets.drawings import DRAWINGS, WIDTH, StepDrawing
from sequencer.sheets.job import Job, marked
from sequencer.sheets.layout import BODY, SUBHEADING, Story, section
from sequencer.sheets.tables import Boxes

TITLES = {
    "cut_strip": "Cut the strips",
    "join_ends": "Join short strips end to end",
    "sew_strips": "Sew the strips into sets",
    "square_end": "Square the end of each set",
    "cut_segment": "Cut the segments",
    "stack": "Stack segments into columns",
    "close_loop": "Close each column into a loop",
    "open_seam": "Open one seam in each column",
    "sew_columns": "Sew the columns side by side",
    "add_border": "Add the border",
    "trim": "Trim the panel",
    "bind": "Bind the edge",
}
GAP = 12.0
_TIGHT = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
]
_NOTE = ParagraphStyle("note", BODY, leftIndent=14, bulletIndent=2, spaceAfter=3)


def assembly(job: Job) -> Story:
    """The pages' story."""
    story = section("Sewing, step by step")
    drawn: set[str] = set()
    number = 0
    for kind, listed in groupby(job.plan.instructions, key=lambda item: item.kind):
        items = list(listed)
        story += _stage(job, kind, items, number, draw=kind in DRAWINGS and kind not in drawn)
        drawn.add(kind)
        number += len(items)
    return [*story, *_notes(job)]


def _stage(
    job: Job, kind: str, items: list[Instruction], before: int, draw: bool
) -> Story:
    if not draw:
        return [_line(before + place + 1, item, job.width) for place, item in enumerate(items)]
    drawing = StepDrawing(kind, job.plan.method, job.plan.press)
    beside, after = _beside(items, before, job.width - WIDTH - GAP, drawing.height + 8)
    table = Table([[drawing, beside]], colWidths=[WIDTH + GAP, job.width - WIDTH - GAP])
    table.setStyle(TableStyle(_TIGHT))
    rest = [_line(before + len(beside) + place + 1, item, job.width)
            for place, item in enumerate(after)]  # fmt: skip
    return [KeepTogether([Paragraph(TITLES[kind], SUBHEADING), table]), *rest]


def _beside(
    items: list[Instruction], before: int, width: float, room: float
) -> tuple[list[Table], list[Instruction]]:
    """As many lines as stand beside the drawing (at least one), and the items left over."""
    lines: list[Table] = []
    used = 0.0
    for place, item in enumerate(items):
        line = _line(before + place + 1, item, width)
        used += line.wrap(width, 10_000)[1]
        if lines and used > room:
            return lines, items[place:]
        lines.append(line)
    return lines, []


def _line(number: int, item: Instruction, width: float) -> Table:
    text = Paragraph(f"<b>{number}.</b> {marked(item.text)}", BODY)
    line = Table([[[Spacer(0, 2), Boxes(1)], text]], colWidths=[18, width - 18])
    line.setStyle(TableStyle(_TIGHT))
    return line


def _notes(job: Job) -> Story:
    lines = [Paragraph(marked(text), _NOTE, bulletText="•") for text in _note_texts(job)]
    if not lines:
        return []
    return [KeepTogether([Paragraph("Good to know", SUBHEADING), lines[0]]), *lines[1:]]


def _note_texts(job: Job) -> Iterator[str]:
    most = job.plan.layers.get("column_seam_max")
    if most:
        typical = job.plan.layers.get("column_seam_typical", most)
        yield (
            f"Where a column seam crosses strip seams, the needle goes through up to {most} "
            f"layers, mostly {typical}. Sew slowly there."
        )
    for warning in job.plan.warnings:
        yield warning.text
