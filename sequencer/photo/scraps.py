"""Scraps on a table: where the picture is not table, cut apart where scraps touch.

A pixel belongs to a scrap when it stands off the table by more than the table varies, and by at
least half as much as the cloth next to it does: the half-way point of a blurred edge is where the
edge was. Touching scraps are cut apart in :mod:`sequencer.photo.touching`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.photo.fragments import put_together
from sequencer.photo.morphology import disk, local_maximum, opened, square_closed
from sequencer.photo.shape import filled, outline_of
from sequencer.photo.table import Floats, Mask, Table
from sequencer.photo.touching import cut_apart

_SEEN = 4.5
_LEAST_AREA = 4e-4
_MOST = 60
"""More pieces than anyone lays out are the figures of a print: not worth cutting apart."""
_NOTCH = 0.06
_STRIPE = 32
_GAUSSIAN = np.exp(-0.5 * np.square(np.array([-2, -1, 0]) / 0.8))
_GAUSSIAN = (_GAUSSIAN / (2 * _GAUSSIAN.sum() - 1)).astype(np.float32)


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


def find_scraps(lab: Floats, table: Table, usable: Mask | None = None) -> list[Scrap]:
    """Everything that lies on the table in the picture ``lab`` (h, w, 3), one scrap a piece.

    ``usable`` (h, w): False where the photo shows nothing (transparency).
    """
    away, distance = _standing_off(lab, table)
    found = _off_table(distance)
    if usable is not None:
        found &= usable
    radius = max(1, round(0.002 * max(found.shape)))
    closed = _closed(put_together(found, lab, away), radius)
    labels, count = ndimage.label(opened(closed, disk(radius)))
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    large = np.flatnonzero(areas[1:] >= _LEAST_AREA * found.size) + 1
    boxes = ndimage.find_objects(labels)
    scraps: list[Scrap] = []
    for k in large.tolist():
        box = boxes[k - 1]
        scraps += _pieces(labels[box] == k, (box[1].start, box[0].start), lab, len(large) <= _MOST)
    return scraps


def _standing_off(lab: Floats, table: Table) -> tuple[Floats, NDArray[np.uint8]]:
    """Difference from the table in standard deviations, smoothed, and its size in quarters.

    A stripe of rows at a time stays in the processor's cache.
    """
    height, width = lab.shape[:2]
    away = np.empty((height, width, 3), np.float32)
    size = np.empty((height, width), np.uint8)
    whitener = np.asarray(table.whitener, np.float32).T
    for top in range(0, height, _STRIPE):
        bottom = min(top + _STRIPE, height)
        first, last = max(top - 2, 0), min(bottom + 2, height)
        white = table.residual_rows(lab, first, last) @ whitener
        reach = ((first - top + 2, bottom + 2 - last), (2, 2), (0, 0))
        calm = _calmed(np.pad(white, reach, mode="symmetric"))
        away[top:bottom] = calm
        steps = np.sqrt(np.einsum("hwc,hwc->hw", calm, calm)) * 4
        size[top:bottom] = np.minimum(steps, 240)
    return away, size


def _calmed(values: Floats) -> Floats:
    """Smoothed by a Gaussian of 0.8 pixels, five wide; two fewer rows and columns on each side."""
    far, near, here = _GAUSSIAN
    rows = values[:-4] + values[4:]
    rows *= far
    rows += near * (values[1:-3] + values[3:-1])
    rows += here * values[2:-2]
    both = rows[:, :-4] + rows[:, 4:]
    both *= far
    both += near * (rows[:, 1:-3] + rows[:, 3:-1])
    both += here * rows[:, 2:-2]
    return both


def _off_table(distance: NDArray[np.uint8]) -> Mask:
    """Where something lies on the table: (h, w) bool, edges half-way between table and cloth."""
    return np.asarray((distance > 4 * _SEEN) & (distance > local_maximum(distance, 3) >> 1))


def _pieces(mask: Mask, corner: tuple[int, int], lab: Floats, may_touch: bool) -> list[Scrap]:
    """The scraps of one connected piece, notches of the table's colour closed in each."""
    box = np.s_[corner[1] : corner[1] + mask.shape[0], corner[0] : corner[0] + mask.shape[1]]
    whole = _closed(mask, int(np.clip(_NOTCH / 2 * np.sqrt(mask.sum()), 1, 6)))
    scraps = []
    least = _LEAST_AREA * lab.shape[0] * lab.shape[1]
    for part in cut_apart(whole, lab[box], least) if may_touch else [whole]:
        radius = int(np.clip(_NOTCH * np.sqrt(part.sum()), 2, 12))
        taken = whole & ~part
        scraps.append(_cropped(_closed(part, radius) & ~taken, corner, lab.shape))
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
