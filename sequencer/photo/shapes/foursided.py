"""Four straight sides round a group of pixels.

Of the group's convex hull the side that costs least is taken away again and again, its neighbours
drawn on until they meet, until four are left (the outer counterpart of Visvalingam and Whyatt
1993, who take corners away): a corner that a scrap covers or the picture's edge cuts grows back.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Point = list[float]

_TURNS = np.arange(72) * (2 * np.pi / 72) + 0.01
"""Radians: ways to look from, none along rows or columns of pixels; by hand, never fitted."""
_DIRECTIONS = np.stack([np.cos(_TURNS), np.sin(_TURNS)]).astype(np.float32)


def quadrilateral(member: NDArray[np.bool_]) -> Floats | None:
    """Corners (4, 2) x, y of the quadrilateral round a group of pixels, None if it has no area."""
    rows = np.flatnonzero(member.any(axis=1))
    if not len(rows):
        return None
    left = member[rows].argmax(axis=1)
    right = member.shape[1] - member[rows, ::-1].argmax(axis=1)
    x, y = np.concatenate([left, left, right, right]), np.concatenate([rows, rows + 1] * 2)
    points = np.stack([x, y], axis=1).astype(np.float32)
    # The hull as far as it can be touched from these directions: enough for straight sides.
    far = (points @ _DIRECTIONS).argmax(axis=0)
    hull = points[far[far != np.roll(far, 1)]]
    corners = _four(hull.tolist()) if len(hull) >= 4 else None
    return None if corners is None else np.array(corners)


def _four(hull: list[Point]) -> list[Point] | None:
    """A convex outline with sides taken away, least added area first, until four are left."""
    added = [_without_side(hull, i) for i in range(len(hull))]
    while len(hull) > 4:
        side = min(range(len(hull)), key=lambda i: added[i][0])
        if added[side][0] == np.inf:
            return None
        hull[side] = added[side][1]
        after = (side + 1) % len(hull)
        del hull[after], added[after]
        count = len(hull)
        side -= after == 0
        for near in range(side - 2, side + 3):
            added[near % count] = _without_side(hull, near % count)
    return hull if len(hull) == 4 else None


def _without_side(hull: list[Point], side: int) -> tuple[float, Point]:
    """Area added, and the new corner, when side to side + 1 gives way to its neighbours."""
    count = len(hull)
    (px, py), (ax, ay) = hull[side - 1], hull[side]
    (bx, by), (nx, ny) = hull[(side + 1) % count], hull[(side + 2) % count]
    ux, uy, vx, vy = ax - px, ay - py, bx - nx, by - ny
    turn = ux * vy - uy * vx
    wx, wy = bx - ax, by - ay
    # Neighbours that do not meet beyond this side cannot replace it.
    if abs(turn) < 1e-9:
        return np.inf, [ax, ay]
    along, back = (wx * vy - wy * vx) / turn, (wx * uy - wy * ux) / turn
    if along < 0 or back < 0:
        return np.inf, [ax, ay]
    return abs(along * (ux * wy - uy * wx)) / 2, [ax + along * ux, ay + along * uy]
