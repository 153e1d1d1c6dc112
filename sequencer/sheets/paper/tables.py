"""Tables: ruled ones with a repeated heading, grids of boxes, and things side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import LongTable, Paragraph, Spacer, Table, TableStyle

from sequencer.sheets.paper.fonts import REGULAR
from sequencer.sheets.paper.layout import CELL, HEAD_CELL, PALE, RULE
from sequencer.sheets.paper.marks import BESIDE, BOX, Boxes, boxes_for

Cell = Any
"""What reportlab takes in a cell: a flowable or a list of flowables."""
_ALL = ((0, 0), (-1, -1))
_RULED = ("LINEBELOW", *_ALL, 0.5, RULE)


def ruled(
    heads: Sequence[str], rows: Sequence[Sequence[Cell]], widths: Sequence[float], pad: float = 4
) -> LongTable:
    """A table with a heading that repeats on each page and a thin rule under each row."""
    table = LongTable(
        [[Paragraph(head, HEAD_CELL) for head in heads], *[list(row) for row in rows]],
        colWidths=list(widths), repeatRows=1, hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(_style(
        (4, pad, 4, pad), _RULED, ("BACKGROUND", (0, 0), (-1, 0), PALE),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"), ("VALIGN", (0, 1), (-1, -1), "MIDDLE"),
    ))  # fmt: skip
    return table


def facts(rows: Sequence[tuple[str, str]], label_width: float, width: float) -> LongTable:
    """Two columns without rules: what, and how much."""
    table = LongTable(
        [[Paragraph(f"<b>{what}</b>", CELL), Paragraph(text, CELL)] for what, text in rows],
        colWidths=[label_width, width - label_width], hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(_style((0, 1.5, 6, 1.5)))
    return table


def side_by_side(
    cells: Sequence[Cell], widths: Sequence[float], above: float = 0, below: float = 0
) -> Table:
    """Things beside each other, tops level, without rules or room of their own."""
    table = Table([list(cells)], colWidths=list(widths), hAlign="LEFT")
    table.setStyle(_style((0, above, 0, below)))
    return table


def grid(
    cells: Sequence[tuple[int, str]], width: float, across: int = 4,
    ticked: Sequence[bool] = (),
) -> LongTable:  # fmt: skip
    """Boxes and words in reading order, ``across`` to a row; those ``ticked`` are done."""
    each = width / across
    done = [*ticked, *[False] * (len(cells) - len(ticked))]
    boxed: list[Cell] = [_boxed(count, text, each, tick)
                         for (count, text), tick in zip(cells, done, strict=True)]  # fmt: skip
    boxed += [""] * (-len(boxed) % across)
    table = LongTable(
        [boxed[start : start + across] for start in range(0, len(boxed), across)],
        colWidths=[each] * across, hAlign="LEFT",
    )  # fmt: skip
    table.setStyle(_style((4, 3, 2, 3), _RULED))
    return table


def _boxed(count: int, text: str, width: float, ticked: bool) -> Table:
    room = min(boxes_for(count)[0], 4) * (BOX + BESIDE) + 2
    return side_by_side(
        [[Spacer(0, 2), Boxes(count, ticked)], Paragraph(text, CELL)], [room, width - room - 6]
    )


def _style(room: tuple[float, float, float, float], *more: tuple[Any, ...]) -> TableStyle:
    """Tops level, our own typeface, and room left, above, right and below in each cell."""
    left, above, right, below = room
    return TableStyle([
        ("FONT", *_ALL, REGULAR, CELL.fontSize),
        ("VALIGN", *_ALL, "TOP"),
        ("LEFTPADDING", *_ALL, left),
        ("RIGHTPADDING", *_ALL, right),
        ("TOPPADDING", *_ALL, above),
        ("BOTTOMPADDING", *_ALL, below),
        *more,
    ])  # fmt: skip
