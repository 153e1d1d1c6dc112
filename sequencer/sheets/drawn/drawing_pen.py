"""The few marks that all step drawings are made of."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from sequencer.sheets.paper.fonts import BOLD, REGULAR

OUTLINE, FINE, BOLD_LINE = 0.7, 0.9, 1.2
HEAD = 4.0
"""Length of an arrow's head, points."""


class Pen:
    """Draws cloth, seams, cuts and arrows on a canvas, in points from the field's lower left."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    def cloth(self, x: float, y: float, width: float, height: float, grey: float) -> None:
        """A piece of cloth: outlined, filled with ``grey`` (0 black to 1 white)."""
        self._plain(OUTLINE)
        self._canvas.setFillGray(grey)
        self._canvas.rect(x, y, width, height, fill=1)

    def corners(self, points: Sequence[tuple[float, float]], grey: float) -> None:
        """A piece of cloth with these corners."""
        self._plain(OUTLINE)
        self._canvas.setFillGray(grey)
        path = self._canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
        self._canvas.drawPath(path, stroke=1, fill=1)

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A fold or edge."""
        self._plain(OUTLINE)
        self._canvas.line(x1, y1, x2, y2)

    def seam(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Stitching: a dashed line on a white ground, so that an edge below does not hide it."""
        self._ground(x1, y1, x2, y2)
        self._plain(FINE)
        self._canvas.setDash([2.4, 1.8])
        self._canvas.line(x1, y1, x2, y2)
        self._canvas.setDash()

    def cut(self, x1: float, y1: float, x2: float, y2: float, wheel: bool = True) -> None:
        """A cut: a bold dash-dotted line, a small wheel at its end."""
        self._ground(x1, y1, x2, y2)
        self._plain(BOLD_LINE)
        self._canvas.setDash([7, 2, 1.5, 2])
        self._canvas.line(x1, y1, x2, y2)
        self._canvas.setDash()
        if wheel:
            self._canvas.setFillGray(1)
            self._canvas.circle(x2, y2, 3.6, fill=1)
            self._canvas.setFillGray(0)
            self._canvas.circle(x2, y2, 0.8, stroke=0, fill=1)

    def arrow(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A move or a press, from the first point to the second."""
        self._plain(BOLD_LINE)
        self._canvas.line(x1, y1, x2, y2)
        self._head(x2, y2, math.atan2(y2 - y1, x2 - x1))

    def curve(
        self, x1: float, y1: float, x2: float, y2: float,
        x3: float, y3: float, x4: float, y4: float,
    ) -> None:  # fmt: skip
        """A move along a Bézier curve, with a head at its end."""
        self._plain(BOLD_LINE)
        self._canvas.bezier(x1, y1, x2, y2, x3, y3, x4, y4)
        self._head(x4, y4, math.atan2(y4 - y3, x4 - x3))

    def ring(
        self, x: float, y: float, outer: float, inner: float, greys: Sequence[float],
        gap: int | None = None,
    ) -> None:  # fmt: skip
        """A loop of patches seen from the side; at ``gap`` the seam stands open."""
        turn = 360 / len(greys)
        for place, grey in enumerate(greys):
            start = 90 + place * turn + (7 if gap == place else 0)
            sweep = turn - (7 if gap == place else 0) - (7 if gap == place + 1 else 0)
            self._sector(x, y, outer, inner, start, sweep, grey)

    def measure_down(self, x: float, low: float, high: float) -> None:
        """A width marked between two short lines, up and down."""
        self._plain(FINE)
        for y in (low, high):
            self._canvas.line(x - 4, y, x + 4, y)
        self._canvas.line(x, low, x, high)

    def measure_across(self, left: float, right: float, y: float, above: bool = True) -> None:
        """A width marked between two short lines, left and right."""
        self._plain(FINE)
        for x in (left, right):
            self._canvas.line(x, y - 4, x, y + 4)
        self._canvas.line(left, y, right, y)

    def right_angle(self, x: float, y: float, side: float, turn: int = 1) -> None:
        """The mark of a right angle at a corner, opening right (1) or left (-1)."""
        self._plain(FINE)
        self._canvas.line(x + turn * side, y, x + turn * side, y + side)
        self._canvas.line(x, y + side, x + turn * side, y + side)

    def label(self, x: float, y: float, text: str) -> None:
        """A bold figure centred on a point."""
        self._canvas.setFillGray(0)
        self._canvas.setFont(BOLD, 9)
        self._canvas.drawCentredString(x, y - 3.2, text)

    def text(self, x: float, y: float, text: str) -> None:
        """Words centred under the drawing."""
        self._canvas.setFillGray(0)
        self._canvas.setFont(REGULAR, 9)
        self._canvas.drawCentredString(x, y, text)

    def _sector(
        self, x: float, y: float, outer: float, inner: float, start: float, sweep: float,
        grey: float,
    ) -> None:  # fmt: skip
        self._plain(OUTLINE)
        self._canvas.setFillGray(grey)
        path = self._canvas.beginPath()
        begin, end = math.radians(start), math.radians(start + sweep)
        path.moveTo(x + inner * math.cos(begin), y + inner * math.sin(begin))
        path.lineTo(x + outer * math.cos(begin), y + outer * math.sin(begin))
        path.arcTo(x - outer, y - outer, x + outer, y + outer, start, sweep)
        path.lineTo(x + inner * math.cos(end), y + inner * math.sin(end))
        path.arcTo(x - inner, y - inner, x + inner, y + inner, start + sweep, -sweep)
        path.close()
        self._canvas.drawPath(path, stroke=1, fill=1)

    def _head(self, x: float, y: float, angle: float) -> None:
        path = self._canvas.beginPath()
        path.moveTo(x, y)
        for side in (-0.45, 0.45):
            path.lineTo(x - HEAD * math.cos(angle + side), y - HEAD * math.sin(angle + side))
        path.close()
        self._canvas.setFillGray(0)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _ground(self, x1: float, y1: float, x2: float, y2: float) -> None:
        self._canvas.setStrokeGray(1)
        self._canvas.setLineWidth(2.4)
        self._canvas.line(x1, y1, x2, y2)

    def _plain(self, weight: float) -> None:
        self._canvas.setStrokeGray(0.1)
        self._canvas.setLineWidth(weight)
        self._canvas.setDash()
