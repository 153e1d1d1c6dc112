"""Outlines of four sides round smooth groups of pixels of a view, before it is told what they are.

Every test that costs little comes before those that cost more: most groups are no quadrilateral.
Constants are by hand, never fitted; what is let through is weighed afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels
from sequencer.photo.files.view import View
from sequencer.photo.shapes.foursided import quadrilateral
from sequencer.photo.shapes.morphology import diamond, dilated
from sequencer.photo.shapes.runs import filled as holes_filled
from sequencer.photo.shapes.runs import pieces_of

Floats = NDArray[np.floating]

_SMALLEST = 0.006  # share of the picture
_LARGEST, _LARGEST_LENIENT = 0.45, 0.92  # likewise; lenient: a sheet that all else lies on
_LOOSEST = 0.35  # share of its upright box that a turned rectangle fills at least
_TOUCHES = 2  # edges of the picture that it may touch
_LESS_LOOSE = 0.4  # of that share is enough for one that other things lie on
_AROUND = 3  # pixels of the view round a group's box that belong to it
_ROOM = 0.02  # share that the quick look at what it fills may be off
_LEAST_CORE = 30  # pixels of the view that its colour is told by
_INNER = 0.7  # of its sides: the part that its colour is taken from
_SHORTEST, _UPRIGHT, _LONGEST = 3, 0.85, 4  # pixels; sine of corners; times the shortest side
_AT_EDGE = 4  # pixels of the view within which a corner lies on the picture's edge
_BARELY = 0.7  # of its quadrilateral a group fills at least: a scrap may lie over part of it


@dataclass(frozen=True, eq=False)
class Outline:
    """A quadrilateral before its texture and hue are known: ``corners`` in pixels of its ``box`` of
    the view, ``filled``: the group without its holes, ``core``: its pixels well inside.

    ``middle``, ``span``: x, y in the view; ``colour``: sRGB 0 to 1. All three plain numbers, since
    each outline is held against all others.
    """

    corners: Floats
    box: tuple[slice, slice]
    filled: NDArray[np.bool_]
    core: NDArray[np.bool_]
    colour: list[float]
    middle: list[float]
    span: list[float]
    area: float
    fill: float
    touches: int

    @property
    def offset(self) -> Floats:
        """Where the box begins, x, y in the view."""
        return np.array([self.box[1].start, self.box[0].start], dtype=float)


def outlines_below(view: View, limit: float, lenient: bool = False) -> Iterator[Outline]:
    """Of every group of pixels whose change is below ``limit`` and that four sides fit.

    ``lenient``: a sheet that all else lies on, so that it is large and full of holes, as well.
    """
    groups = pieces_of(view.change < limit)
    largest = (_LARGEST_LENIENT if lenient else _LARGEST) * view.change.size
    least = _SMALLEST * 0.5 * view.change.size
    for k in np.flatnonzero((groups.areas > least) & (groups.areas < largest)).tolist():
        tight = groups.boxes[k]
        room = (tight[0].stop - tight[0].start) * (tight[1].stop - tight[1].start)
        touches = _touches(tight, groups.shape)
        if touches > _TOUCHES and not lenient:
            continue
        if groups.areas[k] >= (_LESS_LOOSE if lenient else 1) * _LOOSEST * room:
            box = _grown(tight, _AROUND, groups.shape)
            member = dilated(groups.mask_in(k, box), diamond(2))
            one = _outline(member, box, view, touches, lenient)
            if one is not None:
                yield one


def _touches(box: tuple[slice, slice], shape: tuple[int, ...]) -> int:
    rows, columns = box
    reached = (rows.start <= 2, columns.start <= 2)
    return sum((*reached, rows.stop >= shape[0] - 2, columns.stop >= shape[1] - 2))


def _grown(box: tuple[slice, slice], by: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    rows, columns = (
        slice(max(0, side.start - by), min(limit, side.stop + by))
        for side, limit in zip(box, shape, strict=False)
    )
    return rows, columns


def _outline(
    member: NDArray[np.bool_],
    box: tuple[slice, slice],
    view: View,
    touches: int,
    lenient: bool,
) -> Outline | None:
    filled = holes_filled(member)
    count = np.count_nonzero(filled)
    area = count / view.change.size
    # Four sides span at least what lies between the ends of each row: cheaper to know than they.
    if area < _SMALLEST or count < (_BARELY - _ROOM) * _between_ends(filled):
        return None
    corners = quadrilateral(member)
    offset = np.array([box[1].start, box[0].start])
    if corners is None or not _oblong(corners, _on_border(corners + offset, view.change.shape)):
        return None
    x, y = corners.T
    spanned = abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2
    if count < _BARELY * spanned:
        return None
    fill = _overlap(filled, corners) * (1 if lenient else np.count_nonzero(member) / count)
    if fill < _BARELY:
        return None
    core = _core(corners, member.shape) & member
    if np.count_nonzero(core) < _LEAST_CORE:
        return None
    colour = (_middle(view.pixels[box][core]) / 255).tolist()
    middle, span = (corners.mean(axis=0) + offset).tolist(), np.ptp(corners, axis=0).tolist()
    return Outline(corners, box, filled, core, colour, middle, span, area, fill, touches)


def _middle(pixels: Pixels) -> Floats:
    """Median (3,) of 8-bit colours (n, 3), by counting."""
    counts = np.stack([np.bincount(channel, minlength=256).cumsum() for channel in pixels.T])
    half = len(pixels)
    return np.array([
        (c.searchsorted((half - 1) // 2, "right") + c.searchsorted(half // 2, "right")) / 2
        for c in counts
    ])


def _between_ends(member: NDArray[np.bool_]) -> int:
    """Pixels from the first to the last of the group in each row, summed."""
    rows = member[member.any(axis=1)]
    return int(rows.size - rows.argmax(axis=1).sum() - rows[:, ::-1].argmax(axis=1).sum())


def _oblong(corners: Floats, cut: NDArray[np.bool_]) -> bool:
    """Corners near right angles, sides no more than 4 to 1: a sheet or a card seen from above.

    ``cut`` (4,): sides that are the picture's edge, which meets the others at any angle.
    """
    sides = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*sides.T)
    sine = np.abs(_cross(sides, np.roll(sides, -1, axis=0))) / (length * np.roll(length, -1))
    sine[cut | np.roll(cut, -1)] = 1.0
    upright = length.min() > _SHORTEST and sine.min() > _UPRIGHT
    return bool(upright and length.max() < _LONGEST * length.min())


def _on_border(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """(4,): which sides, from each corner to the next, run along the picture's edge."""
    x, y = corners.T
    edges = np.stack([x < _AT_EDGE, y < _AT_EDGE, x > shape[1] - _AT_EDGE, y > shape[0] - _AT_EDGE])
    return np.asarray((edges & np.roll(edges, -1, axis=1)).any(axis=0))


def _cross(a: Floats, b: Floats) -> Floats:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _core(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """The inner 70 % of a quadrilateral."""
    centre = corners.mean(axis=0)
    return _inside(centre + _INNER * (corners - centre), shape)


def _inside(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Pixels whose centre lies inside a convex polygon."""
    x, y = np.arange(shape[1]) + 0.5, np.arange(shape[0])[:, None] + 0.5
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    if first[0] * second[1] < first[1] * second[0]:
        corners = corners[::-1]
    inside = np.ones(shape, bool)
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        dx, dy = end - start
        inside &= dx * (y - start[1]) >= dy * (x - start[0])
    return inside


def _overlap(member: NDArray[np.bool_], corners: Floats) -> float:
    inside = _inside(corners, member.shape)
    both, either = np.count_nonzero(inside & member), np.count_nonzero(inside | member)
    return float(both / max(1, int(either)))
