"""Connected pieces of a mask, by its runs: what touches is found among some thousand stretches of
rows, not among a million pixels (compare Rosenfeld and Pfaltz, J. ACM 13, 1966).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Mask = NDArray[np.bool_]
Ints = NDArray[np.integer]
Floats = NDArray[np.floating]
Box = tuple[slice, slice]

_OVER_MOMENT = 12  # a side's square over the second moment about its middle


@dataclass(frozen=True, eq=False)
class Pieces:
    """The 4-connected pieces of a mask of ``shape`` (h, w), numbered from 0 by their first pixel.

    ``row``, ``start``, ``stop``: each run of pixels. ``piece``: which piece it belongs to.
    """

    shape: tuple[int, int]
    row: Ints
    start: Ints
    stop: Ints
    piece: Ints
    count: int

    @cached_property
    def areas(self) -> Floats:
        """Pixels of each piece, (count,)."""
        return self._sums(self.stop - self.start)

    @cached_property
    def boxes(self) -> list[Box]:
        """Rows and columns of each piece."""
        if not self.count:
            return []
        order, first = self._order
        low, high = np.minimum.reduceat, np.maximum.reduceat
        row, start, stop = self.row[order], self.start[order], self.stop[order]
        edges = np.stack([low(row, first), high(row, first) + 1, low(start, first),
                          high(stop, first)], axis=1).tolist()  # fmt: skip
        return [np.s_[top:bottom, left:right] for top, bottom, left, right in edges]

    @cached_property
    def widths(self) -> Floats:
        """Short side of each piece's equal-moment rectangle, in pixels, (count,)."""
        n = (self.stop - self.start).astype(float)
        x, y = (self.start + self.stop - 1) / 2, self.row.astype(float)
        area = np.maximum(self.areas, 1)
        mean_x, mean_y = self._sums(n * x) / area, self._sums(n * y) / area
        x, y = x - mean_x[self.piece], y - mean_y[self.piece]
        xx = self._sums(n * (x * x + (n * n - 1) / _OVER_MOMENT)) / area + 1 / _OVER_MOMENT
        yy, xy = self._sums(n * y * y) / area + 1 / _OVER_MOMENT, self._sums(n * x * y) / area
        least = (xx + yy) / 2 - np.hypot((xx - yy) / 2, xy)
        return np.asarray(np.sqrt(_OVER_MOMENT * np.maximum(least, 1e-9)))

    def mask(self, k: int) -> Mask:
        """Piece ``k`` in its box."""
        return self.mask_in(k, self.boxes[k])

    def mask_in(self, k: int, box: Box) -> Mask:
        """Piece ``k`` in a box that holds it."""
        order, first = self._order
        mine = order[first[k] : first[k + 1] if k + 1 < self.count else None]
        rows, columns = box
        shape = rows.stop - rows.start, columns.stop - columns.start
        row, start = self.row[mine] - rows.start, self.start[mine] - columns.start
        return _drawn(shape, row, start, self.stop[mine] - columns.start, np.ones(1, bool))

    def labels(self) -> NDArray[np.int32]:
        """(h, w): 0 off the mask, 1 for piece 0 and so on."""
        number = (self.piece + 1).astype(np.int32)
        return _drawn(self.shape, self.row, self.start, self.stop, number)

    @cached_property
    def _order(self) -> tuple[Ints, Ints]:
        """Runs sorted by piece, and where each piece's begin."""
        order = np.argsort(self.piece, kind="stable")
        counts = np.bincount(self.piece, minlength=self.count)
        return order, np.cumsum(counts) - counts

    def _sums(self, values: NDArray[Any]) -> Floats:
        sums: Floats = np.bincount(self.piece, values.astype(float), self.count).astype(float)
        return sums


def halved(box: Box) -> Box:
    """A box with an even corner in a picture of every other pixel, down and across."""
    rows, columns = (slice(part.start // 2, (part.stop + 1) // 2) for part in box)
    return rows, columns


def pieces_of(mask: Mask) -> Pieces:
    """The 4-connected pieces of a mask (h, w)."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    height, width = mask.shape
    wide = width + 1
    flat = np.zeros(height * wide + 1, np.bool_)
    flat[1:].reshape(height, wide)[:, :width] = mask
    change = np.flatnonzero(flat[1:] != flat[:-1])
    start, stop = change[::2], change[1::2]
    first = np.searchsorted(stop, start + wide, "right")
    count = np.searchsorted(start, stop + wide, "left") - first
    until = np.cumsum(count)
    below = np.arange(count.sum()) - np.repeat(until - count - first, count)
    rows = np.append(0, until)
    graph = csr_array((np.ones(len(below)), below, rows), (len(start),) * 2)
    found, piece = connected_components(graph, directed=False) if len(start) else (0, start)
    row = start // wide
    return Pieces((height, width), row, start - row * wide, stop - row * wide, piece, int(found))


def filled(mask: Mask) -> Mask:
    """The mask with its holes filled: all but the background that the border reaches."""
    starts = np.count_nonzero(mask[:, 1:] > mask[:, :-1]) + np.count_nonzero(mask[:, 0])
    if starts == np.count_nonzero(mask.any(axis=1)):
        return mask  # one run a row: there is no room for a hole
    around = np.ones((mask.shape[0] + 2, mask.shape[1] + 2), bool)
    np.logical_not(mask, out=around[1:-1, 1:-1])
    bare = pieces_of(around)
    if bare.count == 1:
        return mask
    hole = bare.piece != bare.piece[0]
    run = bare.row[hole], bare.start[hole], bare.stop[hole]
    return np.asarray(mask | _drawn(bare.shape, *run, np.ones(1, bool))[1:-1, 1:-1])


def largest_piece(mask: Mask) -> Mask:
    """The piece of a mask with the most pixels; of several, the first."""
    labels, count = ndimage.label(mask)
    if count < 2:
        return mask
    return np.asarray(labels == 1 + np.argmax(np.bincount(labels.ravel())[1:]))


def _drawn(
    shape: tuple[int, int], row: Ints, start: Ints, stop: Ints, value: NDArray[Any]
) -> NDArray[Any]:
    """Runs, in reading order, of ``value`` (n,) in an array of ``shape``, 0 elsewhere."""
    edges = np.stack([row * shape[1] + start, row * shape[1] + stop], axis=1).ravel()
    values = np.zeros(len(edges) + 1, value.dtype)
    values[1::2] = value
    return np.repeat(values, np.diff(edges, prepend=0, append=shape[0] * shape[1])).reshape(shape)
