"""A scrap to scale with its cuts in the order of cutting, what is trimmed, and what is left."""

from __future__ import annotations

from fractions import Fraction

from reportlab.pdfbase.pdfmetrics import stringWidth

from sequencer.models import ScrapCut, ScrapUse
from sequencer.sheets.paper.fonts import BOLD, REGULAR
from sequencer.sheets.paper.layout import INK, RULE, Drawn
from sequencer.sheets.paper.measure import Measure

LARGEST_SCALE = 36.0
"""Points for an inch of cloth at most: a 14 in scrap across the page."""
TYPE, FOOT = 9.0, 13.0
TALLEST, TALLEST_FINE = 300.0, 430.0
"""Height of a drawing at most, and where cuts would else be narrower than their numbers."""


class ScrapDrawing(Drawn):
    """The straightened scrap; x runs along its long side from the squared corner at the left foot.

    Cuts are white and numbered, what is left is ruled with fine lines, the rim that straightening
    takes is dashed.
    """

    def __init__(self, use: ScrapUse, measure: Measure, width: float) -> None:
        super().__init__()
        self._use, self._measure = use, measure
        long, short = (float(side) for side in use.size)
        narrow = min((float(cut.width) for cut in use.cuts), default=1.0)
        tallest = TALLEST if narrow * TALLEST / short >= TYPE else TALLEST_FINE
        self._scale = min(LARGEST_SCALE, (width - 2) / long, tallest / short)
        self.width = long * self._scale + 2
        self.height = short * self._scale + FOOT + 2

    def draw(self) -> None:
        """Draw the rim, then what is left, then the cuts and their numbers, then the sides."""
        canvas, use = self.canv, self._use
        canvas.saveState()
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        canvas.setDash([2, 2])
        canvas.rect(1, FOOT, float(use.size[0]) * self._scale, float(use.size[1]) * self._scale)
        canvas.setDash()
        for left in use.left:
            self._left(left)
        for number, cut in enumerate(use.cuts, 1):
            self._cut(number, cut)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.1)
        x, y = self._at(Fraction(0), Fraction(0))
        canvas.rect(x, y, float(use.usable[0]) * self._scale, float(use.usable[1]) * self._scale)
        canvas.line(x, y + 8, x + 8, y + 8)
        canvas.line(x + 8, y, x + 8, y + 8)
        self._sides()
        canvas.restoreState()

    def _at(self, x: Fraction, y: Fraction) -> tuple[float, float]:
        """A point of the straightened scrap on the page: half of what is lost lies on each side."""
        rim = [(size - usable) / 2 for size, usable
               in zip(self._use.size, self._use.usable, strict=True)]  # fmt: skip
        return (1 + float(x + rim[0]) * self._scale, FOOT + float(y + rim[1]) * self._scale)

    def _left(self, left: tuple[Fraction, Fraction, Fraction, Fraction]) -> None:
        x, y = self._at(left[0], left[1])
        wide, high = (float(side) * self._scale for side in left[2:])
        canvas = self.canv
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.4)
        step = 5 - high
        while step < wide:
            first, last = max(0.0, step), min(wide, step + high)
            canvas.line(x + first, y + first - step, x + last, y + last - step)
            step += 5
        words = f"{self._measure.bare(left[2])} × {self._measure.bare(left[3])}"
        room = stringWidth(words, REGULAR, TYPE)
        if wide > room + 6 and high > TYPE + 4:
            self._word(x + wide / 2, y + high / 2, words, REGULAR)

    def _cut(self, number: int, cut: ScrapCut) -> None:
        along = cut.along == "long"
        wide, high = (cut.length, cut.width) if along else (cut.width, cut.length)
        x, y = self._at(*cut.at)
        across, up = float(wide) * self._scale, float(high) * self._scale
        canvas = self.canv
        canvas.setStrokeColor(INK)
        canvas.setFillGray(1)
        canvas.setLineWidth(0.8)
        canvas.rect(x, y, across, up, fill=1)
        centre, middle = x + across / 2, y + up / 2
        if along and up < TYPE + 2:
            centre = x + 10 + (number % 4) * min(20.0, max(4.0, across - 20) / 4)
        elif not along and across < stringWidth(str(number), BOLD, TYPE) + 2:
            middle = y + 7 + (number % 4) * min(12.0, max(4.0, up - 14) / 4)
        self._word(centre, middle, str(number), BOLD)

    def _word(self, x: float, y: float, words: str, font: str) -> None:
        canvas = self.canv
        wide = stringWidth(words, font, TYPE)
        canvas.setFillGray(1)
        canvas.rect(x - wide / 2 - 1, y - 4, wide + 2, 8.5, stroke=0, fill=1)
        canvas.setFillColor(INK)
        canvas.setFont(font, TYPE)
        canvas.drawCentredString(x, y - 3.2, words)

    def _sides(self) -> None:
        """The straightened scrap's sides under the drawing."""
        self.canv.setFillColor(INK)
        self.canv.setFont(REGULAR, TYPE)
        show = self._measure
        words = f"{show.bare(self._use.usable[0])} × {show.of(self._use.usable[1])} straightened"
        self.canv.drawString(1, 2, words)
