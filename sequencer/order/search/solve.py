"""One question → one proved answer: which method answers which question."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.layers import solve_layers
from sequencer.order.search.precedence import solve_before
from sequencer.order.search.question import Question
from sequencer.order.search.rings import NONE, Answer, Ring, solve_ring
from sequencer.order.search.thresholds import least_largest_ring

SMALL = 10
"""Up to so many prints the layers hold everything there is, and take every wish."""
SMALL_BEFORE = 18
"""With 'before' the layers prune so well, and the integer model so badly, that they go further."""


def solve(question: Question, deadline: float) -> Answer:
    """The cheapest order that keeps every rule, proved or bounded by the deadline."""
    q = question
    if q.size > q.count or len(q.include) > q.size:
        return NONE
    if (q.size == q.count and not _spans(q)) or _must_meet_and_may_not(q):
        return NONE
    small = q.count <= (SMALL_BEFORE if q.before else SMALL)
    if small or q.size < q.count or (q.before and q.bottleneck):
        return solve_layers(q, deadline)
    ring, opened = ring_of(q)
    solver = least_largest_ring if q.bottleneck else solve_ring
    answer = _turned(q, solver(ring, deadline), opened)
    if answer.order is None or q.accepts(answer.order):
        return answer
    rough = solve_layers(q, deadline, widths=(2000,))
    return solve_before(q, ring, rough, deadline)


def _spans(q: Question) -> bool:
    if q.value_range <= 0:
        return True
    return q.value is not None and bool(np.ptp(q.value) >= q.value_range)


def _must_meet_and_may_not(q: Question) -> bool:
    pairs = set(q.together)
    if q.loop and q.first is not None and q.last is not None and q.size > 1:
        pairs.add((q.first, q.last))
    return any(q.weights[pair] >= FORBIDDEN for pair in pairs)


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


def _turned(q: Question, answer: Answer, opened: bool) -> Answer:
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
