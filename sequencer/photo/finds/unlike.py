"""How unlike the colours on two sides of a cut are, by a piece's own small palette.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_lab
from sequencer.models import Pixels
from sequencer.photo.shapes.shape import Floats, Mask

COLOURS = 10
"""Colours in a piece's palette, at most."""
_ALIKE = 9.0
"""CIE76 from its nearest colour up to which a pixel needs no colour of its own."""
_UNLIKE = 0.3
"""Hellinger distance (0 to 1) between two parts of a piece beyond which they are unlike."""
_DEEP = (5, 16)
"""Depth of a strip beside a cut, least and most, in pixels of the index; a quarter of the cut."""
_STEPS, _MOST_ALONG = 6, 48
"""Places looked at across each strip, and along it at most."""
_UNTOLD = 0.3
"""A print's own contrast (0 to 1) where no strip lies behind to tell it."""
_SOME = 500
"""Pixels that a mean colour is taken from where there are so many; fewer than twice as many."""
_CUTS, _BETWEEN = 7, (0.125, 0.875)
"""Places of straight cuts along each direction of a piece, and their outermost quantiles."""
_PALETTE_OF, _SETTLED = 800, 3
"""Pixels, about, that a piece's palette is taken from, and rounds of k-means."""
_LEAST_ALONG, _SHORTEST = 8, 4
"""Places along a strip at least; length of a cut, in pixels of the index, that has sides."""
_SEEN = 0.06
"""Least share of a strip's samples that must lie on the piece for its colours to count."""


def mean_colour(pixels: Pixels, mask: Mask) -> Floats:
    """Mean CIELAB (3,) of some hundred of the pixels (h, w, 3), sRGB, under a mask (h, w)."""
    at = np.flatnonzero(mask)
    rows, columns = np.divmod(at[:: max(1, len(at) // _SOME)], mask.shape[1])
    return np.asarray(srgb8_to_lab(pixels[rows, columns]).mean(axis=0))


def halves_differ(index: NDArray[np.int64]) -> bool:
    """Whether any straight cut parts unlike colours, at seven places along each main direction."""
    rows, columns = np.nonzero(index >= 0)
    points = np.column_stack([columns, rows]).astype(float)
    points -= points.mean(axis=0)
    colour = index[rows, columns]
    for along in np.linalg.eigh(points.T @ points)[1].T:
        reach = points @ along
        slices = np.searchsorted(np.quantile(reach, np.linspace(*_BETWEEN, _CUTS)), reach)
        counts = np.bincount(slices * COLOURS + colour, minlength=(_CUTS + 1) * COLOURS)
        below = np.cumsum(counts.reshape(-1, COLOURS), axis=0)
        if counts_differ(below[:-1], below[-1] - below[:-1]).max() > _UNLIKE:
            return True
    return False


def palette_of(held: Pixels) -> Floats:
    """A piece's own few colours (k, 3), CIELAB, from its pixels (n, 3), sRGB.

    Chosen farthest first (Gonzalez 1985) and settled by three rounds of k-means.
    """
    sample = srgb8_to_lab(held[:: max(1, len(held) // _PALETTE_OF)])
    centres = sample.mean(axis=0, keepdims=True)
    while len(centres) < COLOURS:
        apart = _squares(sample, centres).min(axis=1)
        if apart.max() < _ALIKE**2:
            break
        centres = np.vstack([centres, sample[np.argmax(apart)]])
    for _ in range(_SETTLED):
        nearest = _squares(sample, centres).argmin(axis=1)
        centres = np.stack(
            [
                sample[nearest == k].mean(axis=0) if (nearest == k).any() else centre
                for k, centre in enumerate(centres)
            ]
        )
    return np.asarray(centres)


def palette_index(mask: Mask, pixels: Pixels, centres: Floats) -> NDArray[np.int64]:
    """Each pixel's nearest of the colours ``centres`` (k, 3), -1 off the mask (h, w)."""
    index = np.full(mask.shape, -1)
    index[mask] = _squares(srgb8_to_lab(pixels[mask]), centres).argmin(axis=1)
    return index


def _squares(colours: Floats, centres: Floats) -> Floats:
    cross = colours @ centres.T
    return np.asarray((colours**2).sum(axis=1)[:, None] - 2 * cross + (centres**2).sum(axis=1))


def beside(index: NDArray[np.int64], a: Floats, b: Floats) -> Floats:
    """How different the colours on the two sides of each cut are, 0 to 1, beyond the print's own.

    Cuts from ``a`` to ``b``, both (n, 2). Hellinger distance of the colours in the strips beside
    the cut, less that between each strip and the one behind it.
    """
    if not len(a):
        return np.zeros(0)
    length = np.maximum(np.hypot(*(b - a).T), 1e-9)
    along = (b - a) / length[:, None]
    count = int(np.clip(length.max() / 2, _LEAST_ALONG, _MOST_ALONG))
    t = (np.arange(count) + 0.5) / count * length[:, None]
    s = _away() * np.clip(length // 4, *_DEEP)[:, None]
    s += np.copysign(1.0, s)
    start = a[:, :, None, None] + along[:, :, None, None] * t[:, None, :, None]
    x = (start[:, 0] - (along[:, 1:2] * s)[:, None]).astype(np.int32)
    y = (start[:, 1] + (along[:, 0:1] * s)[:, None]).astype(np.int32)
    fits = (x >= 0) & (y >= 0) & (x < index.shape[1]) & (y < index.shape[0])
    colour = np.where(fits, index.ravel()[(y * index.shape[1] + x) * fits], -1)
    strip = np.arange(len(a))[:, None, None] * 4 + np.repeat(np.arange(4), _STEPS)
    slot = (strip * COLOURS + colour)[colour >= 0]
    counts = np.bincount(slot, minlength=4 * COLOURS * len(a)).reshape(-1, 4, COLOURS)
    seen = counts.sum(axis=2) >= _SEEN * _STEPS * count
    beyond, far, near, behind = counts.swapaxes(0, 1)
    own = np.stack([counts_differ(near, behind), counts_differ(far, beyond)])
    told = np.stack([seen[:, 3], seen[:, 0]])
    usual = (own * told).sum(axis=0) / np.maximum(told.sum(axis=0), 1)
    usual[~told.any(axis=0)] = _UNTOLD
    apart = np.maximum(0.0, counts_differ(near, far) - usual)
    return np.asarray(np.where(seen[:, 1] & seen[:, 2] & (length >= _SHORTEST), apart, 0.0))


def _away() -> Floats:
    """Places across a cut, two strips on either side, in depths of a strip: (4 × steps,)."""
    half = (np.arange(2 * _STEPS) + 0.5) / _STEPS
    return np.concatenate([-half[::-1], half])


def counts_differ(p: NDArray[np.int64], q: NDArray[np.int64]) -> Floats:
    """Hellinger distance between counts (…, k) of colours, 0 to 1; 0 where one side has none."""
    whole = p.sum(axis=-1) * q.sum(axis=-1).astype(float)
    overlap = np.sqrt(p * q.astype(float)).sum(axis=-1) / np.sqrt(np.maximum(whole, 1.0))
    return np.asarray(np.where(whole > 0, np.sqrt(np.maximum(0.0, 1.0 - overlap)), 0.0))
