"""From rings and segments to the hung piece: columns, panel, border, layers, quilting, binding."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import KeepTogether, Paragraph, Spacer

from sequencer.sheets.drawn.drawings import WIDTH
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.pages.finishing_steps import finishing_steps
from sequencer.sheets.pages.sets import step_drawing
from sequencer.sheets.paper.layout import BODY, ITEM, SUBHEADING, Story
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import Cell, side_by_side

GAP = 12.0
BOX = 18.0
LONGEST_PART = 1200
"""Characters of a paragraph; a longer one goes on in another, so that pages can turn."""
PRESSED = {
    "open": "Press the new seams open.",
    "up": "Press the new seams up.",
    "down": "Press the new seams down.",
}
Step = tuple[str, str, tuple[str, ...]]
"""Title, the kind of drawing beside it, and what to do: marked up, a box for each."""


def assembly(job: Job) -> Section:
    """The section; where the steps tell no trail, the plan's own sentences stand here."""
    if job.trail is None:
        said = tuple(marked(job.told(item)) for item in job.plan.instructions)
        return Section("Sewing, step by step", _drawn(job, ("In this order", "", said)))
    story: Story = []
    for step in (*_column_steps(job), *finishing_steps(job)):
        story += _drawn(job, step)
    return Section("From columns to the finished piece", story)


def _column_steps(job: Job) -> Iterator[Step]:
    assert job.trail is not None
    ops = {str(step["op"]) for step in job.plan.steps}
    loop = job.plan.method == "loop"
    if loop and "open_seam" in ops:
        yield "Open one seam in each ring", "open_seam", (_ring(job),)
    elif "open_seam" in ops:
        yield "Open one seam in each shifted column", "open_seam", (_flat(),)
    if "stack" in ops:
        yield "Stack segments into columns", "stack", (_stack(job),)
    yield "Sew the columns side by side", "sew_columns", tuple(_panel(job))


def _ring(job: Job) -> str:
    trail = job.trail
    assert trail is not None
    alike = max((s.alike for column in trail.columns for s in column.opened), default=1)
    same = (
        f" Each ring holds that seam {alike} times; any of the {alike} will do, so choose one "
        "without a join beside it."
        if alike > 1
        else ""
    )
    return (
        "With a seam ripper open the seam that its label names: <b>H | J</b> is the seam between "
        f"print H and print J.{same} Then the print below the opened seam is the column's top: "
        "check it against the label. A column whose label says <b>no seam to open</b> was cut "
        "flat and is ready."
    )


def _flat() -> str:
    return (
        "With a seam ripper open the seam that its label names, in one segment of the column. "
        "What was above the opened seam goes to the bottom: lay the lower piece first, the upper "
        "piece last."
    )


def _stack(job: Job) -> str:
    moved = " the lower piece of the opened segment first, its upper piece last," if (
        job.plan.method == "flat") else ""  # fmt: skip
    presses = {str(step.get("press")) for step in job.plan.steps if step["op"] == "stack"}
    press = PRESSED.get(presses.pop(), "") if len(presses) == 1 else (
        "Press each column's new seams the way its others lie.")  # fmt: skip
    return f"Sew the pieces of each column end to end, arrows up,{moved} as laid out. {press}"


def _panel(job: Job) -> Iterator[str]:
    plan, show = job.plan, job.measure
    raw = (plan.centre[0] + 2 * plan.seam, plan.centre[1] + 2 * plan.seam)
    yield (
        f"Lay out all {len(plan.columns)} columns from left to right by their numbers, and look "
        "from a few steps away: the curve must run without a break. The letter at each top stands "
        "in the column table."
    )
    nested = plan.press == "nested"
    meet = (
        "their seams are pressed opposite ways: let them nest, and pin them"
        if nested
        else "pin where seams should meet"
    )
    yield (
        f"Sew neighbours into pairs, pairs into fours, with {show.of(plan.seam)} seams and the top "
        f"edges level; {meet}, at least once in every repeat. Press the column seams open. Raw "
        f"edges included, the centre must measure <b>{show.size(raw)}</b>."
    )


# ── how a step is laid out ────────────────────────────────────────────────────────────────


def _drawn(job: Job, step: Step) -> Story:
    """Title, then drawing and the first words side by side, then the rest at full width."""
    title, kind, texts = step
    drawing = step_drawing(job, kind)
    if drawing is None:
        return _titled(title, _lines(job, texts))
    beside = job.width - WIDTH - GAP
    first: list[Cell] = []
    rest, used = list(texts), 0.0
    while rest and len(rest[0]) < LONGEST_PART:
        line = _line(rest[0], beside)
        used += line.wrap(beside, 10_000)[1]
        if first and used > drawing.height + 14:
            break
        first.append(line)
        rest.pop(0)
    table = side_by_side([drawing, first or ""], [WIDTH + GAP, beside], above=1, below=4)
    return [KeepTogether([Paragraph(title, SUBHEADING), table]), *_lines(job, rest)]


def _titled(title: str, lines: Story) -> Story:
    return [KeepTogether([Paragraph(title, SUBHEADING), *lines[:1]]), *lines[1:]]


def _lines(job: Job, texts: list[str] | tuple[str, ...]) -> Story:
    story: Story = []
    for text in texts:
        first, *others = _parts(text)
        story.append(_line(first, job.width))
        story += [Paragraph(part, ITEM) for part in others]
    return story


def _line(text: str, width: float) -> Cell:
    words = Paragraph(text, BODY)
    return side_by_side([[Spacer(0, 2), Boxes(1)], words], [BOX, width - BOX], above=1, below=4)


def _parts(text: str) -> list[str]:
    parts, words = [""], text.split(" ")
    for word in words:
        if len(parts[-1]) + len(word) > LONGEST_PART:
            parts.append("")
        parts[-1] += f" {word}" if parts[-1] else word
    return parts


