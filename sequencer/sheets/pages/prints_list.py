"""The prints in sequence: letter, cloth, name, value, and how each meets the next."""

from __future__ import annotations

import math

from reportlab.platypus import LongTable, Paragraph, Spacer

from sequencer.models import Neighbours, Print
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.paper.layout import (
    BODY,
    CELL,
    KEY,
    SMALL,
    Story,
    frame_height,
)
from sequencer.sheets.paper.marks import ValueBar
from sequencer.sheets.paper.measure import NBSP
from sequencer.sheets.paper.sections import Section, bullets
from sequencer.sheets.paper.tables import Cell, ruled

HEIGHTS = (40.0, 34.0, 28.0, 24.0)
"""Heights of a swatch to choose from, points: the largest that needs the fewest pages."""
NAMED_COLOURS = 3
HEAD = 75.0
"""What the heading and its lines take of the first page, points."""


def prints_list(job: Job) -> Section:
    """The page's section."""
    tables = [_table(job, tall) for tall in HEIGHTS]
    room = frame_height(job.paper) - HEAD
    pages = [math.ceil(table.wrap(job.width, 10_000)[1] / room) for table in tables]
    table = tables[pages.index(min(pages))]
    story: Story = [
        Paragraph(
            "Sew them in this order, top to bottom. The letters stand for the prints on every "
            "page that follows. Value is how light the cloth is: 0 is black, 100 is white.",
            BODY,
        ),
        Spacer(0, 6),
        table,
    ]
    return Section("The prints in sequence", story + _sentences(job))


def _table(job: Job, tall: float) -> LongTable:
    ids = job.plan.prints
    known = [_meeting_text(job, place) for place in range(len(ids))]
    heads = ["key", "cloth", "print", "value"] + (["meets the next"] if any(known) else [])
    rows = [
        _row(job, ident, tall) + ([Paragraph(known[place], CELL)] if any(known) else [])
        for place, ident in enumerate(ids)
    ]
    fixed = [34.0, tall * 2 + 10, 96.0] + ([128.0] if any(known) else [])
    widths = [*fixed[:2], job.width - sum(fixed), *fixed[2:]]
    return ruled(heads, rows, widths, pad=3)


def _row(job: Job, ident: str, tall: float) -> list[Cell]:
    cloth = job.prints[ident]
    return [
        Paragraph(job.key(ident), KEY),
        job.gallery.swatch(ident, tall * 2, tall),
        [Paragraph(marked(job.name(ident)), CELL), *_known_as(job, ident), *_colours(cloth)],
        ValueBar(cloth.value),
    ]


def _known_as(job: Job, ident: str) -> list[Paragraph]:
    """The id to name it by, where nobody named it."""
    return [Paragraph(f"not named yet: {marked(ident)}", SMALL)] if job.unnamed(ident) else []


def _colours(cloth: Print) -> list[Paragraph]:
    named: dict[str, float] = {}
    for colour in cloth.palette:
        if colour.name:
            named[colour.name] = named.get(colour.name, 0.0) + colour.share
    shown = [f"{marked(name)} {share:.0%}".replace("%", f"{NBSP}%")
             for name, share in list(named.items())[:NAMED_COLOURS] if share >= 0.005]
    return [Paragraph(", ".join(shown), SMALL)] if shown else []


def _meeting_text(job: Job, place: int) -> str:
    ids = job.plan.prints
    last = place == len(ids) - 1
    if last and (len(ids) < 3 or job.plan.repeats == 1):
        return ""
    following = ids[(place + 1) % len(ids)]
    pair = job.meeting(ids[place], following)
    return meeting_words(pair, ids[place], job.key(following)) if pair else ""


def meeting_words(pair: Neighbours, a: str, key: str) -> str:
    """How a print meets the next: ``clear step to B, 6 lighter``."""
    verb = {
        "blurs": "blurs into", "gentle": "gentle step to", "clear": "clear step to",
        "jumps": "<b>jumps</b> to",
    }.get(pair.verdict or "", "then")  # fmt: skip
    text = f"{verb} <b>{key}</b>"
    if pair.value_step is not None:
        step = round(pair.value_step if pair.a == a else -pair.value_step)
        if step:
            text += f", {abs(step)} {'lighter' if step > 0 else 'darker'}"
    return text if pair.certain else f"{text} (not certain)"


def _sentences(job: Job) -> Story:
    if job.report is None or not job.report.sentences:
        return []
    told = [marked(job.sentence(text)) for text in job.report.sentences]
    return bullets(told, "Where neighbours need a look")
