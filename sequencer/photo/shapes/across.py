"""Profiles across an edge: where on each the edge lies, to a fraction of a pixel.

A lens blurs light, not encoded values, so the half-way point is looked for in linear light; in
encoded values a white card on a dark table would seem to grow. Profiles run from outside a thing
inward; their first and last samples show its two sides.
"""

from __future__ import annotations

import numpy as np

from sequencer.colour import srgb8_to_linear
from sequencer.models import Pixels
from sequencer.photo.shapes.shape import Floats

STEP = 0.5
"""Pixels from sample to sample of a profile."""
_ENDS = 6
"""Samples at either end of a profile that show its side; :func:`departures` looks ahead by as many:
by hand, never fitted."""
_TIMES_NOISE, _OF_MOST = 2.5, 0.35
"""Times the noise outside, and share of the most that the profile differs, from which it has left
the outside: by hand."""
_INSIDE = 1.001  # pixels: the last place whose next pixel is still in the picture, from its edge
_LEAST_STEP, _LEAST_CONTRAST = 3e-5, 1e-4
"""Squares of what noise and the file's own steps can do in the dark, and share of the light."""


def sampled(pixels: Pixels, at: Floats) -> Floats:
    """Linear light (3, …), a plane a channel, at points (…, 2) x, y, bilinear between centres."""
    height, width = pixels.shape[:2]
    x = np.clip(at[..., 0] - 0.5, 0, width - _INSIDE)
    y = np.clip(at[..., 1] - 0.5, 0, height - _INSIDE)
    column, row = x.astype(int), y.astype(int)
    right, down = x - column, y - row
    flat, first = pixels.ravel(), 3 * (row * width + column)
    first = np.stack([first, first + 1, first + 2])
    four = [
        srgb8_to_linear(flat.take(first + 3 * step)) for step in (0, 1, width, width + 1)
    ]
    top = four[0] + right * (four[1] - four[0])
    bottom = four[2] + right * (four[3] - four[2])
    return np.asarray(top + down * (bottom - top))


def crossings(values: Floats, s: Floats) -> Floats:
    """Where each profile is half-way between the colours of its two ends, nearest to 0.

    ``values`` (3, …, m): linear light; ``s`` (m,): where along the profile. NaN where it never is.
    """
    cover = _cover(values)
    rises = (cover[..., :-1] < 0.5) & (cover[..., 1:] >= 0.5)
    k = np.argmin(np.where(rises, np.abs(s[:-1]), np.inf), axis=-1)[..., None]
    low, high = (np.take_along_axis(cover, one, axis=-1)[..., 0] for one in (k, k + 1))
    at = s[k[..., 0]]
    with np.errstate(invalid="ignore", divide="ignore"):
        found = at + (0.5 - low) / (high - low) * STEP
    return np.where(rises.any(axis=-1), found, np.nan)


def departures(values: Floats, s: Floats) -> Floats:
    """Where profiles (3, k, n, m) first leave the outside's colour for good.

    For prints whose ground and motifs both meet the edge: what lies farther in says nothing of it.
    The edge is half-way to the most that the next three pixels differ, if that is no mere shadow.
    """
    away = np.sqrt(((values - _middle(values[..., :_ENDS])) ** 2).sum(axis=0))
    ahead = np.lib.stride_tricks.sliding_window_view(away, _ENDS, axis=-1).max(axis=-1)
    noise = np.median(away[..., :_ENDS].max(axis=-1), axis=-1)[..., None, None]
    here = away[..., : ahead.shape[-1]]
    strong = ahead > np.maximum(
        _TIMES_NOISE * noise, _OF_MOST * away.max(axis=-1, keepdims=True)
    )
    left = strong & (here >= 0.5 * ahead)
    left[..., 0] = False
    k = np.argmax(left, axis=-1)[..., None]
    low = np.take_along_axis(here, np.maximum(k - 1, 0), axis=-1)
    high, level = (np.take_along_axis(one, k, axis=-1) for one in (here, 0.5 * ahead))
    share = np.clip((level - low) / np.maximum(high - low, 1e-9), 0, 1)
    found = (s[np.maximum(k - 1, 0)] + share * STEP)[..., 0]
    return np.where(left.any(axis=-1), found, np.nan)


def _cover(values: Floats) -> Floats:
    """How far each sample (…, m) is from the outside's colour to the inside's, 0 to 1.

    NaN where the sides hardly differ.
    """
    first, last = _middle(values[..., :_ENDS]), _middle(values[..., -_ENDS:])
    step = last - first
    size = (step**2).sum(axis=0)
    cover = ((values - first) * step).sum(axis=0) / np.maximum(size, 1e-9)
    level = np.maximum((first**2).sum(axis=0), (last**2).sum(axis=0))
    return np.where(size > _LEAST_STEP + _LEAST_CONTRAST * level, cover, np.nan)


def _middle(values: Floats) -> Floats:
    """Mean of the middle half along the last axis: a median, but quick."""
    count = values.shape[-1]
    cut = count // 4
    ordered = np.sort(values, axis=-1)[..., cut : count - cut]
    return np.asarray(ordered.mean(axis=-1, keepdims=True))
