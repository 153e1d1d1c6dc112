"""A good first tour: chained Lin-Kernighan, for large boxes the compiled Or-opt of fast-tsp.

Or (1976) for the moves of the latter; Helsgaun (2000) for its neighbours by minimum 1-trees. Only a
start: its coarse weights are refined here with the exact ones, and it may be missing.
"""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.tours.local import good_tour, near_neighbours
from sequencer.order.search.tours.ring import Ring

LARGE = 400
"""Beyond so many nodes the first tour comes from a compiled search, and what the linear program
leaves open is closed by better tours, not by integer programs, which would not end in time."""
_RANGE = 65_000
"""Weights of that search are 16 bits wide."""
_NEAR = 10
_FAR_TIMES = (4, 64)


def first_tour(ring: Ring, deadline: float) -> list[int]:
    """A good tour; where few of some pairs may meet, these are made dearer until it keeps that."""
    weights, n = ring.pulled(), len(ring.weights)
    if n > LARGE:
        near = near_neighbours(ring.weights, _NEAR)
        warm = _compiled(ring.weights, near, ring.fixed, deadline - time.monotonic())
        if warm and ring.allows(warm):
            return warm
    tour = good_tour(weights, kicks=n // 3, deadline=deadline)
    usual = int(weights[np.array(tour), np.roll(tour, -1)].clip(0).mean()) + 1
    for times in (0.1, 0.3, 1.0, 3.0) if ring.limits else ():
        if ring.allows(tour):
            break
        dearer = weights.copy()
        for pairs, _ in ring.limits:
            for a, b in pairs:
                dearer[a, b] = dearer[b, a] = dearer[a, b] + int(times * usual)
        tour = good_tour(dearer, kicks=n // 3, deadline=deadline)
    return tour


def _compiled(
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
    close = weights[np.arange(len(weights))[:, None], near]
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
