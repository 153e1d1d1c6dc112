"""How far seams will miss each other at the column joins, by seeded simulation.

A seam is sewn a little wide or narrow: nineteen times in twenty within the tolerance, half of
that variance shared by the whole seam, half wandering along it (our assumption, no source).
Columns cut from one strip set share its seams' common errors, so between neighbours only the
wandering adds up down the rows; from two sets (pressed to nest) both do.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from sequencer.models import Column
from sequencer.plan.asked import Request

TRIALS = 400


def simulate_precision(
    request: Request, columns: Sequence[Column], seed: int = 0
) -> dict[str, float]:
    """Misses at column joins that nineteen in twenty stay below, in inches and strip widths.

    ``pinned``: the seams pinned to meet at every repeat; ``unpinned``: only at the middle.
    """
    tolerance = float(request.tolerance)
    narrowest = float(min(request.strips.values()))
    pinned, unpinned = (0.0, 0.0) if len(columns) < 2 else _misses(
        len(request.ids), request.repeats, request.press == "nested", seed
    )  # fmt: skip
    return {
        "tolerance": round(tolerance, 6),
        "pinned": round(pinned * tolerance, 4),
        "unpinned": round(unpinned * tolerance, 4),
        "pinned_share": round(pinned * tolerance / narrowest, 3),
        "unpinned_share": round(unpinned * tolerance / narrowest, 3),
    }


@lru_cache(maxsize=256)
def _misses(n: int, repeats: int, two_sets: bool, seed: int) -> tuple[float, float]:
    """95th percentiles of |miss| for a tolerance of 1, over rows and trials."""
    rows = n * repeats
    spread = 0.5 * np.sqrt(0.5)
    random = np.random.default_rng(seed)
    shared = random.normal(0, spread, (TRIALS, rows + 1))
    other = random.normal(0, spread, (TRIALS, rows)) if two_sets else shared[:, 1:]
    wander = random.normal(0, spread, (2, TRIALS, rows))
    gaps = np.cumsum(shared[:, :rows] - other + wander[0] - wander[1], axis=1)
    gaps = np.concatenate([np.zeros((TRIALS, 1)), gaps], axis=1)
    unpinned = gaps - gaps[:, [rows // 2]]
    places = np.arange(rows + 1)
    pins = places[::n]
    eased = np.stack([gap - np.interp(places, pins, gap[pins]) for gap in gaps])
    high = [float(np.quantile(np.abs(gap), 0.95)) for gap in (eased, unpinned)]
    return round(high[0], 6), round(high[1], 6)
