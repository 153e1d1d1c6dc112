"""A strip set to scale along its length: where it is cut, for which column, and where joins lie."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from reportlab.pdfbase.pdfmetrics import stringWidth

from sequencer.sheets.followed.trail import Cut, Strip, StripSet
from sequencer.sheets.paper.fonts import BOLD, REGULAR
from sequencer.sheets.paper.layout import INK, Drawn

LABEL = 34.0
"""Room for a strip's letters at the left, points."""
BAND, ROW, HEAD = 24.0, 12.0, 14.0
MOST_ROWS = 24


class SetMap(Drawn):
    """The set from its squared end: a band with the cuts, then each pieced strip with its joins.

    ``cuts``: column number and cut. ``rows``: letters and one strip each, with joins.
    """

    def __init__(
        self, one: StripSet, cuts: Sequence[tuple[int, Cut]], rows: Sequence[tuple[str, Strip]],
        width: float,
    ) -> None:  # fmt: skip
        super().__init__()
        self._set, self._cuts, self._rows = one, cuts, rows
        self.width = width
        self.height = HEAD + BAND + ROW * len(self._rows) + (4 if self._rows else 0)
        self._scale = (width - LABEL - 2) / float(one.length)

    def draw(self) -> None:
        """Draw the band, its cuts and numbers, then the strips."""
        canvas = self.canv
        base = self.height - HEAD - BAND
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.8)
        canvas.rect(LABEL, base, self._x(self._set.length) - LABEL, BAND)
        self._squared(base)
        self._number(base)
        for place, (letters, strip) in enumerate(self._rows):
            self._strip(letters, strip, base - 4 - ROW * (place + 1))

    def _x(self, along: Fraction) -> float:
        return LABEL + float(along) * self._scale

    def _squared(self, base: float) -> None:
        """What squaring takes, hatched; the first cut begins where it ends."""
        first = min((cut.start for _, cut in self._cuts), default=Fraction(0))
        end = self._x(first)
        self.canv.setLineWidth(0.4)
        x = LABEL
        while x < end - 0.5:
            self.canv.line(x, base, min(x + 4, end), base + BAND * min(1.0, (end - x) / 4))
            x += 4
        self.canv.setLineWidth(0.8)
        self.canv.line(end, base - 3, end, base + BAND + 3)
        self.canv.setFont(REGULAR, 9)
        self.canv.setFillColor(INK)
        self.canv.drawString(0, base + BAND / 2 - 3, "cuts")

    def _number(self, base: float) -> None:
        canvas = self.canv
        free = [-1.0, -1.0]
        for place, (column, cut) in enumerate(self._cuts):
            left, right = self._x(cut.start), self._x(cut.end)
            canvas.setLineWidth(0.8)
            canvas.setDash([3, 1.5] if cut.ring else [])
            canvas.line(right, base, right, base + BAND)
            canvas.setDash()
            line = place % 2
            wide = stringWidth(str(column), BOLD, 9)
            centre = max((left + right) / 2, free[line] + wide / 2 + 2)
            if abs(centre - (left + right) / 2) < 1:
                canvas.setFont(BOLD, 9)
                y = base + (BAND - 10 if line else 4) if right - left < 18 else base + BAND / 2 - 3
                canvas.drawCentredString(centre, y, str(column))
                free[line] = centre + wide / 2

    def _strip(self, letters: str, strip: Strip, y: float) -> None:
        canvas = self.canv
        canvas.setFont(BOLD, 9)
        canvas.setFillColor(INK)
        canvas.drawString(0, y + 2.5, letters)
        canvas.setLineWidth(0.5)
        canvas.rect(LABEL, y + 1, self._x(strip.length) - LABEL, ROW - 3)
        canvas.setLineWidth(1.6)
        for first, last in strip.spans():
            slant = strip.seam != "straight"
            left, right = self._x(first), self._x(last)
            middle = (left + right) / 2
            start, end = (left, right) if slant else (middle, middle)
            canvas.line(start, y + 1, end, y + ROW - 2)
