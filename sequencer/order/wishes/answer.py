"""Wishes → the proved answer, in a unit fine enough for what can stand in it.

Weights are whole numbers, so their unit must suit the answer, which is not known beforehand: one
pair at 10**9 would make everything else round to nothing. So the first answer's own total sets
aside every pair that costs more than all of it, and the rest is asked again in a finer unit,
until the unit is fine enough.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Box, aimed, whole_weights
from sequencer.order.search.alternatives import different_enough
from sequencer.order.search.question import meetings
from sequencer.order.search.solve import solve
from sequencer.order.search.tours.ring import Answer
from sequencer.order.wishes.asked import Asked, Usual, ask
from sequencer.order.wishes.wish import Wishes

Order = tuple[int, ...]
_ROUNDING = 0.51
"""Most that a weight is off its cost, in units."""


@dataclass(frozen=True, eq=False)
class Found:
    """What was asked last and its answer; ``bound`` in the aim's own unit, never above the best.

    ``level``: for aim worst, what the largest cost is at least.
    """

    asked: Asked
    answer: Answer
    bound: float
    level: float = 0.0


def answer_for(
    box: Box, wishes: Wishes, aim: str, usual: Usual, deadline: float,
    unlike: Iterable[Order] = (),
) -> Found | None:
    """The best order that keeps the wishes, and differs from the ``unlike``; None: none could."""
    if aim != "worst":
        return _summed(box, wishes, aim, usual, deadline, tuple(unlike), np.inf)
    asked = _unlike(ask(box, wishes, "level", usual), unlike)
    if asked is None:
        return None
    level = solve(asked.question, deadline)
    least = _cost_of_rank(asked, level.bound)
    if level.order is None:
        return Found(asked, level, 0.0, least)
    largest = max((float(box.cost[pair]) for pair in meetings(level.order, asked.question.loop)),
                  default=0.0)
    # the best order's largest cost is no larger, so what holds below it holds for the best
    found = _summed(box, wishes, "total", usual, deadline, tuple(unlike), largest)
    if found is None or found.answer.order is None:  # out of time: the level's own order stands
        bound = 0.0 if found is None else found.bound
        return Found(asked, replace(level, proved=False), bound, least)
    answer = found.answer if level.proved else replace(found.answer, proved=False)
    return replace(found, answer=answer, level=least)


def _cost_of_rank(asked: Asked, rank: float) -> float:
    """The least cost of this rank or a higher one."""
    weights = asked.question.weights
    above = (weights >= rank) & (weights < FORBIDDEN)
    return float(asked.box.cost[above].min(initial=np.inf))


def _summed(
    box: Box, wishes: Wishes, aim: str, usual: Usual, deadline: float, unlike: tuple[Order, ...],
    level: float,
) -> Found | None:
    """As above, for the least sum of pairs that cost at most ``level``."""
    total: float | None = None
    best: Found | None = None
    while True:
        asked = _unlike(ask(box, wishes, aim, usual, total=total, level=level), unlike)
        if asked is None:
            return None
        answer = solve(asked.question, deadline)
        bound = max(0.0, (answer.bound - _ROUNDING * asked.question.size) / asked.scale)
        if answer.order is None:
            return best or Found(asked, answer, bound)
        found = Found(asked, answer, bound if best is None else max(bound, best.bound))
        price = math.fsum(float(aimed(box.cost[pair], aim))
                          for pair in meetings(answer.order, asked.question.loop))
        stopped = not answer.proved  # else a dearer price is the old unit's rounding
        if best is not None and total is not None and price > total and stopped:
            return replace(best, bound=found.bound)
        total = price
        late = not answer.proved and time.monotonic() >= deadline
        if total == 0 or late or _fine(asked, box, aim, total, level):
            return found
        best = replace(found, answer=replace(answer, proved=False))


def _fine(asked: Asked, box: Box, aim: str, total: float, level: float) -> bool:
    """Whether a finer unit would tell more than a tenth of this one does."""
    costs = np.where(box.cost <= level * (1 + 1e-11), box.cost, np.inf)
    return whole_weights(aimed(costs, aim), total)[1] <= 10 * asked.scale


def _unlike(asked: Asked, earlier: Iterable[Order]) -> Asked | None:
    orders = list(earlier)
    if not orders:
        return asked
    limits = different_enough(asked.question, orders)
    if limits is None:
        return None
    return replace(asked, question=replace(asked.question, limits=limits))
