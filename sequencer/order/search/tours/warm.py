"""A very good first tour for large boxes, by the compiled Or-opt search of fast-tsp.

Or (1976) for the moves; Helsgaun (2000) for the neighbours by minimum 1-trees. Only a start: its
coarse weights are refined here with the exact ones, and without the package there is none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.order.graph.costs import FORBIDDEN, Ints

_RANGE = 65_000
"""Weights of that search are 16 bits wide."""
_NEAR = 10
_FAR_TIMES = (4, 64)


def warm_tour(
    weights: Ints, near: Ints, fixed: frozenset[tuple[int, int]], seconds: float
) -> list[int] | None:
    """A closed tour by weight (n, n), drawn to the ``fixed`` pairs; None without fast-tsp.

    ``near``: (n, k) nearest others. Forbidden pairs are merely far: the caller checks the tour.
    """
    try:
        from fast_tsp import find_tour
    except ImportError:
        return None
    tour = find_tour(_coarse(weights, near, fixed), duration_seconds=max(seconds, 0.1))
    return [int(v) for v in tour]


def _coarse(
    weights: Ints, near: Ints, fixed: frozenset[tuple[int, int]]
) -> NDArray[np.uint16]:
    """Weights cut off where no good tour goes, so that the rest keeps its fineness in 16 bits."""
    close = weights[np.arange(len(weights))[:, None], near[:, :_NEAR]]
    close = close[close < FORBIDDEN]
    largest, middle = int(close.max(initial=1)), float(np.median(close)) if len(close) else 1.0
    far = max(1.0, min(_FAR_TIMES[0] * largest, _FAR_TIMES[1] * middle) if middle else largest)
    coarse = np.minimum(weights.astype(float), far)
    if fixed:  # dearer by the same for every pair but these: a tour that keeps them all is best
        a, b = np.array(sorted(fixed)).T
        coarse += far
        coarse[a, b] = coarse[b, a] = 0.0
        far *= 2
    np.fill_diagonal(coarse, 0.0)
    return np.asarray(np.rint(coarse * (_RANGE / far)), dtype=np.uint16)
