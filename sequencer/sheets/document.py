"""The pages in their order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sequencer.keys import key_letters
from sequencer.lettering import missing, plain
from sequencer.models import ContrastReport, Json, Plan, Print, Sequence
from sequencer.sheets.followed.addresses import addresses
from sequencer.sheets.followed.following import follow
from sequencer.sheets.followed.job import Job
from sequencer.sheets.pages.assembly import assembly
from sequencer.sheets.pages.before import before
from sequencer.sheets.pages.columns import columns
from sequencer.sheets.pages.cover import cover
from sequencer.sheets.pages.cutting import cutting
from sequencer.sheets.pages.labels import labels
from sequencer.sheets.pages.prints_list import prints_list
from sequencer.sheets.pages.scraps import scraps
from sequencer.sheets.pages.sets import sets
from sequencer.sheets.pages.swatch_card import swatch_card
from sequencer.sheets.pages.table_photo import TablePhoto, table_photos
from sequencer.sheets.paper.fonts import printable
from sequencer.sheets.paper.layout import Furniture, Story, build, count
from sequencer.sheets.paper.measure import Measure
from sequencer.sheets.paper.pictures import Gallery
from sequencer.sheets.paper.sections import Laid, Section, settle, story

LONGEST_TITLE, LONGEST_DATE = 60, 40


@dataclass(frozen=True)
class Looks:
    """How the sheets are to look: paper, units, what stands on the first page, table photos."""

    paper: str = "letter"
    units: str = "in"
    title: str | None = None
    date: str | None = None
    photos: tuple[TablePhoto, ...] = ()


def sheets_pdf(
    plan: Plan,
    prints: Mapping[str, Print],
    looks: Looks,
    seq: Sequence | None,
    report: ContrastReport | None,
    bridges: tuple[Json, ...],
) -> bytes:
    """The whole document as bytes."""
    measure, paper, keys = Measure(looks.units), looks.paper, key_letters(plan.prints)
    named = plain(looks.title or "") or f"Panel in {len(plan.prints)} prints"
    job = Job(
        plan=plan, prints=prints, keys=keys, measure=measure, paper=paper,
        title=printable(named, LONGEST_TITLE), seq=seq, report=report, bridges=bridges,
        trail=follow(plan), gallery=Gallery(plan, prints),
        addresses=addresses(plan, keys), sewn=_sewn(plan),
        date=printable(looks.date or "", LONGEST_DATE),
        lost=missing("".join((named, *(prints[i].name for i in plan.prints if i in prints)))),
    )  # fmt: skip
    furniture = Furniture(named, f"{measure.note} Print at 100 %.", "Cutting and sewing sheets")
    pages = 0

    def lay(parts: Story) -> Laid:
        nonlocal pages
        laid = Laid()
        pages = count(parts, paper, furniture, laid.see)
        return laid

    joining = settle(lambda: _sections(job, looks.photos), lay, paper)
    return build(story(_sections(job, looks.photos), joining, paper), paper, furniture, pages)


def _sewn(plan: Plan) -> frozenset[int]:
    """Columns that are cut and sewn already, from 1."""
    done = plan.options.get("sewn") or ()
    listed = done.get("columns", ()) if isinstance(done, Mapping) else done
    return frozenset(range(1, listed + 1)) if isinstance(listed, int) else frozenset(listed)


def _sections(job: Job, photos: tuple[TablePhoto, ...]) -> list[Section]:
    """Everything, in the order in which it is needed."""
    wanted = [
        cover(job), table_photos(job, photos), prints_list(job), before(job), scraps(job),
        cutting(job), *sets(job), columns(job), assembly(job), swatch_card(job), labels(job),
    ]  # fmt: skip
    return [one for one in wanted if one is not None]
