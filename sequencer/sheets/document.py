"""The pages in their order."""

from __future__ import annotations

from collections.abc import Mapping

from sequencer.lettering import missing, plain
from sequencer.models import ContrastReport, Json, Plan, Print, Sequence
from sequencer.sheets.assembly import assembly
from sequencer.sheets.cautions import cautions
from sequencer.sheets.columns import columns
from sequencer.sheets.cover import cover
from sequencer.sheets.cutting import cutting
from sequencer.sheets.fonts import printable
from sequencer.sheets.job import Job
from sequencer.sheets.keys import key_letters
from sequencer.sheets.layout import Story, build
from sequencer.sheets.measure import Measure
from sequencer.sheets.pictures import Gallery
from sequencer.sheets.prints_list import prints_list
from sequencer.sheets.swatch_card import swatch_card
from sequencer.sheets.trail import follow

LONGEST_TITLE = 60


def sheets_pdf(
    plan: Plan,
    prints: Mapping[str, Print],
    paper: str,
    units: str,
    title: str | None,
    seq: Sequence | None,
    report: ContrastReport | None,
    bridges: tuple[Json, ...],
) -> bytes:
    """The whole document as bytes."""
    measure = Measure(units)
    named = plain(title or "") or f"Panel in {len(plan.prints)} prints"
    job = Job(
        plan=plan, prints=prints, keys=key_letters(plan.prints), measure=measure, paper=paper,
        title=printable(named, LONGEST_TITLE), seq=seq, report=report, bridges=bridges,
        trail=follow(plan), gallery=Gallery(plan, prints),
        lost=missing("".join((named, *(prints[i].name for i in plan.prints if i in prints)))),
    )  # fmt: skip
    footer = f"{measure.note} Print at 100 %."
    return build(lambda: _story(job), paper, named, footer, subject="Cutting and sewing sheets")


def _story(job: Job) -> Story:
    return [
        *cover(job), *prints_list(job), *cutting(job), *columns(job), *assembly(job), *cautions(),
        *swatch_card(job),
    ]  # fmt: skip
