"""Scraps on a table: where the picture is not table, cut apart where scraps touch.

A pixel belongs to a scrap when it stands off the table by more than the table varies, and by at
least half as much as the cloth next to it does: the half-way point of a blurred edge is where the
edge was. Touching scraps are cut apart in :mod:`sequencer.photo.touching`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from sequencer.photo.table import Floats, Mask, Table

_SEEN = 4.5
_LEAST_AREA = 4e-4


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


def off_table(lab: Floats, table: Table) -> Mask:
    """Where something lies on the table: (h, w) bool, edges half-way between table and cloth."""
    away = table.residual(lab) @ table.whitener.T
    calm = np.stack([ndimage.gaussian_filter(away[..., c], 0.8) for c in range(3)], axis=-1)
    distance = np.sqrt(np.square(calm).sum(axis=-1))
    local = ndimage.maximum_filter(np.minimum(distance, 60.0), size=7)
    return np.asarray((distance > _SEEN) & (distance > 0.5 * local))


def find_scraps(found: Mask, least: float = _LEAST_AREA) -> list[Scrap]:
    """Connected pieces of ``found`` (h, w), holes filled, specks and hairs dropped."""
    radius = max(1, round(0.002 * max(found.shape)))
    closed = _closed(found, radius)
    opened = ndimage.binary_opening(ndimage.binary_fill_holes(closed), _disk(radius))
    labels, _ = ndimage.label(opened)
    scraps = []
    for k, box in enumerate(ndimage.find_objects(labels), 1):
        mask = labels[box] == k
        if mask.sum() >= least * found.size:
            scraps.append(as_scrap(mask, (box[1].start, box[0].start), found.shape))
    return scraps


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


def outline_of(mask: Mask) -> Floats:
    """The longest contour of a mask as (n, 2) x, y in pixel-corner coordinates, simplified."""
    from skimage.measure import approximate_polygon, find_contours

    soft = ndimage.gaussian_filter(np.pad(mask, 2).astype(np.float32), 0.7)
    contour = max(find_contours(soft, 0.5), key=len)
    simple = approximate_polygon(contour, 0.6)[:-1]
    return np.asarray(simple[:, ::-1] - 1.5)


def _disk(radius: int) -> Mask:
    y, x = np.ogrid[-radius : radius + 1, -radius : radius + 1]
    return np.asarray(x * x + y * y <= radius * radius + 0.5)


def _closed(found: Mask, radius: int) -> Mask:
    padded = np.pad(found, radius, mode="edge")
    closed = ndimage.binary_closing(padded, _disk(radius))
    return np.asarray(closed[radius:-radius, radius:-radius] | found)
