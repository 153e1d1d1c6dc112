"""The sewing itself: the plan's instructions in order, with a drawing for each kind of step."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from unicodedata import name

from reportlab.platypus import KeepTogether, Paragraph, Spacer, Table

from sequencer.sheets.drawings import DRAWINGS, WIDTH, StepDrawing, Ways
from sequencer.sheets.job import Job, marked
from sequencer.sheets.layout import BODY, ITEM, SMALL, SUBHEADING, Story, section
from sequencer.sheets.marks import Boxes
from sequencer.sheets.tables import side_by_side

TITLES = {
    "cut_strip": "Cut the strips",
    "join_ends": "Join short strips end to end",
    "sew_strips": "Sew the strips into sets",
    "square_end": "Square the end of each set",
    "cut_segment": "Cut the segments",
    "stack": "Stack segments into columns",
    "close_loop": "Sew the ends into a loop",
    "open_seam": "Open one seam in each column",
    "sew_columns": "Sew the columns side by side",
    "add_border": "Add the border",
    "trim": "Trim the panel",
    "bind": "Bind the edge",
}
GAP = 12.0
LONGEST_BESIDE = 260.0
"""A longer instruction goes below its drawing, where it can run over to the next page."""
MOST_LETTERS = 24
"""With more prints than this the list of prints must serve for their letters."""
LONGEST_PART = 1200
"""Characters of an instruction kept together on a page."""
Numbered = tuple[int, str]


def assembly(job: Job) -> Story:
    """The pages' story."""
    story = [*section("Sewing, step by step"), *_letters(job), *_notes(job)]
    drawn: set[str] = set()
    number = 0
    for kind, listed in groupby(job.plan.instructions, key=lambda item: item.kind):
        texts = [(number + place, job.told(item)) for place, item in enumerate(listed, 1)]
        story += _stage(job, kind, texts, draw=kind in DRAWINGS and kind not in drawn)
        drawn.add(kind)
        number += len(texts)
    return story


def _stage(job: Job, kind: str, texts: list[Numbered], draw: bool) -> Story:
    """The instructions of one kind, where it comes first with title and drawing."""
    if not draw:
        return _lines(texts, job)
    drawing = StepDrawing(kind, _ways(job))
    beside = _beside(texts, job.width - WIDTH - GAP, drawing.height + 8)
    table = side_by_side(
        [drawing, beside or ""], [WIDTH + GAP, job.width - WIDTH - GAP], above=1, below=4
    )
    top = KeepTogether([Paragraph(TITLES[kind], SUBHEADING), table])
    return [top, *_lines(texts[len(beside) :], job)]


def _lines(texts: list[Numbered], job: Job) -> Story:
    """Instructions at full width; a very long one in several parts, so that pages can turn."""
    story: Story = []
    for number, text in texts:
        first, *others = _parts(text)
        story.append(_line(number, first, job.width))
        story += [Paragraph(marked(part), ITEM) for part in others]
    return story


def _parts(text: str) -> list[str]:
    parts, words = [""], text.split(" ")
    for word in words:
        if len(parts[-1]) + len(word) > LONGEST_PART:
            parts.append("")
        parts[-1] += f" {word}" if parts[-1] else word
    return parts


def _ways(job: Job) -> Ways:
    straight = any(step.get("seam") == "straight" for step in job.plan.steps)
    return Ways(job.plan.method == "loop", job.plan.press == "open", not straight)


def _beside(texts: list[Numbered], width: float, room: float) -> list[Table]:
    """As many lines as stand beside the drawing: a first one of some length, then what fits."""
    lines: list[Table] = []
    used = 0.0
    for text in texts:
        if len(text[1]) > LONGEST_PART:
            break
        line = _line(*text, width)
        used += line.wrap(width, 10_000)[1]
        if used > (room if lines else LONGEST_BESIDE):
            break
        lines.append(line)
    return lines


def _line(number: int, text: str, width: float) -> Table:
    words = Paragraph(f"<b>{number}.</b> {marked(text)}", BODY)
    return side_by_side([[Spacer(0, 2), Boxes(1)], words], [18, width - 18], above=1, below=4)


def _letters(job: Job) -> Story:
    """Which letter is which print, since the steps call the prints by name."""
    ids = job.plan.prints
    if len(ids) > MOST_LETTERS:
        return []
    return [Paragraph(" · ".join(job.keyed(ident) for ident in ids), SMALL)]


def _notes(job: Job) -> Story:
    lines = [Paragraph(marked(text), ITEM, bulletText="•") for text in _note_texts(job)]
    if not lines:
        return []
    return [KeepTogether([Paragraph("Before you begin", SUBHEADING), lines[0]]), *lines[1:]]


def _note_texts(job: Job) -> Iterator[str]:
    most = job.plan.layers.get("column_seam_max")
    if most and not any(warning.code == "bulk" for warning in job.plan.warnings):
        typical = job.plan.layers.get("column_seam_typical", most)
        yield (
            f"Where a column seam crosses strip seams, the needle goes through up to {most} "
            f"layers, mostly {typical}. Sew slowly there."
        )
    for warning in job.plan.warnings:
        yield job.told(warning)
    if job.lost:
        letters = ", ".join(name(sign, f"U+{ord(sign):04X}").lower() for sign in job.lost[:5])
        more = " and others" if len(job.lost) > 5 else ""
        yield f"No typeface here draws {letters}{more}: a ? stands in the names instead."
