"""Plane shapes: polygons, hulls, the smallest rectangle around one and the largest inside one.

Points are (n, 2) x, y. Rectangles are four corners in order.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.shapes.contour import longest_contour

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

_CLOSE = 8  # cells of the finer grid, two of the rough one, that a box is tuned by; by hand
_OUTLINE = 0.4  # pixels that a simplified outline may be off; by hand
_THINNED, _SEEN = 0.003, (0.005, 0.0075, 0.01)
"""Of a scrap's side: what corners few enough to see are looked for in, and shares of it that they
may move a side by, tried in turn; by hand."""
_MOST, _EVERY_OTHER = 12, 400  # corners that are few; contour points of which every other is enough
_GRID, _FINER = 44, 4  # cells along the longer side, for a box; parts of them, to tune it; by hand
_FIRST, _SECOND, _MIXED = 6, 12, 24  # a polygon's moments are sums over its sides over these


def area(polygon: Floats) -> float:
    """Area of a simple polygon, never negative (shoelace formula)."""
    return abs(_signed_area(polygon))


def _signed_area(polygon: Floats) -> float:
    x, y = np.asarray(polygon, float).T
    last = x[-1] * y[0] - y[-1] * x[0]
    return float(x[:-1] @ y[1:] - y[:-1] @ x[1:] + last) / 2


def hull(points: Floats) -> Floats:
    """Corners of the convex hull, in order; the points themselves when they lie on one line."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(np.asarray(points)[ConvexHull(points).vertices])
    except (QhullError, ValueError):
        return np.asarray(points)


def smallest_rectangle(points: Floats) -> Floats:
    """Corners of the rectangle of least area around the points (Freeman and Shapira 1975)."""
    around = hull(points)
    run = np.diff(np.vstack([around, around[:1]]), axis=0)
    angles = np.unique(np.arctan2(run[:, 1], run[:, 0]) % (np.pi / 2))
    cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x, y = cos * around[:, 0] + sin * around[:, 1], cos * around[:, 1] - sin * around[:, 0]
    size = np.ptp(x, axis=1) * np.ptp(y, axis=1)
    k = int(np.argmax(size <= size.min() + 1e-9))
    left, right, top, bottom = x[k].min(), x[k].max(), y[k].min(), y[k].max()
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return np.asarray(box @ rotation(-float(angles[k])))


def rotation(angle: float) -> Floats:
    """The matrix that turns by ``angle`` radians."""
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def sides(rectangle: Floats) -> tuple[float, float]:
    """(long, short) of four corners, opposite sides averaged."""
    lengths = np.linalg.norm(np.diff(np.vstack([rectangle, rectangle[:1]]), axis=0), axis=1)
    pair = (lengths[0] + lengths[2]) / 2, (lengths[1] + lengths[3]) / 2
    return float(max(pair)), float(min(pair))


def rectangle_like(polygon: Floats) -> tuple[float, float, float]:
    """(long, short, angle of the long side) of the rectangle with the polygon's area and moments.

    A rectangle gives itself back; of a ragged piece it is the mean extent, neither the outermost
    nor the innermost thread. Second moments by Green's theorem.
    """
    points = np.asarray(polygon, float)
    centre = points.mean(axis=0)
    p = points - centre
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    whole = cross.sum() / 2
    if abs(whole) < 1e-12:
        return 0.0, 0.0, 0.0
    mean = ((p + q) * cross[:, None]).sum(axis=0) / (_FIRST * whole)
    square = ((p * p + p * q + q * q) * cross[:, None]).sum(axis=0) / (_SECOND * whole) - mean**2
    mixed = p[:, 0] * q[:, 1] + 2 * p[:, 0] * p[:, 1] + 2 * q[:, 0] * q[:, 1] + q[:, 0] * p[:, 1]
    product = float((mixed * cross).sum() / (_MIXED * whole) - mean[0] * mean[1])
    spread = np.array([[square[0], product], [product, square[1]]])
    values, vectors = np.linalg.eigh(spread)
    ratio = float(np.sqrt(max(values[1], 1e-12) / max(values[0], 1e-12)))
    long = float(np.sqrt(abs(whole) * ratio))
    return long, long / ratio, float(np.arctan2(vectors[1, 1], vectors[0, 1]))


def inside(polygon: Floats, shape: tuple[int, ...]) -> Mask:
    """Pixels of a picture of ``shape`` (h, w) whose centre lies in the polygon, by even and odd."""
    height, width = shape[:2]
    a = np.asarray(polygon, float) - 0.5
    if len(a) < 3:
        return np.zeros((height, width), bool)
    b = np.roll(a, -1, axis=0)
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    first = np.clip(np.ceil(low), 0, height).astype(int)
    count = np.clip(np.ceil(high), 0, height).astype(int) - first
    side = np.repeat(np.arange(len(a)), count)  # each side once for every row it crosses
    row = np.arange(len(side)) - np.repeat(np.cumsum(count) - count - first, count)
    run = (b - a)[side]
    x = a[side, 0] + (row - a[side, 1]) * run[:, 0] / run[:, 1]
    column = np.clip(np.ceil(x), 0, width).astype(int)
    crossed = np.bincount(row * (width + 1) + column, minlength=height * (width + 1))
    flips = (crossed & 1).astype(np.uint8).reshape(height, width + 1)[:, :width]
    return np.bitwise_xor.accumulate(flips, axis=1).astype(bool)


def outline_of(mask: Mask) -> Floats:
    """The longest contour of a mask as (n, 2) x, y in pixel-corner coordinates, simplified."""
    contour = longest_contour(mask)
    thinned = contour[::2] if len(contour) > _EVERY_OTHER else contour
    # The first point stays whatever the tolerance, so it had better be a corner.
    away = np.square(thinned - thinned.mean(axis=0)).sum(axis=1)
    begun = np.roll(thinned, -int(np.argmax(away)), axis=0)
    return simplified(np.vstack([begun, begun[:1]]), _OUTLINE)[:-1]


def few_corners(outline: Floats, most: int = _MOST) -> Floats:
    """The outline with as many corners as an eye needs to see it and a hand to move it.

    ``most`` or fewer where that moves no side by more than a hundredth of the scrap's own side; a
    curved or ragged one keeps what half of that takes.
    """
    side = float(np.sqrt(area(outline)))
    ring = simplified(np.vstack([outline, outline[:1]]), _THINNED * side)
    if 4 <= len(ring) <= most + 1:
        return ring[:-1]
    tried = []
    for share in _SEEN:
        tried.append(simplified(ring, (share - _THINNED) * side)[:-1])
        if 3 <= len(tried[-1]) <= most:
            return tried[-1]
    return tried[0] if len(tried[0]) >= 3 else outline


def simplified(chain: Floats, tolerance: float) -> Floats:
    """The points of a chain (n, 2) that a line through them needs to stay within ``tolerance``
    (Douglas and Peucker 1973)."""
    from shapely import get_coordinates, linestrings, simplify

    line = simplify(linestrings(chain), tolerance, preserve_topology=False)
    return np.asarray(get_coordinates(line))


def largest_inside(
    polygon: Floats, angle: float, holes: Sequence[Floats] = (), grid: int = _GRID
) -> Floats:
    """Corners of the largest rectangle with sides along ``angle`` that the polygon holds.

    ``holes``: polygons that it must not touch.

    Found on a grid of that many cells along the longer side, then tuned on one four times as fine.
    """
    turn = rotation(-angle)
    turned = np.asarray(polygon) @ turn.T
    low = turned.min(axis=0)
    cell = float((turned.max(axis=0) - low).max()) / (grid * _FINER)
    shape = tuple(int(n) + 1 for n in ((turned.max(axis=0) - low) / cell)[::-1])
    fine = inside((turned - low) / cell, shape)
    for hole in holes:
        fine &= ~inside((np.asarray(hole) @ turn.T - low) / cell, shape)
    rough = _largest_box(_coarse(fine))
    top, left, bottom, right = _slid(fine, *_tuned(fine, *(_FINER * n for n in rough)))
    box = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)
    return np.asarray((box * cell + low) @ turn)


def _coarse(fine: Mask) -> Mask:
    height, width = (n // _FINER for n in fine.shape)
    cells = fine[: height * _FINER, : width * _FINER].reshape(height, _FINER, width, _FINER)
    return np.asarray(cells.all(axis=(1, 3)))


def _largest_box(cells: Mask) -> tuple[int, int, int, int]:
    """Top, left, bottom, right of the largest all-true box: every top with every bottom at once."""
    height, width = cells.shape
    held = np.zeros((height + 1, width), np.int32)
    np.cumsum(cells, axis=0, out=held[1:])
    rows = np.arange(height + 1)
    tall = rows[:, None] - rows[None, :]  # bottom less top
    whole = (held[:, None] - held[None, :] == tall[..., None]) & (tall > 0)[..., None]
    column = np.arange(1, width + 1)
    broken = np.maximum.accumulate(np.where(whole, 0, column), axis=2)
    size = (column - broken) * np.maximum(tall, 0)[..., None]
    bottom, top, last = np.unravel_index(int(np.argmax(size)), size.shape)
    if not size[bottom, top, last]:
        return 0, 0, 0, 0
    return int(top), int(broken[bottom, top, last]), int(bottom), int(last) + 1


def _tuned(fine: Mask, top: int, left: int, bottom: int, right: int) -> tuple[int, int, int, int]:
    """The largest of the boxes around the same middle whose top and bottom lie close by."""
    if bottom <= top:
        return top, left, bottom, right
    tops = np.arange(max(top - _CLOSE, 0), min(top + _CLOSE, bottom - 1) + 1)
    bottoms = np.arange(max(bottom - _CLOSE, top + 1), min(bottom + _CLOSE, len(fine)) + 1)
    held = np.zeros((len(fine) + 1, fine.shape[1]), np.int32)
    np.cumsum(fine, axis=0, out=held[1:])
    tall = bottoms[None, :] - tops[:, None]
    whole = held[bottoms][None, :] - held[tops][:, None] == np.maximum(tall, 1)[..., None]
    middle = (left + right) // 2
    first = middle - _leading(whole[..., :middle][..., ::-1])
    last = middle + _leading(whole[..., middle:])
    size = np.where(whole[..., middle], (last - first) * tall, 0)
    i, j = np.unravel_index(int(np.argmax(size)), size.shape)
    return int(tops[i]), int(first[i, j]), int(bottoms[j]), int(last[i, j])


def _leading(flags: Mask) -> NDArray[np.intp]:
    """How many at the start of the last axis are true."""
    if not flags.shape[-1]:
        return np.zeros(flags.shape[:-1], np.intp)
    count = np.where(flags.all(axis=-1), flags.shape[-1], np.argmin(flags, axis=-1))
    return np.asarray(count)


def _slid(fine: Mask, top: int, left: int, bottom: int, right: int) -> tuple[int, int, int, int]:
    moving = True
    while moving:
        moving = False
        if top > 0 and fine[top - 1, left:right].all():
            top, moving = top - 1, True
        if bottom < fine.shape[0] and fine[bottom, left:right].all():
            bottom, moving = bottom + 1, True
        if left > 0 and fine[top:bottom, left - 1].all():
            left, moving = left - 1, True
        if right < fine.shape[1] and fine[top:bottom, right].all():
            right, moving = right + 1, True
    return top, left, bottom, right
