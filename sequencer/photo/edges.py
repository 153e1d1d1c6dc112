"""Edges to a fraction of a pixel: where the colour is half-way, in linear light, between the sides.

A lens blurs light, not encoded values, so the half-way point is looked for in linear light; in
encoded values a white card on a dark table would seem to grow.
"""

from __future__ import annotations

import numpy as np

from sequencer.colour import srgb8_to_linear
from sequencer.models import Pixels
from sequencer.photo.shape import Floats

_REACH = 6
_STEP = 0.5
_LEAST_STEP, _LEAST_CONTRAST = 3e-5, 1e-4
"""Squares of what noise and the file's own steps can do in the dark, and share of the light."""
_NEAR = np.array([0.15, 0.25, 0.35, 0.45])
_DRAWN_BACK = 1 - np.sqrt(1 - (1 - _NEAR) ** 2)


def refined_corners(pixels: Pixels, corners: Floats) -> Floats | None:
    """The corners (4, 2) of a straight-sided thing, each side fitted to its edge in ``pixels``.

    ``pixels`` (h, w, 3) sRGB; ``corners`` in its coordinates, good to a few pixels. None where an
    edge cannot be made out.
    """
    found = refined_sides(pixels, corners)
    return None if found is None else found[0]


def refined_sides(pixels: Pixels, corners: Floats) -> tuple[Floats, Floats] | None:
    """As :func:`refined_corners`, and how far each side's edge strays from its line.

    Corners (4, 2), and for the side from each to the next the median distance of the edge from the
    line in pixels (4,): a few tenths where the side is straight.
    """
    stray: Floats = np.zeros(4)
    for _ in range(2):
        lines = []
        for k in range(4):
            line = _fitted_side(pixels, corners[k], corners[(k + 1) % 4], corners.mean(axis=0))
            if line is None:
                return None
            lines.append(line)
        met = [meet(lines[k - 1][:2], lines[k][:2]) for k in range(4)]
        if any(corner is None for corner in met):
            return None
        corners = np.array(met)
        stray = np.array([line[2] for line in lines])
    return corners, stray


def meet(first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> Floats | None:
    """Where two lines (point, unit direction) meet; None when they are nearly parallel."""
    (p, u), (q, v) = first, second
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.2:
        return None
    t = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / cross
    return np.asarray(p + t * u)


def corner_radius(pixels: Pixels, corners: Floats) -> float:
    """Radius of the rounded corners in pixels: along the diagonal the edge lies (√2 - 1) r inside.

    The blur's own share, as at a sharp corner, is about one pixel of the result. Median of four.
    """
    gaps = []
    centre = corners.mean(axis=0)
    for k in range(4):
        here = corners[k]
        u, v = (other - here for other in (corners[k - 1], corners[(k + 1) % 4]))
        inward = u / np.linalg.norm(u) + v / np.linalg.norm(v)
        inward /= np.linalg.norm(inward)
        if (centre - here) @ inward < 0:
            return 0.0
        reach = 0.25 * min(np.linalg.norm(u), np.linalg.norm(v))
        at = np.arange(-_REACH, reach, _STEP)
        cover = _cover(pixels, here + at[:, None] * inward, outside=8, inside=8)
        crossing = float(_crossings(cover[None], at)[0])
        if np.isfinite(crossing):
            gaps.append(max(0.0, crossing))
    return float(np.median(gaps)) / (np.sqrt(2) - 1) if len(gaps) >= 3 else 0.0


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
            reach = max(4.0, 1.2 * far)
            s = np.arange(-reach, reach + 4.0, _STEP) / far
            at = here + _NEAR[:, None, None] * r[0] + s[:, None] * r[1]
            crossing = _crossings(_cover(pixels, at, outside=6, inside=6), s)
            rates.append(crossing / _DRAWN_BACK)
        known = np.concatenate(rates)
        known = known[np.isfinite(known)]
        if len(known) >= 3:
            found.append(float(np.median(known)))
    return np.array(found)


def _fitted_side(
    pixels: Pixels, a: Floats, b: Floats, centre: Floats
) -> tuple[Floats, Floats, float] | None:
    """Point and direction of the straight edge near a-b, away from its ends, and its straying."""
    length = float(np.linalg.norm(b - a))
    if length < 16:
        return None
    along = (b - a) / length
    inward = np.array([-along[1], along[0]])
    if (centre - a) @ inward < 0:
        inward = -inward
    t = np.linspace(0.14, 0.86, int(np.clip(length / 3, 16, 48))) * length
    s = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
    at = a + t[:, None, None] * along + s[:, None] * inward
    cover = _cover(pixels, at, outside=6, inside=6)
    crossing = _crossings(cover, s)
    known = np.isfinite(crossing)
    if known.sum() < 0.5 * len(t):
        return None
    points = all_points = np.column_stack([t[known], crossing[known]])
    slope = offset = 0.0
    for _ in range(4):
        slope, offset = np.polyfit(points[:, 0], points[:, 1], 1)
        off = np.abs(points[:, 1] - slope * points[:, 0] - offset)
        keep = off <= max(0.15, 2.5 * float(np.median(off)))
        if keep.all():
            break
        points = points[keep]
    stray = np.median(np.abs(all_points[:, 1] - slope * all_points[:, 0] - offset))
    direction = along + slope * inward
    return a + offset * inward, direction / np.linalg.norm(direction), float(stray)


def _cover(pixels: Pixels, at: Floats, outside: int, inside: int) -> Floats:
    """How far each sample (…, n, 2) along a profile is from the outside's colour to the inside's.

    The first ``outside`` and last ``inside`` samples of each profile show the two sides. 0 to 1,
    NaN where the sides hardly differ.
    """
    values = _sampled(pixels, at)
    first = np.median(values[..., :outside, :], axis=-2, keepdims=True)
    last = np.median(values[..., -inside:, :], axis=-2, keepdims=True)
    step = last - first
    size = (step**2).sum(axis=-1)
    cover = ((values - first) * step).sum(axis=-1) / np.maximum(size, 1e-9)
    level = np.maximum((first**2).sum(axis=-1), (last**2).sum(axis=-1))
    return np.where(size > _LEAST_STEP + _LEAST_CONTRAST * level, cover, np.nan)


def _sampled(pixels: Pixels, at: Floats) -> Floats:
    """Linear light at points (…, 2) x, y, bilinear between pixel centres."""
    height, width = pixels.shape[:2]
    x = np.clip(at[..., 0] - 0.5, 0, width - 1.001)
    y = np.clip(at[..., 1] - 0.5, 0, height - 1.001)
    column, row = x.astype(int), y.astype(int)
    right, down = (x - column)[..., None], (y - row)[..., None]
    four = [srgb8_to_linear(pixels[row + i, column + j]) for i in (0, 1) for j in (0, 1)]
    top = four[0] + right * (four[1] - four[0])
    bottom = four[2] + right * (four[3] - four[2])
    return np.asarray(top + down * (bottom - top))


def _crossings(cover: Floats, at: Floats) -> Floats:
    """Where each profile (n, m) rises through one half, nearest to 0; NaN where it never does."""
    rises = (cover[:, :-1] < 0.5) & (cover[:, 1:] >= 0.5)
    k = np.argmin(np.where(rises, np.abs(at[:-1]), np.inf), axis=1)
    rows = np.arange(len(cover))
    low, high = cover[rows, k], cover[rows, k + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        found = at[k] + (0.5 - low) / (high - low) * (at[k + 1] - at[k])
    return np.where(rises[rows, k], found, np.nan)
