"""The sequence as a picture: prints side by side in order, and how each meets the next.

Prints touch, at one scale, as they will when sewn. Below each meeting stand two discs in the
prints' mean colours, as far apart as the transition costs, then verdict and figures. A row that
goes on, or a loop that closes, ends with a narrow piece of the print that follows.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence as Many
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sequencer.colour import lab_to_srgb8
from sequencer.errors import SheetError
from sequencer.keys import labels
from sequencer.lettering import written
from sequencer.models import Neighbours, Print, Sequence
from sequencer.rendering.growing import long_strip
from sequencer.rendering.lettering import font
from sequencer.rendering.textures import cloth_at, encode

WIDTH = 1600
MARGIN = 48
CLOTH_HEIGHT = 250
VALUE_HEIGHT = 46
NEXT_WIDTH = 120
MOST_IN_ROW = 5
_ROW_HEIGHT = CLOTH_HEIGHT + VALUE_HEIGHT + 268
_PAPER, _INK, _SOFT, _LINE = "#fbf9f5", "#26241f", "#6a665d", "#d8d2c6"
_CELL_INCHES = 2.4
_WIDEST_COST = 60.0
_LONGEST = "colour 88  value −88"


@dataclass(frozen=True)
class _Row:
    """Prints shown whole, what follows at the end (None at an open end), meetings between."""

    cloths: tuple[Print, ...]
    follows: Print | None
    meetings: tuple[Neighbours | None, ...]
    closes: bool


def sequence_picture(prints: Many[Print], sequence: Sequence) -> Image.Image:
    """Draw the sequence, 1600 pixels wide, in rows of up to five prints (sRGB).

    Args:
        prints: at least the prints that the sequence names.
        sequence: order and neighbours; figures a neighbour lacks are left out.

    Raises:
        SheetError: the sequence is empty or names a print that is not given.
    """
    rows = _rows(prints, sequence)
    top = 168
    picture = Image.new("RGB", (WIDTH, top + len(rows) * _ROW_HEIGHT + 66), _PAPER)
    pen = ImageDraw.Draw(picture)
    _heading(pen, sequence)
    count = max(len(row.cloths) for row in rows)
    room = WIDTH - 2 * MARGIN - (NEXT_WIDTH if any(row.follows for row in rows) else 0)
    cell = room // count
    for k, row in enumerate(rows):
        _draw_row(picture, pen, row, cell, top + k * _ROW_HEIGHT)
    _legend(pen, picture.height - 60, any(not pair.certain for pair in sequence.neighbours))
    return picture


def _rows(prints: Many[Print], sequence: Sequence) -> list[_Row]:
    known = {cloth.id: cloth for cloth in prints}
    missing = [key for key in sequence.order if key not in known]
    if missing or not sequence.order:
        what = f"names {', '.join(missing)}, not among the prints given" if missing else "is empty"
        raise SheetError(f"The sequence {what}. Order the prints again.")
    called = labels(prints, sequence.order)
    cloths = [replace(known[key], name=called[key]) for key in sequence.order]
    pairs = {(pair.a, pair.b): pair for pair in sequence.neighbours}
    pairs |= {(pair.b, pair.a): _turned(pair) for pair in sequence.neighbours if (
        pair.b, pair.a) not in pairs}
    loop = sequence.loop and len(cloths) > 1
    count = -(-len(cloths) // -(-len(cloths) // MOST_IN_ROW))
    rows = []
    for start in range(0, len(cloths), count):
        part = cloths[start : start + count]
        last = start + count >= len(cloths)
        follows = (cloths[0] if loop else None) if last else cloths[start + count]
        chain = [*part, follows] if follows else part
        meetings = tuple(pairs.get((a.id, b.id)) for a, b in pairwise(chain))
        rows.append(_Row(tuple(part), follows, meetings, last and loop))
    return rows


def _turned(pair: Neighbours) -> Neighbours:
    step = None if pair.value_step is None else -pair.value_step
    return Neighbours(pair.b, pair.a, pair.cost, pair.delta_e, step, pair.shared, pair.verdict,
                      pair.certain)  # fmt: skip


def _heading(pen: ImageDraw.ImageDraw, sequence: Sequence) -> None:
    count = len(sequence.order)
    kind = "in a loop" if sequence.loop else "in a row"
    noun = "print" if count == 1 else "prints"
    pen.text((MARGIN, 40), f"{count} {noun} {kind}", fill=_INK, font=font(52, bold=True))
    said = f"largest step {sequence.worst:.1f}   ·   {sequence.how_sure()}"
    pen.text((MARGIN, 108), said, fill=_SOFT, font=_fitting(said, 30, WIDTH - 2 * MARGIN))


def _legend(pen: ImageDraw.ImageDraw, y: int, doubt: bool) -> None:
    said = "colour: ∆E00 of the means   ·   value: change of L*   ·   cost: what the order adds up"
    if doubt:
        said += "   ·   ?: within the photos’ uncertainty"
    pen.text((MARGIN, y), said, fill=_SOFT, font=_fitting(said, 25, WIDTH - 2 * MARGIN))


def _draw_row(
    picture: Image.Image, pen: ImageDraw.ImageDraw, row: _Row, cell: int, top: int
) -> None:
    left = MARGIN
    for cloth in row.cloths:
        _draw_print(picture, pen, cloth, (left, top, cell))
        left += cell
    if row.follows:
        _draw_next(picture, pen, row, (left, top))
    for k, pair in enumerate(row.meetings):
        if pair is not None:
            a = row.cloths[k]
            b = row.cloths[k + 1] if k + 1 < len(row.cloths) else row.follows
            assert b is not None
            _draw_meeting(picture, pair, (a, b), (MARGIN + (k + 1) * cell, top, cell))


def _draw_print(
    picture: Image.Image, pen: ImageDraw.ImageDraw, cloth: Print, at: tuple[int, int, int]
) -> None:
    left, top, width = at
    picture.paste(_window(cloth, width), (left, top))
    _draw_value(pen, cloth, (left, top + CLOTH_HEIGHT, width))
    pen.text(
        (left + width / 2, top + CLOTH_HEIGHT + VALUE_HEIGHT / 2),
        f"L* {cloth.value:.0f}",
        fill="white" if cloth.value < 55 else _INK, font=font(25), anchor="mm",
    )  # fmt: skip
    name, letters = _named(cloth, width - 16)
    place = (left + width / 2, top + CLOTH_HEIGHT + VALUE_HEIGHT + 28)
    pen.text(place, name, fill=_INK, font=letters, anchor="mm")


def _draw_next(
    picture: Image.Image, pen: ImageDraw.ImageDraw, row: _Row, at: tuple[int, int]
) -> None:
    """A narrow piece of what follows, its far edge torn."""
    left, top = at
    assert row.follows is not None
    piece = _window(row.follows, NEXT_WIDTH)
    picture.paste(piece, (left, top))
    _draw_value(pen, row.follows, (left, top + CLOTH_HEIGHT, NEXT_WIDTH))
    right, bottom = left + NEXT_WIDTH, top + CLOTH_HEIGHT + VALUE_HEIGHT
    teeth = [(right + 1, top - 1)]
    for k, y in enumerate(range(top - 1, bottom + 16, 15)):
        teeth.append((right - (16 if k % 2 else 2), y))
    pen.polygon([*teeth, (right + 1, bottom + 15)], fill=_PAPER)
    said = "to the first" if row.closes else "next row"
    pen.text((right, bottom + 28), said, fill=_SOFT, font=font(20), anchor="rm")


def _draw_value(pen: ImageDraw.ImageDraw, cloth: Print, at: tuple[int, int, int]) -> None:
    left, top, width = at
    grey = tuple(int(v) for v in lab_to_srgb8((cloth.value, 0.0, 0.0)))
    pen.rectangle((left, top, left + width - 1, top + VALUE_HEIGHT - 1), fill=grey)


def _window(cloth: Print, width: int) -> Image.Image:
    """The print at the picture's one scale: ``width`` × CLOTH_HEIGHT pixels of its middle.

    Cloth that is smaller goes on as in a border.
    """
    light = cloth_at(cloth, CLOTH_HEIGHT / _CELL_INCHES)
    if light.shape[0] < CLOTH_HEIGHT or light.shape[1] < width:
        rng = np.random.default_rng(zlib.crc32(cloth.id.encode()))
        light = long_strip(light, max(width, light.shape[1]), CLOTH_HEIGHT, rng)
    top, left = (light.shape[0] - CLOTH_HEIGHT) // 2, (light.shape[1] - width) // 2
    return Image.fromarray(encode(light[top : top + CLOTH_HEIGHT, left : left + width]))


def _draw_meeting(
    picture: Image.Image, pair: Neighbours, cloths: tuple[Print, Print], at: tuple[int, int, int]
) -> None:
    pen = ImageDraw.Draw(picture)
    middle, top, cell = at
    y = top + CLOTH_HEIGHT + VALUE_HEIGHT
    pen.line((middle, y + 3, middle, y + 64), fill=_LINE, width=3)
    _draw_discs(picture, pair, cloths, (middle, y + 84))
    if pair.verdict:
        _draw_verdict(pen, pair, (middle, y + 126))
    figures = [("colour", pair.delta_e, "{:.0f}"), ("value", pair.value_step, "{:+.0f}")]
    said = "  ".join(f"{word} {form.format(number)}" for word, number, form in figures
                     if number is not None).replace("-", "−")  # fmt: skip
    letters = _fitting(_LONGEST, 27, cell - 22)
    pen.text((middle, y + 164), said, fill=_INK, font=letters, anchor="mm")
    pen.text((middle, y + 198), f"cost {pair.cost:.1f}", fill=_SOFT, font=font(25), anchor="mm")


def _draw_discs(
    picture: Image.Image, pair: Neighbours, cloths: tuple[Print, Print], at: tuple[int, int]
) -> None:
    """Two discs, one over the other where nothing parts the prints, far apart where they jump."""
    fine, radius = 4, 17
    apart = 6 + 74 * min(1.0, pair.cost / _WIDEST_COST)
    half = (int(apart / 2) + radius + 3, radius + 3)
    corner = (at[0] - half[0], at[1] - half[1])
    size = (2 * half[0], 2 * half[1])
    drawn = picture.crop((*corner, corner[0] + size[0], corner[1] + size[1]))
    drawn = drawn.resize((size[0] * fine, size[1] * fine))
    pen = ImageDraw.Draw(drawn)
    for cloth, side in zip(cloths, (-1, 1), strict=True):
        x, y, r = (half[0] + side * apart / 2) * fine, half[1] * fine, radius * fine
        colour = tuple(int(v) for v in lab_to_srgb8(cloth.mean_lab))
        pen.ellipse((x - r, y - r, x + r, y + r), fill=colour, outline=_INK, width=2 * fine)
    picture.paste(drawn.resize(size, Image.Resampling.BOX), corner)


def _draw_verdict(pen: ImageDraw.ImageDraw, pair: Neighbours, at: tuple[int, int]) -> None:
    """The verdict; the two that want attention are set in a box, jumps in a full one."""
    said = f"{pair.verdict}{'' if pair.certain else '?'}"
    letters = font(31, bold=True)
    left, _, right, _ = pen.textbbox(at, said, font=letters, anchor="mm")
    box = (left - 14, at[1] - 23, right + 14, at[1] + 23)
    if pair.verdict == "jumps":
        pen.rounded_rectangle(box, 10, fill=_INK)
    elif pair.verdict == "blurs":
        pen.rounded_rectangle(box, 10, outline=_INK, width=3)
    pen.text(at, said, fill=_PAPER if pair.verdict == "jumps" else _INK, font=letters, anchor="mm")


def _fitting(text: str, size: int, width: int) -> ImageFont.FreeTypeFont:
    """The font at ``size``, or as much smaller as the text needs (12 at least)."""
    while size > 12 and font(size).getlength(text) > width:
        size -= 1
    return font(size)


def _named(cloth: Print, width: int) -> tuple[str, ImageFont.FreeTypeFont]:
    """The print's name in the larger of two sizes that holds it, else shortened in its middle."""
    name = written(cloth.name or cloth.id)
    for size in (31, 24):
        letters = font(size, bold=True, text=name)
        if letters.getlength(name) <= width:
            return name, letters
    head, tail = name[: len(name) // 2], name[len(name) // 2 :]
    while letters.getlength(f"{head}…{tail}") > width and len(head) + len(tail) > 2:
        head, tail = (head[:-1], tail) if len(head) >= len(tail) else (head, tail[1:])
    return f"{head.rstrip()}…{tail.lstrip()}", letters
