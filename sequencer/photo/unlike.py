"""How unlike the colours on two sides of a cut are, by a piece's own small palette."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.shape import Floats, Mask

_COLOURS = 10
_ALIKE = 9.0
_UNLIKE = 0.3


def halves_differ(index: NDArray[np.int64]) -> bool:
    """Whether any straight cut parts unlike colours, at seven places along each main direction."""
    rows, columns = np.nonzero(index >= 0)
    points = np.column_stack([columns, rows]).astype(float)
    points -= points.mean(axis=0)
    colour = index[rows, columns]
    for along in np.linalg.eigh(points.T @ points)[1].T:
        reach = points @ along
        slices = np.searchsorted(np.quantile(reach, np.linspace(0.125, 0.875, 7)), reach)
        counts = np.bincount(slices * _COLOURS + colour, minlength=8 * _COLOURS)
        below = np.cumsum(counts.reshape(8, _COLOURS), axis=0)
        if max(_hellinger(part, below[-1] - part) for part in below[:-1]) > _UNLIKE:
            return True
    return False


def palette_index(mask: Mask, lab: Floats) -> NDArray[np.int64]:
    """Each pixel's nearest of the piece's own few colours, -1 off the mask (h, w).

    The colours are chosen farthest first (Gonzalez 1985) and settled by three rounds of k-means.
    """
    index = np.full(mask.shape, -1)
    held = lab[mask].astype(np.float32)
    sample = held[:: max(1, len(held) // 800)]
    centres = sample.mean(axis=0, keepdims=True)
    while len(centres) < _COLOURS:
        apart = _squares(sample, centres).min(axis=1)
        if apart.max() < _ALIKE**2:
            break
        centres = np.vstack([centres, sample[np.argmax(apart)]])
    for _ in range(3):
        nearest = _squares(sample, centres).argmin(axis=1)
        centres = np.stack(
            [
                sample[nearest == k].mean(axis=0) if (nearest == k).any() else centre
                for k, centre in enumerate(centres)
            ]
        )
    index[mask] = _squares(held, centres).argmin(axis=1)
    return index


def _squares(colours: Floats, centres: Floats) -> Floats:
    cross = colours @ centres.T
    return np.asarray((colours**2).sum(axis=1)[:, None] - 2 * cross + (centres**2).sum(axis=1))


def beside(index: NDArray[np.int64], a: Floats, b: Floats) -> float:
    """How different the colours on the two sides of a cut are, 0 to 1, beyond the print's own.

    Hellinger distance of the colours in the strips beside the cut, less that between each strip
    and the one behind it.
    """
    length = float(np.linalg.norm(b - a))
    if length < 4:
        return 0.0
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    deep = int(np.clip(length / 4, 5, 16))
    s = np.concatenate([np.arange(-2 * deep, -1), np.arange(2, 2 * deep + 1)]) + 0.5 * (deep > 9)
    strip = np.searchsorted([-deep, 0, deep], s)
    if deep > 9:
        s, strip = s[::2], strip[::2]
    t = np.arange(1.0, length - 0.5, 2.0 if length > 60 else 1.0)
    x = (a[0] + t[:, None] * along[0] + s * across[0]).astype(int)
    y = (a[1] + t[:, None] * along[1] + s * across[1]).astype(int)
    fits = (x >= 0) & (y >= 0) & (x < index.shape[1]) & (y < index.shape[0])
    colour = np.where(fits, index[y * fits, x * fits], -1)
    held = colour >= 0
    slot = (strip * _COLOURS + colour)[held]
    beyond, far, near, behind = np.bincount(slot, minlength=4 * _COLOURS).reshape(4, _COLOURS)
    if min(near.sum(), far.sum()) < 6:
        return 0.0
    own = [_hellinger(x, y) for x, y in ((near, behind), (far, beyond)) if y.sum() >= 6]
    return max(0.0, _hellinger(near, far) - (float(np.mean(own)) if own else 0.3))


def parts_differ(parts: tuple[Mask, Mask], index: NDArray[np.int64]) -> float:
    """Hellinger distance between all the colours of one part and all of the other."""
    first, second = (np.bincount(index[p & (index >= 0)], minlength=_COLOURS) for p in parts)
    return _hellinger(first, second) if min(first.sum(), second.sum()) else 0.0


def _hellinger(p: NDArray[np.int64], q: NDArray[np.int64]) -> float:
    overlap = np.sqrt(p * (q / (p.sum() * q.sum()))).sum()
    return float(np.sqrt(max(0.0, 1.0 - overlap)))
