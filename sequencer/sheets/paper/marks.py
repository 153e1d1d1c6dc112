"""Small things that stand in a table's cells: boxes to check off, a bar for the value."""

from __future__ import annotations

from reportlab.lib.colors import Color

from sequencer.models import Lab
from sequencer.sheets.paper.fonts import REGULAR
from sequencer.sheets.paper.layout import INK, Drawn

BOX, BESIDE = 9.5, 4.0
"""Side of a box and the room between two, points."""
MOST_BOXES = 40
"""More boxes than this nobody checks off: one then stands for ten pieces."""


class Boxes(Drawn):
    """Boxes to check off, in rows as wide as the cell allows; see :func:`boxes_for`."""

    def __init__(self, count: int, ticked: bool = False) -> None:
        super().__init__()
        self.count, self.ticked = boxes_for(count)[0], ticked

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """The room that the boxes take."""
        self._across = max(1, int((width + BESIDE) // (BOX + BESIDE)))
        rows = -(-self.count // self._across)
        self.width = min(self.count, self._across) * (BOX + BESIDE) - BESIDE
        self.height = rows * (BOX + BESIDE) - BESIDE
        return self.width, self.height

    def draw(self) -> None:
        """Draw the boxes, the first at the top left."""
        self.canv.setLineWidth(0.9)
        self.canv.setStrokeColor(INK)
        for place in range(self.count):
            row, column = divmod(place, self._across)
            y = self.height - BOX - row * (BOX + BESIDE)
            x = column * (BOX + BESIDE)
            self.canv.rect(x, y, BOX, BOX)
            if self.ticked:
                self.canv.setLineWidth(1.4)
                self.canv.line(x + 2, y + 4.5, x + 4, y + 2)
                self.canv.line(x + 4, y + 2, x + 8, y + 8)
                self.canv.setLineWidth(0.9)


def boxes_for(count: int) -> tuple[int, int]:
    """How many boxes stand for ``count`` pieces, and for how many pieces one box stands."""
    each = 1
    while -(-count // each) > MOST_BOXES:
        each *= 10
    return -(-count // each), each


class ValueBar(Drawn):
    """Lightness L* as the length of a dark bar, with the figure beside it."""

    def __init__(self, value: float, width: float = 84) -> None:
        super().__init__()
        self.value, self.width, self.height = value, width, 11.0

    def draw(self) -> None:
        """Draw an outline for 0 to 100 and fill it as far as the value goes."""
        bar = self.width - 26
        share = min(max(self.value, 0.0), 100.0) / 100
        self.canv.setLineWidth(0.7)
        self.canv.setStrokeColor(INK)
        self.canv.setFillGray(0.35)
        self.canv.rect(0, 1.5, bar * share, 8, stroke=0, fill=1)
        self.canv.rect(0, 1.5, bar, 8, fill=0)
        self.canv.setFillGray(0)
        self.canv.setFont(REGULAR, 10)
        self.canv.drawRightString(self.width, 2, f"{self.value:.0f}")


def rgb(lab: Lab) -> Color:
    """The screen colour (sRGB) nearest to a CIELAB colour."""
    from sequencer.colour import lab_to_srgb8

    red, green, blue = (int(part) / 255 for part in lab_to_srgb8(lab))
    return Color(red, green, blue)
