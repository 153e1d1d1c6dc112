"""An outline with few corners, for a hand to move: cut-off corners grow back, threads go."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.photo.shapes.shape import area

Point = tuple[float, float]

_BLUNT = 0.12
"""A side this short, of the root of the area, is a blunt corner rather than a side."""
_BEYOND = 1.3
"""How far the sides of a blunt corner may meet beyond it, of its own length."""
_LITTLE = 0.007
"""A corner of this share of the area shapes nothing."""
_SMALL = 0.02
"""A corner close to another may take away this share of the area."""


_MOST = 12
"""Corners that a hand moves, at most."""
_FIRST = 7
"""Parts of that share that a corner must shape before blunt ones are drawn on."""


def handles(outline: Sequence[Point], most: int = _MOST) -> tuple[Point, ...]:
    """The outline by ``most`` corners or fewer.

    Blunt corners are drawn on to where their sides meet (counterpart of Visvalingam and Whyatt
    1993, who take corners away, as the rest is done here).
    """
    points = [(float(x), float(y)) for x, y in outline]
    if len(points) < 4:
        return tuple(points)
    whole = area(np.array(points))
    points = _without_little(points, _LITTLE / _FIRST * whole, len(points))
    blunt = _BLUNT * float(np.sqrt(whole))
    points = _without_little(_sharpened(points, blunt), _LITTLE * whole, most)
    return tuple(_apart(points, blunt, _SMALL * whole))


def _without_little(points: list[Point], least: float, most: int) -> list[Point]:
    points = list(points)
    while len(points) > 3:
        sizes = [_triangle(points[k - 1], points[k], points[(k + 1) % len(points)])
                 for k in range(len(points))]
        if min(sizes) >= least and len(points) <= most:
            break
        del points[sizes.index(min(sizes))]
    return points


def _apart(points: list[Point], blunt: float, most: float) -> list[Point]:
    """Of two corners that no finger tells apart the lesser goes, where it shapes little."""
    points = list(points)
    while len(points) > 4:
        sizes = [_triangle(points[k - 1], points[k], points[(k + 1) % len(points)])
                 for k in range(len(points))]
        close = [k for k in range(len(points))
                 if min(_far(points[k], points[k - 1]),
                        _far(points[k], points[(k + 1) % len(points)])) < blunt
                 and sizes[k] < most]  # fmt: skip
        if not close:
            break
        del points[min(close, key=lambda k: sizes[k])]
    return points


def _far(a: Point, b: Point) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


def _triangle(a: Point, b: Point, c: Point) -> float:
    return abs((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 2


def _sharpened(points: list[Point], blunt: float) -> list[Point]:
    """Short sides give way to the corner that their neighbours make, shortest first."""
    while len(points) > 4:
        count = len(points)
        short = [(_far(points[k], points[k - 1]), k) for k in range(count)]
        for length, k in sorted(short):
            if length > blunt:
                return points
            met = _meeting(points, k, length)
            if met is not None:
                points[k] = met
                del points[k - 1]
                break
        else:
            return points
    return points


def _meeting(points: list[Point], k: int, length: float) -> Point | None:
    """Where the sides before and after the side k - 1 → k meet, if close beyond it."""
    count = len(points)
    (px, py), (ax, ay) = points[k - 2], points[k - 1]
    (bx, by), (nx, ny) = points[k], points[(k + 1) % count]
    ux, uy, vx, vy = ax - px, ay - py, bx - nx, by - ny
    turn = ux * vy - uy * vx
    if abs(turn) < 1e-9:
        return None
    wx, wy = bx - ax, by - ay
    along, back = (wx * vy - wy * vx) / turn, (wx * uy - wy * ux) / turn
    met = (ax + along * ux, ay + along * uy)
    near = max(np.hypot(met[0] - ax, met[1] - ay), np.hypot(met[0] - bx, met[1] - by))
    return met if along >= 0 and back >= 0 and near <= _BEYOND * length else None
