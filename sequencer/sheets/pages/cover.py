"""The first page: the piece, its sizes, its sequence, and squares to check the printer."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from reportlab.lib.units import cm, inch
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Paragraph, Spacer, Table

from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.paper.fonts import BOLD, REGULAR
from sequencer.sheets.paper.layout import (
    BODY,
    INK,
    SMALL,
    TITLE,
    Drawn,
    Heading,
    Story,
    frame_height,
)
from sequencer.sheets.paper.pictures import draw_picture
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import facts, side_by_side

SHORT_SEQUENCE = 10
"""Up to so many prints are named in one line; more go by their letters."""

SMALLEST_PICTURE = 160.0
"""Height that the picture keeps, points, even if the rest then runs over to a second page."""


def cover(job: Job) -> Section:
    """The page's section; the picture takes what height the rest leaves."""
    band = SequenceBand(job)
    below: Story = [
        Spacer(0, 8), band, Spacer(0, 3), Paragraph(sequence_line(job), SMALL), Spacer(0, 8),
        _facts_and_squares(job),
    ]  # fmt: skip
    above: Story = [Paragraph(marked(job.title), TITLE)]
    if job.date:
        above.append(Paragraph(marked(job.date), BODY))
    room = frame_height(job.paper) - sum(
        part.wrap(job.width, 10_000)[1] for part in [*above, *below]
    )
    shown = job.gallery.piece(job.width, max(room - 20, SMALLEST_PICTURE))
    shown.hAlign = "CENTER"
    return Section("The piece", [_Bookmark(), *above, Spacer(0, 6), shown, *below], headed=False)


class _Bookmark(Heading):
    """The cover's bookmark without a printed heading: the title stands there."""

    def __init__(self) -> None:
        super().__init__("The piece")

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return 0, 0

    def draw(self) -> None:
        self.canv.bookmarkPage("piece")
        self.canv.addOutlineEntry("The piece", "piece")


def sequence_line(job: Job) -> str:
    """The sequence, and whether it closes into a loop, in one line."""
    ids = job.plan.prints
    if len(ids) <= SHORT_SEQUENCE:
        listed = " · ".join(job.keyed(ident) for ident in ids)
    else:
        ends = f"<b>{job.key(ids[0])}</b> to <b>{job.key(ids[-1])}</b>"
        listed = f"{ends}, named with the prints in sequence"
    again = f", then <b>{job.key(ids[0])}</b> again" if job.plan.repeats > 1 else ""
    return f"From the top: {listed}{again}."


def _facts_and_squares(job: Job) -> Table:
    squares = ScaleSquares()
    gap = 16
    left = job.width - squares.width - gap
    figures = facts(_figures(job), 92, left)
    return side_by_side([figures, "", squares], [left, gap, squares.width])


def _figures(job: Job) -> list[tuple[str, str]]:
    plan, show = job.plan, job.measure
    bound = job.outside != plan.bordered
    rows = [("Finished", show.size(job.outside) + (", with binding" if bound else ""))]
    if bound:
        rows.append(("Panel", f"{show.size(plan.bordered)}, inside the binding"))
    if plan.bordered != plan.centre:
        rows.append(("Centre", f"{show.size(plan.centre)}, without the border"))
    rows += [
        ("Columns", f"{len(plan.columns)}, cut {_span(job, [c.cut_width for c in plan.columns])}"),
        ("Rows", f"{plan.rows}: {len(plan.prints)} prints × {plan.repeats}"),
        ("Strips", _strips(job, plan.finished_strip)),
        ("Seam", f"{show.of(plan.seam)} seam allowance, {pressing(plan.press)}"),
        ("Method", method(plan.method)),
    ]
    if plan.seams:
        rows.append(("Sewing", _sewing(job)))
    return rows


def _strips(job: Job, finished: Mapping[str, Fraction]) -> str:
    widths = list(finished.values())
    cut = _span(job, [width + 2 * job.plan.seam for width in widths])
    return f"cut {cut}, finish {_span(job, widths)}"


def _span(job: Job, lengths: list[Fraction]) -> str:
    least, most = min(lengths), max(lengths)
    if least == most:
        return job.measure.of(least)
    return f"{job.measure.bare(least)} to {job.measure.of(most)}"


def _sewing(job: Job) -> str:
    seams = job.plan.seams
    parts = []
    if "count" in seams:
        parts.append(f"{seams['count']} seams")
    if "length" in seams:
        parts.append(f"{job.measure.long(Fraction(seams['length']))} of stitching")
    if "opened" in seams:
        parts.append(f"{seams['opened']} to open")
    return ", ".join(parts)


def pressing(press: str) -> str:
    """The plan's pressing in words."""
    if press == "open":
        return "pressed open"
    return "pressed to one side, neighbours opposite ways so that they nest"


def method(name: str) -> str:
    """The plan's way of shifting a column, in words."""
    if name == "loop":
        return "loops: ends sewn together, each ring opened at its own seam"
    return "flat: one seam opened, the top prints carried to the bottom"


class SequenceBand(Drawn):
    """The prints side by side in sequence, their letters below."""

    def __init__(self, job: Job) -> None:
        super().__init__()
        self._job = job
        self.width, self.height = job.width, 44.0

    def draw(self) -> None:
        """Draw each print's cloth, and as many letters as have room."""
        ids = self._job.plan.prints
        each = self.width / len(ids)
        letters = [self._job.key(ident) for ident in ids]
        widest = max(stringWidth(letter, BOLD, 9.5) for letter in letters) + 3
        every = max(1, -(-int(widest) // max(1, int(each))))
        for place, ident in enumerate(ids):
            cloth = self._job.gallery.cloth(ident, each, self.height - 13)
            draw_picture(self.canv, cloth, place * each, 13, each, self.height - 13)
            if place % every == 0:
                self.canv.setFont(BOLD, 9.5)
                self.canv.drawCentredString((place + 0.5) * each, 2, letters[place])


class ScaleSquares(Drawn):
    """A square of 5 cm and one of 1 in: both must measure true on the printed page.

    72 points to the inch, and the inch is 2.54 cm (ISO 32000-1; 1959 yard and pound agreement).
    """

    def __init__(self) -> None:
        super().__init__()
        self.width, self.height = 5 * cm + 12 + inch, 5 * cm + 30

    def draw(self) -> None:
        """Draw the squares with their sides marked in thin lines."""
        canvas, base = self.canv, 28
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.6)
        canvas.rect(0, base, 5 * cm, 5 * cm)
        canvas.rect(5 * cm + 12, base, inch, inch)
        canvas.setFont(BOLD, 11)
        canvas.drawCentredString(2.5 * cm, base + 2.5 * cm - 4, "5 cm")
        canvas.drawCentredString(5 * cm + 12 + inch / 2, base + inch / 2 - 4, "1 in")
        canvas.setFont(REGULAR, 9)
        canvas.drawString(0, 13, "Print at 100 %, not fitted to the page, and")
        canvas.drawString(0, 2, "measure both squares before you trust a line.")
