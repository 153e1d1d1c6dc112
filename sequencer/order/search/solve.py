"""One question → one proved answer: which method answers which question."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.chosen.bettered import bettered, tried_round
from sequencer.order.search.chosen.choosing import choose
from sequencer.order.search.floor import at_least
from sequencer.order.search.inserted import inserted
from sequencer.order.search.precedence import solve_before
from sequencer.order.search.question import Question
from sequencer.order.search.tables.layers import solve_layers
from sequencer.order.search.tours.ring import NONE, Answer, share_of
from sequencer.order.search.tours.rings import solve_ring
from sequencer.order.search.tours.thresholds import least_largest_ring
from sequencer.order.search.tours.turning import ring_of, turned

SMALL = 10
"""Up to so many prints the layers hold everything there is, and take every wish."""
SMALL_BEFORE = 18
"""With 'before' the layers prune so well, and the integer model so badly, that they go further."""
FEW = 14
"""Choices of up to so many are followed by layers faster than by the integer model, however many
prints there are to choose from; beyond, their bound falls short (20 of 200: 13 to 23 %)."""
ROUGH = (60,)
"""The layers' widths for a first choice that the integer model starts from."""
BETTERING = 0.2
"""At most this share of the time goes into a better start."""
LATE = 0.1
"""Seconds after the deadline in which a first order is still looked for."""


def solve(question: Question, deadline: float) -> Answer:
    """The cheapest order that keeps every rule, proved or bounded by the deadline.

    Where time ran out before a first order, one by insertion, so that there is nearly always one;
    and a bound that needs no time.
    """
    answer = _solved(question, deadline)
    if answer.proved:
        return answer
    begun = answer if answer.order is not None else _begun(question, answer)
    bound = max(begun.bound, at_least(question))
    return replace(begun, bound=bound if begun.order is None else min(bound, begun.weight))


def _begun(q: Question, answer: Answer) -> Answer:
    """Some order: by insertion; where pairs are forbidden and it finds none, by trying round."""
    order = inserted(q)
    if order is None and q.size > 3:
        summed = replace(q, bottleneck=False)
        order = tried_round(summed, ring_of(q)[0], time.monotonic() + LATE)
    if order is None:
        return answer
    weight = q.weigh(order)
    return Answer(order, weight, min(answer.bound, weight), False)


def _solved(question: Question, deadline: float) -> Answer:
    q = question
    if q.size > q.count or len(q.include) > q.size:
        return NONE
    if (q.size == q.count and not _spans(q)) or _must_meet_and_may_not(q):
        return NONE
    small = q.count <= (SMALL_BEFORE if q.before else SMALL)
    if small or (q.before and q.bottleneck):
        return solve_layers(q, deadline)
    if q.size < q.count:
        return _chosen(q, deadline)
    ring, opened = ring_of(q)
    solver = least_largest_ring if q.bottleneck else solve_ring
    answer = turned(q, solver(ring, deadline), opened)
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


def _chosen(q: Question, deadline: float) -> Answer:
    """By layers alone where they can be followed to the end, else as a start for the model."""
    if q.size <= FEW or q.before or q.bottleneck:
        return solve_layers(q, deadline)
    rough = solve_layers(q, deadline, widths=ROUGH)
    if rough.proved:
        return rough
    rough = rough if rough.order is not None else _begun(q, rough)
    ring, _ = ring_of(q)
    better = bettered(q, ring, rough, share_of(deadline, BETTERING))
    return choose(q, ring, better, deadline)
