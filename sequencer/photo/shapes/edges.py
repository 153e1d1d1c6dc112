"""Straight sides and round corners to a fraction of a pixel, from profiles across the edge.

Constants are by hand, never fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels
from sequencer.photo.shapes.across import STEP, crossings, departures, sampled
from sequencer.photo.shapes.shape import Floats

_REACH = 6  # pixels outward and inward in which an edge is looked for
_SHORTEST = 16.0  # pixels: no side is measured that is shorter
_NORMALS = 24  # places on each side where its edge is measured
_DOUBTFUL = 0.3  # pixels of stray from which on the edge is where the outside ends, if straighter
_ENDS = (0.14, 0.86)  # of a side, between which its edge is measured: corners may be round
_PARALLEL = 0.2  # sine of the angle below which two lines meet nowhere worth a corner
_AROUND, _AROUND_LEAST = 1.2, 4.0  # of a corner's radius, and pixels: how far its edge is followed
_ROUNDS = 5  # of leaving out what is far off a line
_OFF, _OFF_LEAST = 2.5, 0.15  # times the median distance, and pixels, from which it is far off
_NEAR = np.array([0.15, 0.25, 0.35, 0.45])  # of its radius: how far from a corner it is measured
_DRAWN_BACK = 1 - np.sqrt(1 - (1 - _NEAR) ** 2)  # of its radius: how far a round one is off there


@dataclass(frozen=True, eq=False)
class Sides:
    """A straight-sided thing's edge: ``corners`` (4, 2), side k from corner k to the next.

    ``stray`` (4,): median distance of each side's edge from its line in pixels, a few tenths where
    it is straight.
    """

    corners: Floats
    stray: Floats


def refined_corners(pixels: Pixels, corners: Floats) -> Floats | None:
    """The corners (4, 2) of a straight-sided thing, each side fitted to its edge in ``pixels``.

    ``pixels`` (h, w, 3) sRGB; ``corners`` in its coordinates, good to a few pixels. None where an
    edge cannot be made out.
    """
    found = refined_sides(pixels, corners)
    return None if found is None else found.corners


def refined_sides(
    pixels: Pixels, corners: Floats, rounds: int = 3, normals: int = _NORMALS
) -> Sides | None:
    """The sides of a straight-sided thing, each fitted to its edge in ``pixels``.

    As :func:`refined_corners`; each round measures afresh along the lines of the one before, until
    nothing moves by half a pixel. ``normals``: places on each side where its edge is measured.
    """
    return refined_all(pixels, [corners], rounds, normals)[0]


def refined_all(
    pixels: Pixels, things: Sequence[Floats], rounds: int = 3, normals: int = _NORMALS
) -> list[Sides | None]:
    """:func:`refined_sides` of several things (4, 2) at once, which is quicker than one by one."""
    corners = np.array(things, float).reshape(-1, 4, 2)
    stray, seen = np.zeros(corners.shape[:2]), np.ones(len(corners), bool)
    left = np.arange(len(corners))
    for _ in range(rounds):
        run = np.roll(corners[left], -1, axis=1) - corners[left]
        long = np.hypot(run[..., 0], run[..., 1]).min(axis=1) >= _SHORTEST
        seen[left] = long
        left = left[long]
        if not len(left):
            break
        before = corners[left]
        corners[left], stray[left], seen[left] = _fitted(pixels, before, normals)
        moved = np.abs(corners[left] - before).max(axis=(1, 2)) >= STEP
        left = left[moved]  # what was not seen stays where it was
    every = zip(corners, stray, seen, strict=True)
    return [Sides(one, off) if fine else None for one, off, fine in every]


def between(points: Floats, ways: Floats) -> Floats:
    """Where lines meet: corner k (…, 4, 2) of line k - 1 and k through ``points`` (…, 4, 2).

    ``ways`` (…, 4, 2): unit directions. NaN where two lines are nearly parallel.
    """
    last, u = points[..., [3, 0, 1, 2], :], ways[..., [3, 0, 1, 2], :]
    apart = points - last
    cross = u[..., 0] * ways[..., 1] - u[..., 1] * ways[..., 0]
    cross = np.where(np.abs(cross) < _PARALLEL, np.nan, cross)
    t = (apart[..., 0] * ways[..., 1] - apart[..., 1] * ways[..., 0]) / cross
    return np.asarray(last + t[..., None] * u)


def corner_roundness(pixels: Pixels, corners: Floats, radius: tuple[float, float]) -> Floats:
    """How round the corners of a straight-sided thing are: (n,) 0 square, 1 of the given radius.

    ``radius``: as a share of the first and of the second side. Close to a corner the edge of a
    round one draws back from the line of its side, by r - √(r² - (r - t)²) at a distance t; what
    it draws back is measured at four places before and behind each corner where the edge can be
    made out, over what it should. One value for each corner with three places or more.
    """
    found = []
    for k in range(4):
        here = corners[k]
        behind, before = corners[k - 1] - here, corners[(k + 1) % 4] - here
        first, second = (radius[k % 2], radius[(k + 1) % 2])  # of the sides before and behind
        rates = []
        for along, other, share, inward in (
            (before, behind, first, second),
            (behind, before, second, first),
        ):
            r = along * share, other * inward
            far = float(np.linalg.norm(r[1]))
            reach = max(_AROUND_LEAST, _AROUND * far)
            s = np.arange(-reach, reach + _AROUND_LEAST, STEP)
            at = here + _NEAR[:, None, None] * r[0] + s[:, None] * r[1] / far
            rates.append(crossings(sampled(pixels, at), s) / far / _DRAWN_BACK)
        known = np.concatenate(rates)
        known = known[np.isfinite(known)]
        if len(known) >= 3:
            found.append(float(np.median(known)))
    return np.array(found)


def _fitted(
    pixels: Pixels, corners: Floats, normals: int
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """All sides at once: the edge across many normals, and the line that most of it is on.

    Corners (t, 4, 2) of things → new corners, ``stray`` (t, 4), and whether all were seen (t,).
    """
    run = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(run, axis=-1)[..., None]
    along = run / length
    inward = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    middle = corners.mean(axis=1, keepdims=True)
    inward *= np.sign(((middle - corners) * inward).sum(axis=-1, keepdims=True))
    places = np.linspace(*_ENDS, normals)
    s = np.arange(-_REACH, _REACH + STEP / 2, STEP)
    start = corners[:, :, None] + places[:, None] * run[:, :, None]
    at = start[..., None, :] + s[:, None] * inward[:, :, None, None]
    values = sampled(pixels, at.reshape(-1, *at.shape[2:]))
    lines = _Lines.through(places - 0.5, crossings(values, s))
    doubtful = np.repeat(lines.stray.reshape(-1, 4).max(axis=1) > _DOUBTFUL, 4)
    if doubtful.any():
        leaves = np.full(values.shape[1:3], np.nan)
        leaves[doubtful] = departures(values[:, doubtful], s)
        lines = lines.or_better(_Lines.through(places - 0.5, leaves))
    offset, slope, known = (
        one.reshape(-1, 4, 1) for one in (lines.offset, lines.slope, lines.known)
    )
    points = corners + run / 2 + offset * inward
    ways = along + slope / length * inward
    ways /= np.linalg.norm(ways, axis=-1, keepdims=True)
    met = between(points, ways)
    fine = (known.min(axis=(1, 2)) >= 0.5) & np.isfinite(met).all(axis=(1, 2))
    return np.where(fine[:, None, None], met, corners), lines.stray.reshape(-1, 4), fine


@dataclass(frozen=True, eq=False)
class _Lines:
    """The line each side's edge is on: ``offset`` inward at its middle, ``slope`` from end to end.

    ``stray``: median distance of the edge from it, inf where none was seen; ``known``: share of
    the normals on which the edge was seen. All (n,), four for each thing.
    """

    offset: Floats
    slope: Floats
    stray: Floats
    known: Floats

    @staticmethod
    def through(t: Floats, crossing: Floats) -> _Lines:
        """Least squares through most of the crossings (k, n) at ``t``, those far off left out."""
        known = np.isfinite(crossing)
        half = (np.arange(len(crossing)), (known.sum(axis=1) - 1) // 2)
        value, weight = np.where(known, crossing, 0.0), known.astype(float)
        for _ in range(_ROUNDS):
            offset, slope = _least_squares(t, value, weight)
            off = np.where(known, np.abs(value - slope[:, None] * t - offset[:, None]), np.inf)
            middle = np.sort(off, axis=1)[half]
            weight = (off <= np.maximum(_OFF_LEAST, _OFF * middle)[:, None]).astype(float)
        return _Lines(offset, slope, middle, known.mean(axis=1))

    def or_better(self, other: _Lines) -> _Lines:
        """Side by side the straighter one of both, where it was seen often enough."""
        better = (other.known >= 0.5) & (other.stray < 0.5 * self.stray)
        mine = (self.offset, self.slope, self.stray, self.known)
        theirs = (other.offset, other.slope, other.stray, other.known)
        return _Lines(*(np.where(better, b, a) for a, b in zip(mine, theirs, strict=True)))


def _least_squares(t: Floats, value: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Offset and slope of the weighted line through each row of ``value``."""
    whole = np.maximum(weight.sum(axis=1), 1e-9)
    mean_t, mean = (weight @ t) / whole, (weight * value).sum(axis=1) / whole
    local = t - mean_t[:, None]
    square = np.maximum((weight * local**2).sum(axis=1), 1e-9)
    slope = (weight * local * (value - mean[:, None])).sum(axis=1) / square
    return mean - slope * mean_t, slope
