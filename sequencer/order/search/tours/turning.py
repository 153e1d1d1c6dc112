"""A question as a closed tour, and its answer turned back into a list."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.question import Question
from sequencer.order.search.tours.ring import Answer, Ring


def ring_of(q: Question) -> tuple[Ring, bool]:
    """The closed-tour question; True when node n is an extra one that opens the ring to a path."""
    n = q.count
    fixed = set(q.together)
    if q.loop:
        if q.first is not None and q.last is not None:
            fixed.add((min(q.first, q.last), max(q.first, q.last)))
        return Ring(q.weights, frozenset(fixed), q.limits), False
    weights = np.zeros((n + 1, n + 1), dtype=np.int64)
    weights[:n, :n] = q.weights
    weights[n, n] = FORBIDDEN
    fixed |= {(end, n) for end in (q.first, q.last) if end is not None}
    return Ring(weights, frozenset(fixed), q.limits), True


def turned(q: Question, answer: Answer, opened: bool) -> Answer:
    """A ring as a list that starts and runs as the question wants."""
    if answer.order is None:
        return answer
    ring = list(answer.order)
    if opened:
        at = ring.index(q.count)
        ring = ring[at + 1 :] + ring[:at]
    choices = [ring, ring[::-1]]
    if q.loop and q.first is not None:
        choices = [_from(order, q.first) for order in choices]
    good = [order for order in choices if q.accepts(order)]
    return replace(answer, order=tuple(good[0] if good else ring))


def _from(order: list[int], start: int) -> list[int]:
    at = order.index(start)
    return order[at:] + order[:at]
