"""A scrap's outline as it lies before the cutter: lengthwise, in inches from the corner it is cut
from.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from sequencer.photo.shapes.handles import handles
from sequencer.photo.shapes.shape import Floats, area, largest_inside, rectangle_like, rotation

Point = tuple[float, float]

_KEPT = 400  # outlines that are remembered, more than a piece has; by hand


def laid(
    outline: Sequence[Point], size: tuple[float, float], ragged: bool
) -> tuple[Point, ...]:
    """The outline by few corners, its long side along x and y down as its cloth is shown.

    ``size``: (long, short) in inches of the rectangle that counts, whose first corner is 0, 0: the
    largest one that a ``ragged`` outline holds, else the one with the outline's area and moments.
    What lies beyond that rectangle is below 0 or beyond ``size``. The photograph's perspective
    within one scrap is left out: its size already has it.
    """
    turned, low, high = _framed(tuple(outline), ragged)
    places = (turned - low) / (high - low) * size
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in places)


@lru_cache(maxsize=_KEPT)
def _framed(outline: tuple[Point, ...], ragged: bool) -> tuple[Floats, Floats, Floats]:
    """Few corners of the outline turned lengthwise, and two corners of what counts of it."""
    points = np.array(outline, float)
    long, short, angle = rectangle_like(points)
    along = np.array([np.cos(angle), np.sin(angle)])
    if along[int(abs(along[1]) > abs(along[0]))] < 0:  # read left to right, or else downwards
        angle += np.pi
    turn = rotation(-angle)
    few = np.array(handles(outline), float) @ turn.T
    if ragged:
        box = largest_inside(points, angle) @ turn.T
        return few, box.min(axis=0), box.max(axis=0)
    middle = _middle(points) @ turn.T
    half = np.array([long, short]) / 2
    return few, middle - half, middle + half


def _middle(points: Floats) -> Floats:
    """The centre of area of a polygon."""
    near = points - points[0]
    after = np.roll(near, -1, axis=0)
    cross = near[:, 0] * after[:, 1] - after[:, 0] * near[:, 1]
    whole = area(points)
    if whole < 1e-12:
        return np.asarray(points.mean(axis=0))
    return np.asarray(points[0] + ((near + after) * cross[:, None]).sum(axis=0)
                      / (3 * cross.sum()))
