"""What merges at a smaller size: prints left to a neighbour, heights shared out among strips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np

from sequencer.colour import ciede2000
from sequencer.inches import on_grid, round_up
from sequencer.models import Lab

FINER = (1, 2, 4)
"""Ruler steps, then halves and quarters of them, tried for strips that must fill the height."""


def merge_prints(order: Sequence[str], labs: Sequence[Lab], keep: int) -> dict[str, str]:
    """Runs of neighbours, each represented by one of them, with the least sum of squared ΔE00.

    Exact, by dynamic programming over where runs end (Bellman 1961). Returns for each print the
    one that stands for it.
    """
    n = len(order)
    apart = np.rint(ciede2000(np.array(labs)[:, None], np.array(labs)[None]) ** 2 * 1e4)
    cost = np.full((n, n + 1), np.inf)
    middle = np.zeros((n, n + 1), dtype=int)
    for start in range(n):
        for end in range(start + 1, n + 1):
            sums = apart[start:end, start:end].sum(axis=0)
            middle[start, end] = start + int(sums.argmin())
            cost[start, end] = sums.min()
    best = np.full((keep + 1, n + 1), np.inf)
    best[0, 0] = 0
    back = np.zeros((keep + 1, n + 1), dtype=int)
    for run in range(1, keep + 1):
        totals = best[run - 1, :n, None] + cost
        back[run] = totals.argmin(axis=0)
        best[run] = totals.min(axis=0)
    stands, end = {}, n
    for run in range(keep, 0, -1):
        start = int(back[run, end])
        stands.update(dict.fromkeys(order[start:end], order[middle[start, end]]))
        end = start
    return {key: stands[key] for key in order}


def share_out(
    total: Fraction, weights: Sequence[Fraction], least: Fraction, grid: Fraction
) -> list[Fraction] | None:
    """Strips in proportion to ``weights``, each ≥ ``least``, adding up to ``total`` exactly.

    On the ruler where it can be, else on halves or quarters of its steps, else equal fractions.
    """
    if least * len(weights) > total:
        return None
    for finer in FINER:
        step = grid / finer
        if on_grid(total, step) and round_up(least, step) * len(weights) <= total:
            return [step * part for part in _portions(
                int(total / step), weights, int(round_up(least, step) / step))]  # fmt: skip
    return [total / len(weights)] * len(weights)


def _portions(total: int, weights: Sequence[Fraction], least: int) -> list[int]:
    """Whole numbers in proportion to ``weights``, spread evenly, none below ``least``."""
    whole = sum(weights, Fraction(0))
    marks = [math.floor(mark * total / whole + Fraction(1, 2)) for mark in accumulate(weights)]
    parts = [b - a for a, b in pairwise([0, *marks])]
    while min(parts) < least:
        low, high = parts.index(min(parts)), parts.index(max(parts))
        parts[low], parts[high] = parts[low] + 1, parts[high] - 1
    return parts
