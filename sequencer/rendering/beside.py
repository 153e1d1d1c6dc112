"""Two plans side by side: at one scale, and each drawn to the same height."""

from __future__ import annotations

from collections.abc import Sequence

from PIL import Image, ImageDraw

from sequencer.inches import show_inches
from sequencer.models import Plan, Print
from sequencer.rendering.lettering import font
from sequencer.rendering.picture import picture_size, render

_PAPER, _INK = (250, 249, 245), (40, 38, 36)
_HEIGHT, _GAP, _TEXT = 720, 48, 26


def beside(
    before: Plan, after: Plan, prints: Sequence[Print], view: str = "colour"
) -> Image.Image:
    """Before on the left, after on the right: true to each other's size above, same height below.

    Both are drawn as :func:`render` draws them; about 1,600 pixels wide, more for wide panels.

    Raises:
        UsageError: an unknown view.
        SheetError: a plan names a print that is not given.
    """
    plans = (before, after)
    tall = [float(picture_size(plan)[1]) for plan in plans]
    drawn = [render(plan, prints, ppi=_HEIGHT / side, view=view)
             for plan, side in zip(plans, tall, strict=True)]
    same = [_scaled(picture, round(_HEIGHT * side / max(tall)))
            for picture, side in zip(drawn, tall, strict=True)]
    level = [_scaled(picture, _HEIGHT) for picture in drawn]
    titles = [f"{show_inches(plan.bordered[0])} × {show_inches(plan.bordered[1])} in"
              for plan in plans]
    rows = [_row(same, titles, "at one scale"), _row(level, titles, "to the same height")]
    return _stacked(rows)


def _scaled(picture: Image.Image, height: int) -> Image.Image:
    width = max(1, round(picture.width * height / picture.height))
    return picture.resize((width, max(1, height)), Image.Resampling.LANCZOS)


def _row(pictures: list[Image.Image], titles: list[str], what: str) -> Image.Image:
    letters = font(_TEXT)
    widths = [max(picture.width, round(letters.getlength(title)))
              for picture, title in zip(pictures, titles, strict=True)]
    tallest = max(picture.height for picture in pictures)
    row = Image.new("RGB", (sum(widths) + 3 * _GAP, tallest + 4 * _TEXT), _PAPER)
    pen = ImageDraw.Draw(row)
    pen.text((_GAP, 0), what, fill=_INK, font=letters)
    left = _GAP
    for picture, title, width in zip(pictures, titles, widths, strict=True):
        row.paste(picture, (left, 2 * _TEXT + tallest - picture.height))
        pen.text((left, 2 * _TEXT + tallest + 8), title, fill=_INK, font=letters)
        left += width + _GAP
    return row


def _stacked(rows: list[Image.Image]) -> Image.Image:
    width, height = max(row.width for row in rows), sum(row.height for row in rows)
    sheet = Image.new("RGB", (width, height + (len(rows) + 1) * _GAP), _PAPER)
    top = _GAP
    for row in rows:
        sheet.paste(row, (0, top))
        top += row.height + _GAP
    return sheet
