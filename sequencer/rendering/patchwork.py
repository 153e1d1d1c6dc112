"""The centre of the piece: one band a print, cut from its cloth; bands sewn into a picture.

A band holds all patches of one print as they lie in the strip set: for each repeat a strip
across all columns, seams lit. Which stretch of cloth a patch is depends on its print, column and
repeat alone, never on its neighbours or on how far its column is pushed up, so a new order or new
offsets sew the same bands again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels, Plan
from sequencer.rendering import relief
from sequencer.rendering.cutting import cutter
from sequencer.rendering.placing import Geometry
from sequencer.rendering.textures import Light, chance

_NESTED = 0.45
"""How much more a seam shows on the side its allowances are pressed to (by eye, no source)."""


def band(plan: Plan, places: Geometry, name: str, cloth: Light) -> Light:
    """All patches of one print: (repeats × strip, centre's width, 3), the strip of repeat 0 first.

    ``cloth``: the print at the picture's scale.
    """
    widths = np.diff(places.lefts)
    tall, repeats = places.strip[name], plan.repeats
    cut = cutter(plan, places, name, cloth, chance(name))
    corners = np.array([
        [cut.next_corner(float(column.cut_width), int(wide)) for _ in range(repeats)]
        for column, wide in zip(plan.columns, widths, strict=True)
    ]).reshape(len(widths), repeats, 2)  # fmt: skip
    column = np.repeat(np.arange(len(widths)), widths)
    down = bounced(corners[:, :, 0, None] + np.arange(tall), cut.cloth.shape[0])
    along = np.arange(places.centre[2]) - np.array(places.lefts)[column]
    across = bounced(corners[column, :, 1].T + along, cut.cloth.shape[1])
    index = down[column].transpose(1, 2, 0) * cut.cloth.shape[1] + across[:, None, :]
    patches: Light = np.take(cut.cloth.reshape(-1, 3), index, axis=0)
    patches *= _seams(plan, name, places)[..., None]
    np.minimum(patches, np.float32(1), out=patches)
    return patches.reshape(repeats * tall, -1, 3)


def bounced(places: NDArray[np.int64], size: int) -> NDArray[np.int32]:
    """Places on a cloth that goes on past its edges as its own mirror image."""
    within = places.astype(np.int32) % np.int32(2 * size)
    return np.asarray(np.minimum(within, np.int32(2 * size - 1) - within), dtype=np.int32)


def _seams(plan: Plan, name: str, places: Geometry) -> relief.Factor:
    """How the seams round one strip of this print catch the light: (strip, centre's width).

    Seams pressed to one side stand out on that side only, by turns from column to column.
    """
    height, tall = float(plan.finished_strip[name]), places.strip[name]
    lean = 0.0 if plan.press == "open" else _NESTED
    widths = np.diff(places.lefts).tolist()
    down = np.stack([relief.across(height, tall, 1 + side, 1 - side) for side in (-lean, lean)], 1)
    turn = np.repeat(np.arange(len(widths)) % 2, widths)
    along = [
        relief.across(float(column.finished_width), wide)
        for column, wide in zip(plan.columns, widths, strict=True) if wide
    ]  # fmt: skip
    return np.asarray(down[:, turn] * np.concatenate(along))


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
