"""What no order can weigh less than, known at once: the two cheapest steps of every print."""

from __future__ import annotations

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.question import Question
from sequencer.order.search.tours.turning import ring_of


def at_least(q: Question) -> int:
    """Each print in a ring has two steps, each step two prints: half the sum of the cheapest two.

    On a path each print is taken to be an end as well, so there it is about half as much. Of a
    choice those that must be in, then the least of the others. Whole numbers throughout; 0 where
    an order has hardly a step. For the largest step see :func:`_level_at_least`.
    """
    if q.size < 3:
        return 0
    if q.bottleneck:
        return _level_at_least(q)
    weights = np.minimum(ring_of(q)[0].weights, FORBIDDEN >> 4)
    steps = np.partition(weights, 1, axis=1)[:, :2].sum(axis=1)
    used = _least_used(steps, {*_must(q), *range(q.count, len(weights))}, q.size - q.count)
    return int(-(-used.sum() // 2))


def _level_at_least(q: Question) -> int:
    """Every print but a path's two ends has two neighbours: its second cheapest step is taken."""
    second = np.partition(np.minimum(q.weights, FORBIDDEN), 1, axis=1)[:, 1]
    used = np.sort(_least_used(second, _must(q), q.size - q.count))
    return int(used[-1 if q.loop else -3])


def _must(q: Question) -> set[int]:
    return {*q.include, *(v for v in (q.first, q.last) if v is not None)}


def _least_used(steps: Ints, must: set[int], short: int) -> Ints:
    """Figures of those that must be in, then the least of the others; ``short`` of all: ≤ 0."""
    needed = np.isin(np.arange(len(steps)), sorted(must))
    others = np.sort(steps[~needed])
    return np.concatenate([steps[needed], others[: max(0, len(others) + short)]])
