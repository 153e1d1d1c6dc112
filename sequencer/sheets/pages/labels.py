"""Pin labels to cut out: one for each column, with all that is to be known at the machine."""

from __future__ import annotations

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import LongTable, Paragraph, Spacer, TableStyle

from sequencer.sheets.followed.job import Job
from sequencer.sheets.pages.columns import opened_pairs
from sequencer.sheets.paper.fonts import BOLD, REGULAR, fitted
from sequencer.sheets.paper.layout import GREY, INK, RULE, SMALL, Drawn
from sequencer.sheets.paper.marks import rgb
from sequencer.sheets.paper.sections import Section
from sequencer.sheets.paper.tables import Cell

ACROSS, TALL, PAD = 4, 74.0, 5.0


def labels(job: Job) -> Section | None:
    """The section; None where the steps do not tell how the columns come about."""
    if job.trail is None:
        return None
    each = job.width / ACROSS
    cells: list[Cell] = [ColumnLabel(job, place, each) for place in range(len(job.plan.columns))]
    rows = [cells[start : start + ACROSS] for start in range(0, len(cells), ACROSS)]
    rows[-1] += [""] * (ACROSS - len(rows[-1]))
    table = LongTable(rows, colWidths=[each] * ACROSS, rowHeights=[TALL] * len(rows))
    table.setStyle(TableStyle([
        ("FONT", (0, 0), (-1, -1), REGULAR, 9),
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]))  # fmt: skip
    how = (
        "Cut apart on the dashed lines and pin one to each column as its first segment falls, the "
        f"arrow towards the set's top. Widths are cut widths ({job.measure.units})."
    )
    return Section("Pin labels", [Paragraph(how, SMALL), Spacer(0, 6), table], alone=True)


def seam_words(job: Job, place: int) -> str:
    """Which seam of a column to open: ``open any of the three H | J seams``."""
    pairs = opened_pairs(job, place)
    if not pairs:
        return "no seam to open"
    above, below, alike = pairs[0]
    pair = f"{job.key(above)} | {job.key(below)}"
    return f"open any of the {_spelled(alike)} {pair} seams" if alike > 1 else f"open {pair}"


def _spelled(count: int) -> str:
    words = ("two", "three", "four", "five", "six", "seven", "eight", "nine")
    return words[count - 2] if count < 10 else str(count)


def _two_lines(words: str) -> list[str]:
    """Broken before the pair of letters where there is a choice of seams."""
    first, the, rest = words.partition(" the ")
    count, _, pair = rest.partition(" ")
    return [f"{first}{the}{count}", pair] if the else [words]


class ColumnLabel(Drawn):
    """Number, width, top print with its colour, seam to open, an arrow up."""

    def __init__(self, job: Job, place: int, width: float) -> None:
        super().__init__()
        self._job, self._place = job, place
        self.width, self.height = width, TALL

    def draw(self) -> None:
        """Draw the dashed frame, then the words."""
        canvas, job, place = self.canv, self._job, self._place
        top = job.plan.patch_print(0, place)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.5)
        canvas.setDash([3, 2])
        canvas.rect(0, 0, self.width, TALL)
        canvas.setDash()
        canvas.setFillColor(INK)
        number = str(place + 1)
        canvas.setFont(BOLD, 20)
        canvas.drawString(PAD + 9, TALL - 22, number)
        self._arrow()
        left = PAD + 9 + stringWidth(number, BOLD, 20) + 8
        canvas.setFont(REGULAR, 10)
        width = f"cut {job.measure.bare(job.plan.columns[place].cut_width)}"
        canvas.drawString(left, TALL - 20, fitted(width, self.width - left - PAD, 10))
        canvas.setFillColor(rgb(job.prints[top].mean_lab))
        canvas.setStrokeColor(INK)
        canvas.rect(PAD, 33, 12, 10, fill=1)
        canvas.setFillColor(INK)
        words = f"top {job.key(top)} {job.name(top)}"
        canvas.setFont(REGULAR, 9)
        canvas.drawString(PAD + 17, 34.5, fitted(words, self.width - 2 * PAD - 17, 9))
        canvas.setFillColor(GREY if not opened_pairs(job, place) else INK)
        for line, y in zip(_two_lines(seam_words(job, place)), (20, 8), strict=False):
            canvas.drawString(PAD, y, fitted(line, self.width - 2 * PAD, 9))

    def _arrow(self) -> None:
        canvas, x = self.canv, PAD + 3
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.2)
        canvas.line(x, TALL - 23, x, TALL - 8)
        canvas.line(x - 3, TALL - 12, x, TALL - 8)
        canvas.line(x + 3, TALL - 12, x, TALL - 8)


