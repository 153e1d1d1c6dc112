"""The outline of a mask: marching squares, each crossing linked to the next.

After Lorensen and Cline (1987) in the plane: a cell of four pixel centres is crossed between
neighbours of which one is inside; in the ambiguous cells what is inside stays apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

_HERE, _NEAR, _FAR = (np.uint8(n) for n in (74, 26, 1))
"""A Gaussian of 0.7 pixels in 128ths, five wide: whole numbers of one byte are quick."""
_HALF = 128 * 128 // 2  # of a smoothed mask's whole
_MARGIN = 4  # pixels put round the mask
_TAKEN = 2  # of which the Gaussian takes
_ALL = 0b1111  # code of a cell whose four corners are inside


def _links() -> NDArray[np.int8]:
    """For a cell's code (bit k: corner k inside, clockwise from top left) and each of its edges k
    (corner k to k + 1) where the inside ends: the edge where that stretch of inside began; else -1.
    """
    links = np.full((_ALL + 1, 4), -1, np.int8)
    for code in range(1, _ALL):
        within = [bool(code >> k & 1) for k in range(4)]
        for k in range(4):
            if within[k] and not within[(k + 1) % 4]:
                begins = k
                while within[begins]:
                    begins = (begins - 1) % 4
                links[code, k] = begins
    return links


_LINKS = _links()


def longest_contour(mask: Mask) -> Floats:
    """The longest closed contour of a mask, smoothed by 0.7 pixels: (n, 2) x, y, first point once.

    Coordinates count from the outer corner of the top left pixel.

    Raises:
        ValueError: the mask is empty.
    """
    soft = _softened(np.pad(mask, _MARGIN))
    starts, ends = _crossings(soft > _HALF)
    if not len(starts):
        raise ValueError("an empty mask has no outline")
    order = np.argsort(starts)
    edges = starts[order]
    loop = _longest_loop(np.searchsorted(edges, ends[order]).tolist())
    return _places(soft, edges[loop]) - (_MARGIN - _TAKEN - 0.5)


def _softened(mask: Mask) -> NDArray[np.uint16]:
    """Smoothed by a Gaussian of 0.7 pixels, 0 to 128²; two fewer rows and columns on each side."""
    bits = mask.view(np.uint8)
    rows = _HERE * bits[2:-2]
    rows += _NEAR * (bits[1:-3] + bits[3:-1])
    rows += _FAR * (bits[:-4] + bits[4:])
    wide = rows.astype(np.uint16)
    both = _HERE * wide[:, 2:-2]
    both += _NEAR * (wide[:, 1:-3] + wide[:, 3:-1])
    both += _FAR * (wide[:, :-4] + wide[:, 4:])
    return both


def _crossings(within: Mask) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The edges between pixel centres that the contour crosses, and the one it crosses next.

    The edge from pixel i to its right neighbour has number 2 i, to its lower neighbour 2 i + 1.
    """
    width = within.shape[1]
    bits = within.view(np.uint8)
    code = bits[:-1, :-1] | bits[:-1, 1:] << 1 | bits[1:, 1:] << 2 | bits[1:, :-1] << 3
    cell = np.flatnonzero((code != 0) & (code != _ALL))
    pixel = cell + cell // (width - 1)
    edges = np.stack([2 * pixel, 2 * pixel + 3, 2 * (pixel + width), 2 * pixel + 1])
    links = _LINKS[code.ravel()[cell]]
    cells, ended = np.nonzero(links >= 0)
    return edges[ended, cells], edges[links[cells, ended], cells]


def _longest_loop(following: list[int]) -> NDArray[np.int64]:
    """Every contour is closed, so following the links comes back to where it began."""
    seen = bytearray(len(following))
    best: list[int] = []
    for first in range(len(following)):
        if seen[first]:
            continue
        loop, here = [], first
        while not seen[here]:
            seen[here] = 1
            loop.append(here)
            here = following[here]
        if len(loop) > len(best):
            best = loop
    return np.array(best)


def _places(soft: NDArray[np.uint16], edges: NDArray[np.int64]) -> Floats:
    """Where on each edge the value passes one half: (n, 2) x, y in pixel centres."""
    pixel, down = edges // 2, edges % 2
    row, column = np.divmod(pixel, soft.shape[1])
    values, other = soft.ravel(), pixel + np.where(down, soft.shape[1], 1)
    first, second = values[pixel].astype(float), values[other].astype(float)
    share = (_HALF - first) / (second - first)
    return np.column_stack([column + share * (1 - down), row + share * down])
