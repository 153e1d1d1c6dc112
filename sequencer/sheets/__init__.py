"""Room: the plan as printable sheets (PDF), to cut and sew by.

reportlab draws; it is loaded when the first sheet is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from os import PathLike
from typing import TYPE_CHECKING

from sequencer import doors
from sequencer.errors import SheetError, UsageError
from sequencer.files import write_out
from sequencer.models import ContrastReport, Json, Plan, Print
from sequencer.models import Sequence as PrintSequence

if TYPE_CHECKING:
    from sequencer.sheets.pages.table_photo import TablePhoto

__all__ = ["write_sheets"]
PAPERS, UNITS = ("letter", "a4"), ("in", "cm")


def write_sheets(
    plan: Plan,
    prints: Iterable[Print],
    path: str | PathLike[str],
    paper: str = "letter",
    units: str | None = None,
    *,
    title: str | None = None,
    date: str | None = None,
    photos: Sequence[TablePhoto] = (),
    seq: PrintSequence | None = None,
    report: ContrastReport | None = None,
    bridges: Sequence[Json] = (),
) -> None:
    """Write cutting and sewing sheets for a plan as one PDF; the old file stays on failure.

    ``paper``: letter (8 1/2 × 11 in, ANSI/ASME Y14.1) or a4 (210 × 297 mm, ISO 216). ``units``:
    in or cm for every length shown; None takes the plan's own. ``title`` stands on each page,
    ``date`` (as written; no clock is read) on the first; ``photos`` of
    the table show the scraps with their numbers. With ``seq`` or ``report`` the list of
    prints says how each meets the next; ``bridges`` (those of the report by default) add a card of
    colours to look for. Same input, same bytes.

    Raises:
        UsageError: unknown paper or units, or an argument of another kind than is said above.
        SheetError: a print of the plan is missing, or the file cannot be written.
    """
    plan, target = doors.plan(plan), doors.path("path", path)
    _check(doors.word("paper", paper), PAPERS, "paper")
    shown_in = str(plan.options.get("units", "in")) if units is None else units
    _check(doors.word("units", shown_in), UNITS, "unit")
    known = {one.id: one for one in doors.prints(prints)}
    missing = [ident for ident in plan.prints if ident not in known]
    if missing:
        raise SheetError(
            f"The plan uses {', '.join(missing)}, but no such print was given. Plan again."
        )
    from sequencer.sheets.document import Looks, sheets_pdf
    from sequencer.sheets.pages.table_photo import TablePhoto

    title, date = (None if told is None else doors.word(name, told)
                   for name, told in (("title", title), ("date", date)))
    seq = None if seq is None else doors.sequence("seq", seq)
    report = None if report is None else doors.one(
        "report", report, ContrastReport, "a report, as contrast gives it")
    cards = doors.listed("bridges", bridges, dict, "the bridges of a contrast report")
    shown = doors.listed("photos", photos, TablePhoto, "photographs as TablePhoto")
    looks = Looks(paper, shown_in, title, date, tuple(shown))
    data = sheets_pdf(
        plan, known, looks, seq, report, tuple(cards) or (report.bridges if report else ()))
    try:
        write_out(target, data)
    except OSError as error:
        raise SheetError(f"{target} cannot be written: {error.strerror or error}.") from None


def _check(asked: str, known: tuple[str, ...], what: str) -> None:
    if asked not in known:
        raise UsageError(f"'{asked}' is no {what} for the sheets; take {' or '.join(known)}.")
