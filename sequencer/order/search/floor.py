"""What no order can weigh less than, known at once: the two cheapest steps of every print."""

from __future__ import annotations

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.question import Question
from sequencer.order.search.tours.turning import ring_of


def at_least(q: Question) -> int:
    """Each print in a ring has two steps, each step two prints: half the sum of the cheapest two.

    On a path each print is taken to be an end as well, so there it is about half as much. Of a
    choice those that must be in, then the least of the others. Whole numbers throughout; 0 where
    an order has no sum or hardly a step.
    """
    if q.bottleneck or q.size < 3:
        return 0
    weights = np.minimum(ring_of(q)[0].weights, FORBIDDEN >> 4)
    n = len(weights)
    steps = np.partition(weights, 1, axis=1)[:, :2].sum(axis=1)
    must = {*q.include, *(v for v in (q.first, q.last) if v is not None), *range(q.count, n)}
    needed = np.isin(np.arange(n), sorted(must))
    others = np.sort(steps[~needed])[: max(0, q.size + n - q.count - len(must))]
    return int(-(-(steps[needed].sum() + others.sum()) // 2))
