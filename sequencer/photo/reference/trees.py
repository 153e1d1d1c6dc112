"""What weights leave of a grey card: evidence that counts otherwise together than each by itself.

A weight for each thing known of a candidate cannot say that what outshines it tells in a bright
picture and nothing in a dark one. Small trees can: each asks one question of a candidate, then one
of two more, and adds one of four figures to its log odds (gradient boosting; Friedman 2001). They
are fitted to what the weights leave by benchmarks/photo/fit_reference.py --trees, which writes
``trees.csv``. Cards only: fitted for sheets as well, they knew the simulator's sheets too well.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]

FILE = Path(__file__).parent / "trees.csv"
"""A tree a line: column and limit of the first question, of the one asked at or below that limit,
of the one asked above it; then what is added at or below both limits, above the second alone, above
the first alone, above both."""
_QUESTIONS = 6  # numbers of a line that are the three questions', before the four ends


def added(rows: Floats) -> Floats:
    """Log odds (n,) that trees add to what is known of candidates (n, k)."""
    total = np.zeros(len(rows))
    for tree in _trees():
        total += ends(tree, rows)
    return total


def ends(tree: Floats, rows: Floats) -> Floats:
    """What one tree (10,) adds to each row (n, k)."""
    first, low, high = (
        rows[:, int(column)] > limit for column, limit in tree[:_QUESTIONS].reshape(-1, 2)
    )
    return np.asarray(tree[_QUESTIONS:][2 * first + np.where(first, high, low)])


@cache
def _trees() -> Floats:
    return np.loadtxt(FILE, delimiter=",", ndmin=2)
