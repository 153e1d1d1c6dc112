"""The centre of the piece: one band a print, cut from its cloth; bands sewn into a picture.

A band holds all patches of one print as they lie in the strip set: for each repeat a strip
across all columns, seams lit. Which stretch of cloth a patch is depends on its print, column and
repeat alone, never on its neighbours or on how far its column is pushed up, so a new order or new
offsets sew the same bands again.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels, Plan
from sequencer.rendering import relief
from sequencer.rendering.cutting import strips_of
from sequencer.rendering.placing import Geometry
from sequencer.rendering.textures import CODES, FULL, Cloth, codes_of

_NESTED = 0.45
"""How much more a seam shows on the side its allowances are pressed to (by eye, no source)."""
_OPAQUE = np.uint32(0xFF000000 if sys.byteorder == "little" else 0x000000FF)


@dataclass(frozen=True)
class Columns:
    """The columns as all bands share them, place by place across the centre.

    ``cuts``: cut width of every slice in inches, repeats of one column side by side; ``widths``:
    pixels that it shows. At each pixel: ``column`` it lies in, how far ``along`` in it, and
    ``seams``, how the seams between columns catch the light there.
    """

    cuts: list[float]
    widths: NDArray[np.int64]
    column: NDArray[np.int64]
    along: NDArray[np.int64]
    seams: relief.Factor
    lean: float
    shaded: dict[tuple[float, int], relief.Factor] = field(default_factory=dict)

    def shades(self, strip: float, tall: int) -> relief.Factor:
        """How seams all round strips of this height catch the light: (tall, centre's width × 4).

        On roots of light in :data:`CODES`; seams pressed to one side stand out on that side only,
        by turns from column to column.
        """
        if (strip, tall) not in self.shaded:
            down = np.stack([relief.across(strip, tall, 1 + side, 1 - side)
                             for side in (-self.lean, self.lean)], 1)  # fmt: skip
            roots = np.sqrt(down[:, self.column % 2] * self.seams) * (CODES / FULL)
            self.shaded[strip, tall] = np.repeat(roots.astype(np.float32), 4, axis=1)
        return self.shaded[strip, tall]


def columns_of(plan: Plan, places: Geometry) -> Columns:
    """The plan's columns at this scale."""
    widths = np.diff(places.lefts)
    column = np.repeat(np.arange(len(widths)), widths)
    seams = [
        relief.across(float(one.finished_width), wide)
        for one, wide in zip(plan.columns, widths.tolist(), strict=True) if wide
    ]  # fmt: skip
    return Columns(
        [float(one.cut_width) for one in plan.columns for _ in range(plan.repeats)],
        np.repeat(widths, plan.repeats), column,
        np.arange(places.centre[2]) - np.array(places.lefts)[column], np.concatenate(seams),
        0.0 if plan.press == "open" else _NESTED,
    )  # fmt: skip


def band(plan: Plan, places: Geometry, columns: Columns, name: str, cloth: Cloth) -> Pixels:
    """All patches of one print, sRGB: (repeats × strip, centre's width, 4), repeat 0 first.

    ``cloth``: the print at the picture's scale.
    """
    strips = strips_of(plan, places, name, cloth)
    tops, lefts = (one.reshape(-1, plan.repeats)
                   for one in strips.corners(columns.cuts, columns.widths))  # fmt: skip
    rows, span = strips.cloth.shape[:2]
    down = bounced(tops[:, :, None] + np.arange(strips.tall), rows) * span
    across = bounced(lefts[columns.column].T + columns.along, span)
    index = down[columns.column].transpose(1, 2, 0) + across[:, None, :]
    pixels = strips.cloth.view(np.uint64).reshape(-1)  # a pixel is one number of eight bytes
    roots = pixels.take(index).view(np.uint16)
    shown = codes_of(roots * columns.shades(strips.strip, strips.tall))
    shown.view(np.uint32)[...] |= _OPAQUE
    return shown.reshape(plan.repeats * strips.tall, -1, 4)


def bounced(places: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    """Places on a cloth that goes on past its edges as its own mirror image."""
    within = places % (2 * size)
    return np.asarray(np.minimum(within, 2 * size - 1 - within))


def sew(bands: Mapping[str, Pixels], places: Geometry, order: Sequence[str]) -> Pixels:
    """The centre (h, w, 4) from bands (…, 4): strips stacked in order, columns pushed up."""
    repeats = places.centre[3] // sum(places.strip.values())
    strips = [_whole(bands[key]).reshape(repeats, places.strip[key], -1) for key in order]
    cloth = np.concatenate(strips, axis=1).reshape(places.centre[3], -1)
    tops = np.cumsum([0, *(places.strip[key] for key in order)])
    sewn = np.empty_like(cloth)
    for left, right, offset in zip(places.lefts, places.lefts[1:], places.offsets, strict=False):
        up = tops[offset]
        sewn[: len(cloth) - up, left:right] = cloth[up:, left:right]
        sewn[len(cloth) - up :, left:right] = cloth[:up, left:right]
    return sewn.view(np.uint8).reshape(*sewn.shape, 4)


def _whole(pixels: Pixels) -> NDArray[np.uint32]:
    """Four bytes as one number: copied in one go."""
    return np.ascontiguousarray(pixels).view(np.uint32)[..., 0]
