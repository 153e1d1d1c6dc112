"""One question → one proved answer: which method answers which question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sequencer.order.costs import FORBIDDEN, Ints
from sequencer.order.exact import Answer, Ring, solve_ring
from sequencer.order.layers import solve_layers
from sequencer.order.precedence import solve_before
from sequencer.order.question import Question

SMALL = 9
"""Up to so many prints the layers are as quick as the integer model, and take every wish."""
SMALL_BEFORE = 18
"""With 'before' the layers prune so well, and the integer model so badly, that they go further."""


def solve(question: Question, deadline: float) -> Answer:
    """The cheapest order that keeps every rule, proved or bounded by the deadline."""
    q = question
    if q.size > q.count or len(q.include) > q.size:
        return Answer(None, 0, np.inf, True)
    if (q.size == q.count and not _spans(q)) or _must_meet_and_may_not(q):
        return Answer(None, 0, np.inf, True)
    small = q.count <= (SMALL_BEFORE if q.before else SMALL)
    if small or q.size < q.count or q.bottleneck:  # the ring's programs add costs up
        return solve_layers(q, deadline)
    ring, opened = ring_of(q)
    answer = _turned(q, solve_ring(ring, deadline), opened)
    if answer.order is None or q.accepts(answer.order):
        return answer
    rough = solve_layers(q, deadline, widths=(2000,))
    return solve_before(q, ring, rough, deadline)


def solve_worst(question: Question, deadline: float) -> tuple[Answer, int]:
    """Least largest pair first, then the least sum; the answer and the proved largest pair."""
    from sequencer.order.thresholds import least_largest_ring

    q = question
    if q.size < q.count or q.count <= SMALL or q.before:
        first = solve(replace(q, bottleneck=True), deadline)
        if first.order is None:
            return first, int(min(first.bound, FORBIDDEN))
        level = first.weight if first.proved else q_largest(q, first.order)
        answer = solve(replace(q, weights=_capped(q.weights, level)), deadline)
        if answer.order is None:
            answer = Answer(first.order, q.weigh(first.order), 0.0, False)
        return answer, int(first.bound)
    if not _spans(q) or _must_meet_and_may_not(q):
        return Answer(None, 0, np.inf, True), FORBIDDEN
    ring, turn = ring_of(q)
    answer, level = least_largest_ring(ring, deadline)
    return _turned(q, answer, turn), level


def q_largest(q: Question, order: Sequence[int]) -> int:
    """Largest weight between neighbours of this order."""
    return replace(q, bottleneck=True).weigh(order)


def _capped(weights: Ints, level: int) -> Ints:
    return np.where(weights <= level, weights, FORBIDDEN)


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
