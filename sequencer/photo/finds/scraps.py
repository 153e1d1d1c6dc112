"""Scraps on a table: where the picture is not table, cut apart where scraps touch.

A pixel belongs to a scrap when it stands off the table by more than the table varies, and by at
least half as much as the cloth next to it does: the half-way point of a blurred edge is where the
edge was. Touching scraps are cut apart in :mod:`sequencer.photo.finds.touching`.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels
from sequencer.photo.finds.fragments import put_together
from sequencer.photo.finds.regrown import regrown
from sequencer.photo.finds.table import Floats, Mask, Table, calm_away
from sequencer.photo.finds.touching import cut_apart
from sequencer.photo.shapes.morphology import (
    dilated,
    disk,
    local_maximum,
    opened,
    square_closed,
)
from sequencer.photo.shapes.runs import filled, pieces_of
from sequencer.photo.shapes.shape import outline_of

_SEEN = 4.5
"""Standard deviations of the table beyond which a pixel stands off it."""
_EDGE, _RIM = 3, 5
"""Pixels: how far a cloth's own distance is looked for, and how near bare table an edge lies."""
_LEAST_AREA = 4e-4
"""Least share of the picture that a scrap covers."""
_MOST = 60
"""More pieces than anyone lays out are the figures of a print: not worth cutting apart."""
_CLEANED = 0.002
"""Half the width of what is closed and opened at first, as a share of the picture's longer side."""
_NOTCH, _NOTCHES, _NOTCHES_WHOLE = 0.06, (2, 12), (1, 6)
"""Half the width of a notch that is closed in a scrap, as a share of the root of its area; least
and most, in analysis pixels, in a scrap and in a piece that may be several."""
_PARTS, _FARTHEST = 4, 60
"""Parts of a standard deviation in which distances from the table are kept, and how many of those
at most, so that they fit 8 bits."""
_STRIPE = 32
"""Rows of the analysis picture worked on at a time; even, since every other one is kept."""


@dataclass(frozen=True, eq=False)
class Scrap:
    """One connected piece of cloth in the analysis picture.

    ``mask``: (h, w) bool of the box whose top left pixel is ``corner`` (x, y). ``outline``:
    (n, 2) x, y. ``cut_off``: whether the picture's edge cuts it.
    """

    mask: Mask
    corner: tuple[int, int]
    outline: Floats
    cut_off: bool

    @property
    def area(self) -> int:
        """Pixels of cloth."""
        return int(self.mask.sum())

    @property
    def box(self) -> tuple[slice, slice]:
        """Where the mask lies in the analysis picture, as slices."""
        x, y = self.corner
        return np.s_[y : y + self.mask.shape[0], x : x + self.mask.shape[1]]

    def full_mask(self, shape: tuple[int, int]) -> Mask:
        """The mask laid into a picture of ``shape`` (h, w)."""
        whole = np.zeros(shape, bool)
        whole[self.box] = self.mask
        return whole


def find_scraps(pixels: Pixels, table: Table, usable: Mask | None = None) -> list[Scrap]:
    """Everything that lies on the table in the picture ``pixels`` (h, w, 3), one scrap a piece.

    ``usable`` (h, w): False where the photo shows nothing (transparency).
    """
    away, distance = _distance(pixels, table)
    found = _off_table(distance)
    if usable is not None:
        found &= usable
    radius = max(1, round(_CLEANED * max(found.shape)))
    closed = _closed(put_together(found, pixels), radius)
    pieces = pieces_of(solid := opened(closed, disk(radius)))
    whole = regrown(solid, pieces, pixels, away)
    pieces = pieces if whole is solid else pieces_of(whole)
    large = np.flatnonzero(pieces.areas >= _LEAST_AREA * found.size).tolist()
    scraps: list[Scrap] = []
    for k in large:
        box = pieces.boxes[k]
        corner = box[1].start, box[0].start
        scraps += _pieces(pieces.mask(k), corner, pixels, len(large) <= _MOST)
    return scraps


def _distance(pixels: Pixels, table: Table) -> tuple[Floats, NDArray[np.uint8]]:
    """How far from the table pixels are, smoothed: planes (3, …) in standard deviations, of every
    other one down and across, and of each the length of all three (h, w) in quarters of one.

    A stripe of rows at a time stays in the processor's cache.
    """
    height, width = pixels.shape[:2]
    away = np.empty((3, (height + 1) // 2, (width + 1) // 2), np.float32)
    size = np.empty((height, width), np.uint8)
    for top in range(0, height, _STRIPE):
        bottom = min(top + _STRIPE, height)
        calm = calm_away(pixels, table, np.s_[top:bottom, 0:width])
        away[:, top // 2 : (bottom + 1) // 2] = calm[:, ::2, ::2]
        np.multiply(calm, calm, out=calm)
        steps = np.sqrt(calm[0] + calm[1] + calm[2]) * _PARTS
        size[top:bottom] = np.minimum(steps, _PARTS * _FARTHEST)
    return away, size


def _off_table(distance: NDArray[np.uint8]) -> Mask:
    """Where something lies on the table: (h, w) bool, edges half-way between table and cloth.

    Half-way only beside table: where a pale ink meets a strong one, both are cloth.
    """
    seen = distance > _PARTS * _SEEN
    beside = dilated(~seen, [_RIM] * (_RIM + 1))
    edge = beside & (distance <= local_maximum(distance, _EDGE) >> 1)
    return np.asarray(seen & ~edge)


def _pieces(mask: Mask, corner: tuple[int, int], pixels: Pixels, may_touch: bool) -> list[Scrap]:
    """The scraps of one connected piece, notches of the table's colour closed in each."""
    box = np.s_[corner[1] : corner[1] + mask.shape[0], corner[0] : corner[0] + mask.shape[1]]
    whole = _closed(mask, int(np.clip(_NOTCH / 2 * np.sqrt(mask.sum()), *_NOTCHES_WHOLE)))
    scraps = []
    least = _LEAST_AREA * pixels.shape[0] * pixels.shape[1]
    for part in cut_apart(whole, pixels[box], least) if may_touch else [whole]:
        radius = int(np.clip(_NOTCH * np.sqrt(part.sum()), *_NOTCHES))
        taken = whole & ~part
        scraps.append(_cropped(_closed(part, radius) & ~taken, corner, pixels.shape))
    return scraps


def _cropped(mask: Mask, corner: tuple[int, int], shape: tuple[int, ...]) -> Scrap:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return as_scrap(mask[box], (corner[0] + int(columns[0]), corner[1] + int(rows[0])), shape)


def as_scrap(mask: Mask, corner: tuple[int, int], shape: tuple[int, ...]) -> Scrap:
    """The scrap of one box mask in a picture of ``shape``."""
    x, y = corner
    height, width = mask.shape
    cut_off = bool(
        (x == 0 and mask[:, 0].any())
        or (y == 0 and mask[0].any())
        or (x + width == shape[1] and mask[:, -1].any())
        or (y + height == shape[0] and mask[-1].any())
    )
    return Scrap(mask, corner, outline_of(mask) + np.array([x, y]), cut_off)


def _closed(mask: Mask, radius: int) -> Mask:
    """Closed by a square, and holes filled: what is convex stays as it is, notches go."""
    return filled(square_closed(mask, radius))
