"""How far seams will miss each other at the column joins, by seeded simulation.

A seam is sewn a little wide or narrow: nineteen times in twenty within the tolerance, half of
that variance shared by the whole seam, half wandering along it (our assumption, no source).
Neighbours cut from one strip set share its seams' common errors, so between them only the
wandering adds up down the rows; between neighbours from two sets both do. Which column comes from
which set is the plan's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Column
from sequencer.plan.asked import Request
from sequencer.plan.sewing.sets import StripSet

TRIALS = 400


def simulate_precision(
    request: Request, columns: Sequence[Column], sets: Sequence[StripSet], seed: int = 0
) -> dict[str, float]:
    """Misses at column joins that nineteen in twenty stay below, in inches and strip widths.

    ``pinned``: the seams pinned to meet at every repeat; ``unpinned``: only at the middle.
    """
    tolerance = float(request.tolerance)
    narrowest = float(min(request.strips.values()))
    pinned, unpinned = (0.0, 0.0) if len(columns) < 2 else _misses(
        len(request.ids), request.repeats, *meetings(len(columns), sets), seed
    )  # fmt: skip
    return {
        "tolerance": round(tolerance, 6),
        "pinned": round(pinned * tolerance, 4),
        "unpinned": round(unpinned * tolerance, 4),
        "pinned_share": round(pinned * tolerance / narrowest, 3),
        "unpinned_share": round(unpinned * tolerance / narrowest, 3),
    }


def meetings(columns: int, sets: Sequence[StripSet]) -> tuple[int, int]:
    """How many neighbours come from one set, and how many from two; a column counts by its first
    segment."""
    home: dict[int, str] = {}
    for one in sets:
        for segment in one.segments:
            home.setdefault(segment.column, one.name)
    alike = sum(home.get(place) == home.get(place + 1) for place in range(columns - 1))
    return alike, columns - 1 - alike


@lru_cache(maxsize=256)
def _misses(n: int, repeats: int, alike: int, apart: int, seed: int) -> tuple[float, float]:
    """95th percentiles of |miss| for a tolerance of 1, over rows, trials and meetings."""
    rows = n * repeats
    spread = 0.5 * np.sqrt(0.5)
    random = np.random.default_rng(seed)
    shared = random.normal(0, spread, (TRIALS, rows + 1))
    other = random.normal(0, spread, (TRIALS, rows))
    wander = random.normal(0, spread, (2, TRIALS, rows))
    pinned, unpinned = [], []
    for theirs, meet in ((shared[:, 1:], alike), (other, apart)):
        if not meet:
            continue
        gaps = np.cumsum(shared[:, :rows] - theirs + wander[0] - wander[1], axis=1)
        gaps = np.concatenate([np.zeros((TRIALS, 1)), gaps], axis=1)
        places = np.arange(rows + 1)
        pins = places[::n]
        eased = np.stack([gap - np.interp(places, pins, gap[pins]) for gap in gaps])
        pinned.append((np.abs(eased), meet))
        unpinned.append((np.abs(gaps - gaps[:, [rows // 2]]), meet))
    return _quantile(pinned), _quantile(unpinned)


def _quantile(parts: Sequence[tuple[NDArray[np.float64], int]]) -> float:
    """The 95th percentile of all parts together, each as heavy as its meetings are many."""
    values = np.concatenate([part.ravel() for part, _ in parts])
    weights = np.concatenate([np.full(part.size, float(meet)) for part, meet in parts])
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    place = int(np.searchsorted(reached, 0.95 * reached[-1]))
    return round(float(values[order][min(place, len(order) - 1)]), 6)
