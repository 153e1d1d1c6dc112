"""Tables with ruled rows, and the small things that stand in their cells."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import Color
from reportlab.platypus import LongTable, Paragraph, Spacer, Table, TableStyle

from sequencer.models import Lab
from sequencer.sheets.fonts import REGULAR
from sequencer.sheets.layout import CELL, HEAD_CELL, INK, PALE, RULE, Drawn

Cell = Any
"""What reportlab takes in a cell: a flowable or a list of flowables."""
BOX = 9.5
MOST_BOXES = 40
"""More boxes than this nobody checks off: one then stands for ten pieces."""


def ruled(
    heads: Sequence[str], rows: Sequence[Sequence[Cell]], widths: Sequence[float], pad: float = 4
) -> LongTable:
    """A table with a heading that repeats on each page and a thin rule under each row."""
    table = LongTable(
        [[Paragraph(head, HEAD_CELL) for head in heads], *[list(row) for row in rows]],
        colWidths=list(widths), repeatRows=1, hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(TableStyle([
        ("BACKGROUND", (0, 0), (-1, 0), PALE),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, RULE),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("VALIGN", (0, 1), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), pad),
        ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
    ]))  # fmt: skip
    return table


def facts(rows: Sequence[tuple[str, str]], label_width: float, width: float) -> LongTable:
    """Two columns without rules: what, and how much."""
    table = LongTable(
        [[Paragraph(f"<b>{what}</b>", CELL), Paragraph(text, CELL)] for what, text in rows],
        colWidths=[label_width, width - label_width], hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]))  # fmt: skip
    return table


def grid(cells: Sequence[tuple[int, str]], width: float, across: int = 4) -> LongTable:
    """Boxes and words in reading order, ``across`` to a row."""
    each = width / across
    boxed = [_boxed(count, text, each) for count, text in cells]
    boxed += [""] * (-len(boxed) % across)
    table = LongTable(
        [boxed[start : start + across] for start in range(0, len(boxed), across)],
        colWidths=[each] * across, hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 3),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]))  # fmt: skip
    return table


def _boxed(count: int, text: str, width: float) -> Table:
    room = min(count, 4) * (BOX + 4) + 2
    cell = Table([[[Spacer(0, 2), Boxes(count)], Paragraph(text, CELL)]],
                 colWidths=[room, width - room - 6])  # fmt: skip
    cell.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]))  # fmt: skip
    return cell


class Boxes(Drawn):
    """Boxes to check off, in rows as wide as the cell allows; see :func:`boxes_for`."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.count = boxes_for(count)[0]

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """The room that the boxes take."""
        self._across = max(1, int((width + 4) // (BOX + 4)))
        rows = -(-self.count // self._across)
        return min(self.count, self._across) * (BOX + 4) - 4, rows * (BOX + 4) - 4

    def draw(self) -> None:
        """Draw the boxes, the first at the top left."""
        rows = -(-self.count // self._across)
        self.canv.setLineWidth(0.9)
        self.canv.setStrokeColor(INK)
        for place in range(self.count):
            row, column = divmod(place, self._across)
            self.canv.rect(column * (BOX + 4), (rows - 1 - row) * (BOX + 4), BOX, BOX)


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


