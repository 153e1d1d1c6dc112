"""Small line drawings, one for each kind of sewing step.

Each is drawn into a field of ``WIDTH`` × ``HEIGHT`` points. Cloth is grey, a seam is a fine
dashed line, a cut a bold dash-dotted one with a wheel at its end, a press or move an arrow; so
they read the same from a black-and-white printer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from sequencer.sheets.drawn.drawing_pen import Pen
from sequencer.sheets.paper.layout import Drawn

WIDTH, HEIGHT = 150.0, 92.0
TONES = (0.96, 0.8, 0.6, 0.88, 0.7, 0.52)
Draw = Callable[[Pen], None]


@dataclass(frozen=True)
class Ways:
    """How this plan sews: ``loop`` or flat, pressed ``open`` or to one side, joins ``diagonal``."""

    loop: bool = True
    open: bool = True
    diagonal: bool = True


class StepDrawing(Drawn):
    """The drawing for a step of this ``kind`` (a step's ``op``), in the plan's own way of it."""

    def __init__(self, kind: str, ways: Ways) -> None:
        super().__init__()
        self.width, self.height = WIDTH, HEIGHT
        self._draw_step = _choose(kind, ways)

    def draw(self) -> None:
        """Draw with a pen of its own, leaving the canvas as it was."""
        canvas: Canvas = self.canv
        canvas.saveState()
        self._draw_step(Pen(canvas))
        canvas.restoreState()


class TrialDrawing(Drawn):
    """Three strips sewn side to side, and the width across that they must have."""

    def __init__(self, across: str) -> None:
        super().__init__()
        self.width, self.height = WIDTH, HEIGHT
        self._across = across

    def draw(self) -> None:
        """Draw the strips from the top, the measure at the right."""
        canvas: Canvas = self.canv
        canvas.saveState()
        pen = Pen(canvas)
        for place, tone in enumerate(TONES[:3]):
            pen.cloth(4, 20 + 22 * place, 104, 22, tone)
        for y in (42, 64):
            pen.seam(1, y, 111, y)
        pen.measure_down(122, 20, 86)
        pen.text(75, 5, f"{self._across} across")
        canvas.restoreState()


def _choose(kind: str, ways: Ways) -> Draw:
    if kind == "open_seam" and not ways.loop:
        return open_flat
    if kind == "sew_strips" and not ways.open:
        return sew_strips_to_one_side
    if kind == "join_ends" and not ways.diagonal:
        return join_straight
    return DRAWINGS[kind]


def cut_strip(pen: Pen) -> None:
    """A scrap with a strip cut along its edge."""
    pen.cloth(26, 18, 96, 66, TONES[1])
    pen.cloth(26, 18, 96, 20, TONES[0])
    pen.cut(18, 38, 136, 38)
    pen.measure_down(12, 18, 38)
    pen.text(75, 3, "from the straight edge")


def join_diagonal(pen: Pen) -> None:
    """Two strips laid crosswise, right sides together, sewn corner to corner."""
    pen.cloth(2, 52, 60, 20, TONES[1])
    pen.cloth(42, 18, 20, 54, TONES[0])
    pen.seam(37, 77, 67, 47)
    pen.cut(49, 80, 70, 59, wheel=False)
    pen.arrow(72, 45, 86, 45)
    pen.corners([(92, 35), (130, 35), (110, 55), (92, 55)], TONES[1])
    pen.corners([(130, 35), (148, 35), (148, 55), (110, 55)], TONES[0])
    pen.text(75, 3, "corner to corner, then trim")


def join_straight(pen: Pen) -> None:
    """Two strips laid on each other, right sides together, sewn across their ends."""
    pen.cloth(4, 46, 56, 20, TONES[1])
    pen.cloth(10, 42, 50, 20, TONES[0])
    pen.seam(54, 36, 54, 72)
    pen.arrow(68, 50, 82, 50)
    pen.cloth(90, 40, 29, 20, TONES[1])
    pen.cloth(119, 40, 29, 20, TONES[0])
    pen.text(75, 3, "across the ends, then press")


def sew_strips_open(pen: Pen) -> None:
    """Strips sewn side to side, seams pressed open."""
    _strip_set(pen, 8, 15, 108)
    for y in (33, 51, 69):
        pen.arrow(126, y + 1, 126, y + 8)
        pen.arrow(126, y - 1, 126, y - 8)
    pen.text(75, 3, "press each seam open")


def sew_strips_to_one_side(pen: Pen) -> None:
    """Strips sewn side to side, seams pressed one way, the next set the other way."""
    _strip_set(pen, 8, 15, 52)
    _strip_set(pen, 82, 15, 52)
    for y in (33, 51, 69):
        pen.arrow(67, y - 6, 67, y + 7)
        pen.arrow(141, y + 6, 141, y - 7)
    pen.text(75, 3, "one set up, the other down")


def square_end(pen: Pen) -> None:
    """The uneven end of a strip set cut square."""
    for place, inset in enumerate((3, 8, 0, 6)):
        pen.cloth(14 + inset, 12 + 18 * place, 122 - inset, 18, TONES[place])
    pen.cut(32, 4, 32, 88)
    pen.right_angle(32, 12, 7)


def cut_segment(pen: Pen) -> None:
    """Segments sliced across a strip set."""
    _strip_set(pen, 62, 12, 84)
    for place in range(4):
        pen.cloth(6, 12 + 18 * place, 14, 18, TONES[place])
        pen.cloth(28, 12 + 18 * place, 22, 18, TONES[place])
    pen.cut(84, 4, 84, 88)
    pen.measure_across(62, 84, 7, above=False)


def stack(pen: Pen) -> None:
    """Segments sewn end to end into one tall column."""
    for place in range(4):
        pen.cloth(30, 50 + 9.5 * place, 22, 9.5, TONES[place])
        pen.cloth(30, 4 + 9.5 * place, 22, 9.5, TONES[place])
    pen.seam(25, 46, 57, 46)
    pen.arrow(66, 46, 84, 46)
    for place in range(8):
        pen.cloth(96, 8 + 9.5 * place, 22, 9.5, TONES[place % 4])


def close_loop(pen: Pen) -> None:
    """A column's two ends sewn together into a ring."""
    for place in range(6):
        pen.cloth(14, 6 + 13 * place, 20, 13, TONES[place % 6])
    pen.arrow(46, 46, 64, 46)
    pen.ring(106, 46, 40, 24, [TONES[place % 6] for place in range(6)])
    pen.seam(106, 66, 106, 90)


def open_loop(pen: Pen) -> None:
    """A ring opened at one seam: a flat column again, its top another print."""
    pen.ring(44, 46, 40, 24, [TONES[place % 6] for place in range(6)], gap=1)
    pen.arrow(92, 46, 110, 46)
    for place in range(6):
        pen.cloth(120, 6 + 13 * place, 20, 13, TONES[(place + 1) % 6])


def open_flat(pen: Pen) -> None:
    """One seam opened, the upper prints carried to the bottom."""
    for place in range(6):
        lift = 5 if place >= 4 else 0
        pen.cloth(26, 4 + 13 * place + lift, 22, 13, TONES[place % 6])
    pen.seam(20, 58.5, 54, 58.5)
    pen.curve(54, 76, 82, 76, 82, 12, 56, 10)
    for place in range(6):
        pen.cloth(112, 6 + 13 * place, 22, 13, TONES[(place + 4) % 6])
    pen.arrow(90, 46, 106, 46)


def sew_columns(pen: Pen) -> None:
    """Columns side by side, each shifted against its neighbour, seams between."""
    x = 18.0
    for column, width in enumerate((30, 20, 14, 20, 30)):
        for row in range(6):
            tone = TONES[(row + min(column, 4 - column)) % 6]
            pen.cloth(x, 8 + 13 * row, width, 13, tone)
        x += width
    for seam in (48, 68, 82, 102):
        pen.seam(seam, 3, seam, 91)


def add_border(pen: Pen) -> None:
    """Two borders sewn to the sides first, then two across top and bottom."""
    pen.cloth(36, 22, 78, 50, TONES[3])
    for x in (24, 114):
        pen.cloth(x, 22, 12, 50, TONES[0])
        pen.label(x + 6, 47, "1")
    for y in (10, 72):
        pen.cloth(24, y, 102, 12, TONES[0])
        pen.label(75, y + 6, "2")
    for x in (36, 114):
        pen.seam(x, 22, x, 72)


def trim(pen: Pen) -> None:
    """The panel cut square on all four sides."""
    pen.cloth(24, 10, 102, 72, TONES[0])
    pen.cloth(32, 17, 86, 58, TONES[1])
    pen.cut(32, 6, 32, 88)
    pen.cut(118, 6, 118, 88)
    pen.cut(18, 17, 134, 17, wheel=False)
    pen.cut(18, 75, 134, 75, wheel=False)
    for x, turn in ((32, 1), (118, -1)):
        pen.right_angle(x, 17, 7, turn)


def bind(pen: Pen) -> None:
    """A folded strip sewn round the edge, the corner folded at 45 degrees."""
    pen.cloth(12, 8, 92, 66, TONES[1])
    pen.cloth(12, 62, 104, 12, TONES[0])
    pen.cloth(104, 8, 12, 66, TONES[0])
    pen.line(104, 62, 116, 74)
    pen.seam(12, 62, 104, 62)
    pen.seam(104, 8, 104, 62)
    pen.arrow(60, 80, 100, 80)
    pen.arrow(124, 66, 124, 26)


def _strip_set(pen: Pen, x: float, y: float, width: float) -> None:
    for place in range(4):
        pen.cloth(x, y + 18 * place, width, 18, TONES[place])
    for place in range(1, 4):
        pen.seam(x - 3, y + 18 * place, x + width + 3, y + 18 * place)


DRAWINGS: dict[str, Draw] = {
    "cut_strip": cut_strip,
    "join_ends": join_diagonal,
    "sew_strips": sew_strips_open,
    "square_end": square_end,
    "cut_segment": cut_segment,
    "stack": stack,
    "close_loop": close_loop,
    "open_seam": open_loop,
    "sew_columns": sew_columns,
    "add_border": add_border,
    "trim": trim,
    "bind": bind,
}
