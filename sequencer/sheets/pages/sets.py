"""One page for each strip set: its strips, its joins, its seams, its cuts, with boxes to tick."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import groupby

from reportlab.platypus import CondPageBreak, Paragraph, Spacer

from sequencer.keys import listed
from sequencer.sheets.drawn.drawings import DRAWINGS, StepDrawing, Ways
from sequencer.sheets.drawn.set_map import MOST_ROWS, SetMap
from sequencer.sheets.followed.job import Job
from sequencer.sheets.followed.trail import Cut, StripSet
from sequencer.sheets.pages.joins import Cuts, joining, joins
from sequencer.sheets.pages.numbers import many, numbers_words
from sequencer.sheets.paper.layout import CELL, SMALL, Story, frame_height
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.sections import Section, height
from sequencer.sheets.paper.tables import Cell, grid, side_by_side

PRESSED = {
    "open": "Press the seams open.",
    "up": "Press all seams up, towards the top strip.",
    "down": "Press all seams down, towards the bottom strip.",
}
BOX = 18.0


def sets(job: Job) -> list[Section]:
    """The sets' sections in the order of sewing; none where the steps tell no trail."""
    if job.trail is None:
        return []
    many = len(job.trail.sets)
    of = f" of {many}" if 1 < many == job.trail.sets[-1].number else ""  # some may be given up
    return [_section(job, one, of) for one in job.trail.sets]


def _section(job: Job, one: StripSet, of: str) -> Section:
    """A set's page; where all joined strips drawn would not fit it, the table alone tells them."""
    drawn, told = (Section(f"Strip set {one.number}{of}", _page(job, one, rows), whole=True)
                   for rows in (MOST_ROWS, 0))  # fmt: skip
    return drawn if height(drawn, job.paper) < frame_height(job.paper) else told


def _page(job: Job, one: StripSet, rows: int) -> Story:
    cuts = _cuts_from(job, one.number)
    story: Story = [Paragraph(_summary(job, one, cuts), CELL), Spacer(0, 4)]
    story += [*_map(job, one, cuts, rows), Spacer(0, 4)]
    done = any(column in job.sewn for column, _ in cuts)
    story += _step(job, "Cut the strips", _cutting(job, one), done)
    story += [_whole(job, one, done), Spacer(0, 4)]
    if any(strip.seam for strip in one.strips):
        story += _step(job, "Join short pieces", joining(job, one), done)
        story += [joins(job, one, cuts, done), Spacer(0, 4)]
    story += _step(job, "Sew the set", _sewing(job, one), done)
    story += _step(job, "Square one end", _squaring(job, one), done)
    return [*story, *_cut_up(job, one, cuts)]


def _map(job: Job, one: StripSet, cuts: Cuts, rows: int) -> Story:
    pieced = [(job.key(strip.print), strip) for strip in one.strips if strip.seam][:rows]
    note = (
        "Along the set, to scale, from the squared end (hatched: squared off); bold figures are "
        "columns" + (", slanted marks are joins." if pieced else ".")
    )
    return [Paragraph(note, SMALL), SetMap(one, cuts, pieced, job.width)]


def _step(job: Job, title: str, text: str, done: bool = False) -> Story:
    words = Paragraph(f"<b>{title}.</b> {text}", CELL)
    return [side_by_side([[Spacer(0, 1), Boxes(1, done)], words], [BOX, job.width - BOX], 1, 3)]


def _summary(job: Job, one: StripSet, cuts: Cuts) -> str:
    columns = sorted({column for column, _ in cuts})
    return (
        f"{many(len(one.strips), 'strip')}, from the top: {order_words(job, one.prints)}. "
        f"It gives {numbers_words('column', columns)}."
    )


def order_words(job: Job, prints: Sequence[str]) -> str:
    """The order of a set's prints by their letters, short where it follows the sequence."""
    ids, n = list(job.plan.prints), len(job.plan.prints)
    start = ids.index(prints[0])
    turned = ids[start:] + ids[:start]
    times, rest = divmod(len(prints), n)
    if rest or list(prints) != turned * times:
        return ", ".join(f"<b>{job.key(ident)}</b>" for ident in prints)
    spans = [ids[start:], ids[:start]] if start else [ids]
    words = ", then ".join(_span_words(job, span) for span in spans)
    return words + (f"; all of this {times} times over" if times > 1 else "")


def _span_words(job: Job, span: Sequence[str]) -> str:
    first, last = job.key(span[0]), job.key(span[-1])
    return f"<b>{first}</b>" if len(span) == 1 else f"<b>{first}</b> to <b>{last}</b>"


# ── strips ────────────────────────────────────────────────────────────────────────────────


def _cutting(job: Job, one: StripSet) -> str:
    sizes = {(strip.width, strip.length) for strip in one.strips if not strip.seam}
    text = f"Width × length ({job.measure.units}), a box for each strip."
    if len(sizes) == 1:
        width, length = sizes.pop()
        size = f"{job.measure.bare(width)} × {job.measure.of(length)}"
        text = f"Each <b>{size}</b>, width × length; a box for each strip."
    if any(strip.seam for strip in one.strips):
        text += " Those joined from pieces stand in the table below."
    text += " Pin a slip with its letter to each."
    upright = [job.keyed(ident) for ident in job.upright if ident in one.prints]
    if upright:
        text += (
            f" {listed(upright)} must stay upright: cut them along the scrap only, and mark the "
            "top edge of each piece."
        )
    return text


def _whole(job: Job, one: StripSet, done: bool) -> Cell:
    """The strips that come in one piece, by print: how many, and the size where sizes differ."""
    whole = Counter((s.print, s.width, s.length) for s in one.strips if not s.seam)
    show, alike = job.measure, len({key[1:] for key in whole}) == 1
    cells = [
        (count, f"<b>{job.key(ident)}</b>"
         + ("" if alike else f" {count} of {show.bare(width)} × {show.bare(length)}"))
        for (ident, width, length), count in whole.items()
    ]  # fmt: skip
    most = max((min(count, 4) for count, _ in cells), default=1)
    across = (7 if most > 2 else 8) if alike else 3
    ticked = [done] * len(cells)
    return grid(cells, job.width, across, ticked) if cells else Spacer(0, 0)


# ── sewing and cutting up ─────────────────────────────────────────────────────────────────


def _sewing(job: Job, one: StripSet) -> str:
    seam = job.plan.seam
    across = sum((strip.width - 2 * seam for strip in one.strips), 2 * seam)
    upright = [job.key(ident) for ident in job.upright if ident in one.prints]
    keep = f"Keep {listed(upright)} the right way up. " if upright else ""
    return (
        f"Lengthwise, {job.measure.of(seam)} seams, in the order above. {keep}Sew pairs, then "
        "pairs of pairs, each seam from the other end than the last, so that the set stays "
        f"straight. {PRESSED[one.press]} It must measure <b>{job.measure.of(across)}</b> across."
    )


def _squaring(job: Job, one: StripSet) -> str:
    if not one.squared:
        return "Cut it square to the seams."
    spare = next((s.spare for s in job.plan.sets if s.name == one.label), Fraction(0))
    again = (
        f" {job.measure.of(spare)} more is in the set: square it again once, when cuts begin to "
        "lean."
        if spare
        else ""
    )
    return f"Cut it square to the seams: {job.measure.of(one.squared)} is allowed for it.{again}"


def _cut_up(job: Job, one: StripSet, cuts: Cuts) -> Story:
    story: Story = []
    for ring, run in groupby(cuts, key=lambda item: item[1].ring):
        group = list(run)
        sewn = [column in job.sewn for column, _ in group]
        if ring:
            story += _step(job, "Sew the tube", _tube(job, one), any(sewn))
        title = "Then cut rings" if ring else "Cut segments"
        cells, ticked = _cells(job, group)
        story += [CondPageBreak(70), *_step(job, title, _slicing(job, group, ring), all(sewn)),
                  grid(cells, job.width, 6, ticked), Spacer(0, 4)]  # fmt: skip
    return story


def _tube(job: Job, one: StripSet) -> str:
    top, bottom = (f"<b>{job.key(one.prints[end])}</b>" for end in (0, -1))
    return (
        f"Bottom strip ({bottom}) to top strip ({top}), right sides together, along their whole "
        "length; not twisted: the squared ends lie at one side. "
        f"{PRESSED[one.press]} Lay it flat, wrong side out, seams matched."
    )


def _slicing(job: Job, group: Cuts, ring: bool) -> str:
    widest = len({cut.width for _, cut in group}) > 1
    mark = "an arrow towards the set's top" if ring else "an arrow at its top"
    first = ", widest first, so that a slip leaves cloth for a narrower one" if widest else ""
    return (
        f"In reading order{first}. Bold is the column, then the cut width ({job.measure.units}). "
        f"Pin its label to each, with {mark}."
    )


def _cuts_from(job: Job, number: int) -> Cuts:
    """Column number and cut, in cutting order, of one strip set."""
    assert job.trail is not None
    cuts = [(place, cut) for place, column in enumerate(job.trail.columns, 1)
            for cut in column.cuts if cut.of == number]  # fmt: skip
    return sorted(cuts, key=lambda item: item[1].number)


def _cells(
    job: Job, cuts: Iterable[tuple[int, Cut]]
) -> tuple[list[tuple[int, str]], list[bool]]:
    """For each run of like cuts: how many, the words, and whether its column is sewn."""
    runs = [(column, width, len(list(run))) for (column, width), run
            in groupby(cuts, key=lambda item: (item[0], item[1].width))]  # fmt: skip
    cells = [(count, f"<b>{column}</b>: {job.measure.bare(width)}")
             for column, width, count in runs]  # fmt: skip
    return cells, [column in job.sewn for column, _, _ in runs]


def step_drawing(job: Job, kind: str) -> StepDrawing | None:
    """The drawing for a kind of step in this plan's way of it."""
    straight = any(step.get("seam") == "straight" for step in job.plan.steps)
    ways = Ways(job.plan.method == "loop", job.plan.press == "open", not straight)
    return StepDrawing(kind, ways) if kind in DRAWINGS else None
