"""Colours counted in a coarse CIELAB histogram, and k-means on its bins.

Constants are by hand, never fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from sequencer.prints.pixels import Codes, Floats

_CELL = np.array([4, 2, 2], np.int32)  # codes of one bin's sides: 3 units of CIELAB each
_FLOOR = 0.002  # of all pixels, about, that a bin and its neighbours hold to be a seed
_APART = 7.0  # ΔE76 between seeds
_ALL_AROUND = 27  # bins of a crowd: one and its neighbours
_ZERO = np.array([0, 128, 128])  # codes of L*, a*, b* 0
_SETTLED = 0.05  # units of CIELAB that no centre moves by any more


@dataclass(frozen=True, eq=False)
class Bins:
    """``index`` (…): the bin of each pixel. ``colours`` (m, 3) CIELAB.

    ``weights`` (m,): what a bin's pixels count for the means. ``crowd`` (m,): what they and those
    of its 26 neighbours count for being seen at all, since a small accent fills many bins.
    ``pixels`` (m,): the same of a bin alone.
    """

    index: NDArray[np.int32]
    colours: Floats
    weights: Floats
    crowd: Floats
    pixels: Floats


def counted(codes: Codes, seen: Floats, weights: Floats | None = None) -> Bins:
    """Bins of ``codes`` (3, …). Each pixel counts ``seen`` (…) for the crowd, which is what the
    means are weighed by too unless they have ``weights`` (…) of their own.
    """
    at = [(codes[i] // np.uint8(_CELL[i])).astype(np.int32) for i in range(3)]
    for axis in at:
        axis -= axis.min() - 1  # an empty bin all round, so that every bin has 26 neighbours
    sides = [int(axis.max()) + 2 for axis in at]
    number = ((at[0] * sides[1] + at[1]) * sides[2] + at[2]).ravel()
    occupied = np.flatnonzero(np.bincount(number, minlength=int(np.prod(sides))))
    rank = np.full(int(np.prod(sides)), len(occupied), np.int32)
    rank[occupied] = np.arange(len(occupied))
    index, size = rank[number], len(occupied)
    pixels = np.bincount(index, minlength=size)
    sums = [np.bincount(index, codes[i].ravel(), size) for i in range(3)]
    colours = np.stack(sums, axis=1) / pixels[:, None] * [0.5, 1, 1] - _ZERO
    count = np.bincount(index, seen.ravel(), size).astype(float)
    heavy = count
    if weights is not None:
        heavy = np.bincount(index, weights.ravel(), size).astype(float)
    beside = [(i * sides[1] + j) * sides[2] + k for i, j, k in product((-1, 0, 1), repeat=3)]
    padded = np.append(count, 0.0)
    crowd = np.zeros(size)
    for step in beside:
        crowd += padded[rank[occupied + step]]
    return Bins(index.reshape(codes.shape[1:]), colours, heavy, crowd, count)


def seeds(bins: Bins, most: int) -> Floats:
    """Start at the heaviest bin, then by turns the bin whose crowd and distance say most."""
    chosen = [int(np.argmax(bins.crowd))]
    gap = np.full(len(bins.colours), np.inf)
    enough = bins.crowd >= _FLOOR * bins.crowd.sum() / _ALL_AROUND
    for _ in range(most - 1):
        gap = np.minimum(gap, np.square(bins.colours - bins.colours[chosen[-1]]).sum(axis=1))
        score = np.where(enough, np.sqrt(bins.crowd) * gap, 0.0)
        best = int(np.argmax(score))
        if gap[best] < _APART**2 or score[best] == 0:
            break
        chosen.append(best)
    return bins.colours[chosen]


def kmeans(bins: Bins, centres: Floats, rounds: int) -> Floats:
    """Lloyd's rounds on weighted bins; a centre without bins stays where it is."""
    heavy = (bins.weights[:, None] * bins.colours).T
    for _ in range(rounds):
        labels = nearest(bins.colours, centres)
        mass = np.bincount(labels, bins.weights, minlength=len(centres))
        sums = np.stack(
            [np.bincount(labels, heavy[i], minlength=len(centres)) for i in range(3)], axis=1
        )
        moved = np.where(mass[:, None] > 1e-9, sums / np.maximum(mass, 1e-9)[:, None], centres)
        if np.abs(moved - centres).max() < _SETTLED:
            return np.asarray(moved)
        centres = moved
    return centres


def nearest(points: Floats, centres: Floats) -> NDArray[np.intp]:
    """Index of the nearest centre for each of ``points`` (n, 3)."""
    scores = np.einsum("ni,ki->nk", points, centres)
    return np.asarray(np.argmin(np.square(centres).sum(axis=1) - 2 * scores, axis=1))
