"""Before the first cut: a trial of three strips, what the plan warns of, and the cautions."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from unicodedata import name

from reportlab.platypus import KeepTogether, Paragraph, Spacer

from sequencer.sheets.drawn.drawings import TrialDrawing
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.pages.cautions import cautions
from sequencer.sheets.paper.layout import BODY, SUBHEADING, Story
from sequencer.sheets.paper.marks import Boxes
from sequencer.sheets.paper.sections import Section, bullets
from sequencer.sheets.paper.tables import Cell, side_by_side

TRIAL_LENGTH = Fraction(6)
"""Long enough to see a seam drift (common practice, no source)."""
BOX = 18.0
SHOWN_LATER = {
    "short": "Cloth is lacking: the cutting list says of which prints, and how much. Find it or "
    "change the plan before you cut.",
    "sizes_unknown": "Some prints have no known size: measure them, and compare with the piece "
    "that the cutting list asks for.",
    "margin": "Measure the scraps that are marked so on the pages of their cuts: a photo may show "
    "them too large.",
}
"""Warnings whose figures stand on later pages: said here once, without them."""


def before(job: Job) -> Section:
    """The page's section."""
    notes = bullets([marked(text) for text in _notes(job)], "What this plan asks of you")
    return Section("Before the first cut", [*_trial(job), *notes, *cautions()])


def trial_width(cut: Fraction, seam: Fraction) -> Fraction:
    """What three strips sewn side to side measure, raw edges included.

    Three strips cut 1 1/2 in with true 1/4 in allowances measure 3 1/2 in (published teaching
    example); each of the two seams takes two allowances.

    >>> trial_width(Fraction(3, 2), Fraction(1, 4))
    Fraction(7, 2)
    """
    return 3 * cut - 4 * seam


def _trial(job: Job) -> Story:
    show, seam = job.measure, job.plan.seam
    cut = min(job.plan.finished_strip.values()) + 2 * seam
    length = TRIAL_LENGTH if show.units == "in" else Fraction(1500, 254)
    across = show.of(trial_width(cut, seam))
    text = (
        f"<b>Sew three strips, measure {across}.</b> From cloth you can spare, cut three strips "
        f"{show.of(cut)} wide and about {show.of(length)} long. Sew them side to side with your "
        f"{show.of(seam)} seam, press as you will press the sets, and measure across, raw edge to "
        f"raw edge. More than {across}: move the seam out by a thread or two. Less: move it in; a "
        "fold takes cloth as well. Go on when it measures true, with the same thread, needle and "
        "foot."
    )
    drawing = TrialDrawing(across)
    words = [Paragraph(text, BODY), Spacer(0, 6), _measured(job)]
    rest = job.width - drawing.width - 12
    return [KeepTogether([
        Paragraph("The trial", SUBHEADING),
        side_by_side([drawing, words], [drawing.width + 12, rest], below=4),
    ])]  # fmt: skip


def _measured(job: Job) -> Cell:
    line = Paragraph("first trial ______ &nbsp; second ______ &nbsp; third ______", BODY)
    return side_by_side([[Spacer(0, 2), Boxes(1)], line], [BOX, job.width * 0.6 - BOX])


def _notes(job: Job) -> Iterator[str]:
    most = job.plan.layers.get("column_seam_max")
    if most and not any(warning.code == "bulk" for warning in job.plan.warnings):
        typical = job.plan.layers.get("column_seam_typical", most)
        yield (
            f"Where a column seam crosses strip seams, the needle goes through up to {most} "
            f"layers, mostly {typical}. Sew slowly there."
        )
    codes = {warning.code for warning in job.plan.warnings}
    yield from (told for code, told in SHOWN_LATER.items() if code in codes)
    for warning in job.plan.warnings:
        if warning.code not in SHOWN_LATER:
            yield job.told(warning)
    if job.lost:
        letters = ", ".join(name(sign, f"U+{ord(sign):04X}").lower() for sign in job.lost[:5])
        more = " and others" if len(job.lost) > 5 else ""
        yield f"No typeface here draws {letters}{more}: a ? stands in the names instead."
