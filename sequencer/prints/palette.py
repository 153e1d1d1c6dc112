"""Cloth pixels → the few colours the eye names.

Pixels are counted in a coarse CIELAB histogram, the histogram's peaks seed a weighted k-means,
and clusters that weave, noise or folds alone could have parted are merged again: two clusters are
one colour when they lie close, or when the one could be the other in shade and no valley parts
them. k-means in CIELAB with an automatic k did as well as mean shift on prints of known inks,
thirty to sixty times faster (measured before the first line).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import ciede2000, plain_name
from sequencer.models import PaletteColour

Floats = NDArray[np.floating]

_BIN = np.array([3.0, 3.0, 3.0])
_SEEDS = 10
_MOST = 6
_SMALLEST = 0.008
_MERGE = 7.0
_FAR = 14.0
_THIN = 0.012  # share of the cloth that a line's heart must cover to count as an accent
_SHADED = 16.0  # ΔE00 up to which a fold's shade may part one dye


def palette_of(
    lab: Floats,
    smooth: NDArray[np.bool_] | None = None,
    fine: Floats | None = None,
    most: int = _MOST,
) -> tuple[PaletteColour, ...]:
    """The palette of cloth pixels ``lab`` (n, 3), CIELAB D65: one to ``most`` colours.

    ``smooth`` (n,) marks pixels away from the borders between colours; a colour is the mean of its
    smooth pixels, so that mixed border pixels do not dull it, while shares count every pixel.
    ``fine`` (n, 3): the same pixels before denoising, searched for thin lines that it wiped out.
    Shares add up to 1, largest first. Deterministic.

    Raises:
        ValueError: there is not a single pixel.
    """
    points = np.asarray(lab, dtype=np.float32).reshape(-1, 3)
    if not len(points):
        raise ValueError("a palette needs at least one pixel")
    pure = points if smooth is None or smooth.sum() < 0.1 * len(points) else points[smooth]
    centres = _centres(*_histogram(pure), most)
    if fine is not None and len(centres) < most:
        thin = _thin_accent(np.asarray(fine, dtype=np.float32), centres)
        if thin is not None:
            centres, points = np.concatenate([centres, thin[None]]), np.asarray(fine, np.float32)
    labels = _nearest(points, centres)
    shares = np.bincount(labels, minlength=len(centres)) / len(points)
    order = sorted(range(len(centres)), key=lambda k: (-round(float(shares[k]), 9), k))
    order = [k for k in order if shares[k] > 0]
    total = sum(float(shares[k]) for k in order)
    return tuple(_entry(centres[k], float(shares[k]) / total) for k in order)


def _thin_accent(fine: Floats, centres: Floats) -> Floats | None:
    """The colour of lines too thin to be smooth: far from the palette and not a mix of it."""
    gap = np.linalg.norm(fine - centres[_nearest(fine, centres)], axis=1)
    far = np.flatnonzero(gap > _FAR)
    for first in range(len(centres)):
        for second in range(first):
            far = far[~_between(fine[far], centres[first], centres[second])]
    if len(far) < _THIN * len(fine):
        return None
    ends = fine[far[gap[far] >= np.quantile(gap[far], 0.6)]]
    colours, weights = _histogram(ends)
    heart = colours[int(np.argmax(weights))]
    heart = ends[np.linalg.norm(ends - heart, axis=1) < _FAR].mean(axis=0)
    alike = np.linalg.norm(fine[far] - heart, axis=1) < _FAR
    apart = ciede2000(centres, heart).min()
    shade = any(_as_in_shade(centre, heart) for centre in centres)
    if alike.mean() < 0.4 or apart < 1.4 * _MERGE or shade:
        return None
    return np.asarray(heart)


def _between(points: Floats, first: Floats, second: Floats) -> NDArray[np.bool_]:
    axis = second - first
    along = np.clip((points - first) @ axis / float(axis @ axis), 0, 1)
    off = np.linalg.norm(points - first - along[:, None] * axis, axis=1)
    return np.asarray(off < 0.6 * _FAR)


def _entry(centre: Floats, share: float) -> PaletteColour:
    lightness, a, b = (float(part) for part in centre)
    return PaletteColour((lightness, a, b), share, plain_name(centre))


def _histogram(points: Floats) -> tuple[Floats, Floats]:
    """Mean colour and count of every occupied bin, in the order of the bins."""
    cells = np.floor(points / _BIN).astype(np.int64) + 512
    keys = (cells[:, 0] * 1024 + cells[:, 1]) * 1024 + cells[:, 2]
    _, where, counts = np.unique(keys, return_inverse=True, return_counts=True)
    sums = [np.bincount(where, weights=points[:, axis]) for axis in range(3)]
    return np.stack(sums, axis=1) / counts[:, None], counts.astype(float)


def _centres(colours: Floats, weights: Floats, most: int) -> Floats:
    centres = _kmeans(colours, weights, _seeds(colours, weights))
    while True:
        labels = _nearest(colours, centres)
        share = np.bincount(labels, weights, minlength=len(centres)) / weights.sum()
        pair = _to_merge(colours, weights, labels, centres, share, most)
        if pair is None:
            return centres
        keep, gone = pair
        merged = np.average(centres[[keep, gone]], axis=0, weights=share[[keep, gone]] + 1e-9)
        centres = np.delete(centres, gone, axis=0)
        centres[keep - (gone < keep)] = merged
        centres = _kmeans(colours, weights, centres, rounds=4)


def _seeds(colours: Floats, weights: Floats) -> Floats:
    """Start at the heaviest bin, then by turns the bin whose weight and distance say most."""
    chosen = [int(np.argmax(weights))]
    gap = np.full(len(colours), np.inf)
    floor = 0.001 * weights.sum()
    for _ in range(min(_SEEDS, len(colours)) - 1):
        gap = np.minimum(gap, _distance(colours, colours[chosen[-1]]))
        score = np.where(weights >= floor, np.sqrt(weights) * gap**2, 0.0)
        best = int(np.argmax(score))
        if gap[best] < _MERGE:
            break
        chosen.append(best)
    return colours[chosen]


def _kmeans(colours: Floats, weights: Floats, centres: Floats, rounds: int = 12) -> Floats:
    for _ in range(rounds):
        labels = _nearest(colours, centres)
        mass = np.bincount(labels, weights, minlength=len(centres))
        heavy = weights[:, None] * colours
        sums = np.stack(
            [np.bincount(labels, heavy[:, i], minlength=len(centres)) for i in range(3)], axis=1
        )
        moved = np.where(mass[:, None] > 0, sums / np.maximum(mass, 1e-9)[:, None], centres)
        if np.allclose(moved, centres, atol=1e-3):
            return moved
        centres = moved
    return centres


def _to_merge(
    colours: Floats, weights: Floats, labels: NDArray[np.intp], centres: Floats, share: Floats,
    most: int,
) -> tuple[int, int] | None:
    """(keep, drop): the pair to merge next, or None when the palette stands."""
    count = len(centres)
    if count == 1:
        return None
    gaps = ciede2000(centres[:, None], centres[None])
    gaps[np.arange(count), np.arange(count)] = np.inf
    smallest = int(np.argmin(share))
    if share[smallest] < _SMALLEST:
        return int(np.argmin(gaps[smallest])), smallest
    a, b = (int(i) for i in np.unravel_index(np.argmin(gaps), gaps.shape))
    keep, drop = (a, b) if share[a] >= share[b] else (b, a)
    if gaps[a, b] < _MERGE or count > most:
        return keep, drop
    return _one_dye_in_shade(colours, weights, centres, share, gaps)


def _one_dye_in_shade(
    colours: Floats, weights: Floats, centres: Floats, share: Floats, gaps: Floats
) -> tuple[int, int] | None:
    """The closest pair that differs as light and shade do, with no valley between."""
    close = np.argwhere(np.triu(gaps < _SHADED, 1))
    for a, b in sorted(close.tolist(), key=lambda pair: round(float(gaps[pair[0], pair[1]]), 6)):
        if _as_in_shade(centres[a], centres[b]) and not _valley(
            colours, weights, centres[a], centres[b]
        ):
            return (a, b) if share[a] >= share[b] else (b, a)
    return None


def _as_in_shade(first: Floats, second: Floats) -> bool:
    """In shade chroma falls with lightness and hue stays."""
    light, dark = (first, second) if first[0] >= second[0] else (second, first)
    expected = light[1:] * (dark[0] / max(float(light[0]), 1.0))
    return bool(np.hypot(*(expected - dark[1:])) < 6)


def _valley(colours: Floats, weights: Floats, first: Floats, second: Floats) -> bool:
    """Whether fewer pixels lie half way between two centres than at either."""
    axis = second - first
    length = float(axis @ axis)
    along = (colours - first) @ axis / length
    off = np.square(colours - first - along[:, None] * axis).sum(axis=1)
    near = off < max(0.25 * length, 25.0)

    def mass(at: float) -> float:
        return float(weights[near & (np.abs(along - at) < 0.15)].sum())

    return mass(0.5) < 0.6 * min(mass(0.0), mass(1.0))


def _distance(colours: Floats, centre: Floats) -> Floats:
    return np.asarray(np.linalg.norm(colours - centre, axis=1))


def _nearest(points: Floats, centres: Floats) -> NDArray[np.intp]:
    """Index of the nearest centre for each point."""
    to = centres.astype(points.dtype)
    product = np.einsum("ni,ki->nk", points, to)
    return np.asarray(np.argmin((to**2).sum(axis=1) - 2 * product, axis=1))
