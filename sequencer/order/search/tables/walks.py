"""Completion bounds: the cheapest walk that could finish a partial order.

A walk may come back to a print, an order may not; so a walk never costs more than the best order
it stands for (Christofides, Mingozzi and Toth 1981). Where that is too little, every print has a
price, paid on each visit and handed back once: coming back then costs, and the bound stays true
(Lagrangian relaxation of 'at most once'; Held and Karp 1971 on loops).
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.question import Question

_MOST_CELLS = 12_000_000


class LateError(Exception):
    """Time is up before the tables are whole; for the layers alone."""


_STEPS = 200


@dataclass(eq=False)
class Walks:
    """Tables of onward weights, and what an order owes.

    An *anchor* is a print that a case is built round: the start of a loop, or the darkest print
    where a value range is asked; the cases together are all orders. ``start_of[a]``: where anchor
    case a starts, -1 if anywhere. ``may_hold[a, v]``: whether case a may hold print v. An order
    *owes* one bit for each promise not yet kept; ``paid[a, v]`` are the bits that v keeps.
    ``price[v]``: what a walk pays on coming to v, 0 unless asked for.
    """

    question: Question
    start_of: Ints
    may_hold: NDArray[np.bool_]
    paid: Ints
    all_owed: int
    table: list[Ints]
    price: Ints

    @property
    def promises(self) -> int:
        """One more than the largest set of owed bits."""
        return self.all_owed + 1

    def pays(self, anchor: Ints, v: Ints) -> Ints:
        """Promise bits that print v keeps in this case."""
        return self.paid[anchor, v]

    def onward(self, steps: int, anchor: Ints, owed: Ints, v: Ints) -> Ints:
        """Least weight of so many more steps from v (closing step included on a loop), prices of
        the prints to come included."""
        return self.table[steps][anchor, owed, v]

    def back(self, anchor: Ints) -> Ints:
        """What is handed back in each case: the prices of all it may hold."""
        back: Ints = (self.may_hold * self.price).sum(axis=1)[anchor]
        return back

    def starts(self) -> tuple[Ints, Ints, Ints]:
        """All one-print beginnings: print, case, bits owed."""
        n, q = self.question.count, self.question
        prints, cases = [], []
        later = {b for _, b in q.before} | ({q.last} if q.size > 1 else set())
        for case, start in enumerate(self.start_of.tolist()):
            for v in range(n) if start < 0 else (start,):
                free = self.may_hold[case, v] and (q.first is None or v == q.first)
                if free and v not in later:
                    prints.append(v)
                    cases.append(case)
        at, case_of = np.array(prints, dtype=np.int64), np.array(cases, dtype=np.int64)
        return at, case_of, self.all_owed & ~self.paid[case_of, at]


def walks_for(question: Question, deadline: float) -> Walks:
    """Split the question into cases and bound every way on; raises LateError."""
    start_of, may_hold, marks = _cases(question)
    paid, all_owed = _promises(question, marks, len(start_of))
    walks = Walks(question, start_of, may_hold, paid, all_owed, [],
                  np.zeros(question.count, dtype=np.int64))
    walks.table = _tables(question, walks, deadline)
    return walks


def priced(walks: Walks, deadline: float) -> Walks:
    """The same with prices that raise the least walk, by subgradient steps (Held and Karp 1971);
    raises LateError."""
    q = walks.question
    weights = np.where(q.weights < FORBIDDEN, q.weights, np.inf).astype(float)
    price, best, kept = np.zeros(q.count), -np.inf, np.zeros(q.count)
    step = 0.0
    for _ in range(_STEPS):
        bound, visits = _least_walk(weights, price, q.size)
        if not np.isfinite(bound):
            break
        if bound > best:
            best, kept = bound, price
        step = 0.98 * (step or bound / q.size)
        price = np.maximum(0.0, price + step * (visits - 1))
    again = replace(walks, price=np.floor(kept).astype(np.int64))
    again.table = _tables(q, again, deadline)
    return again


def _least_walk(weights: Floats, price: Floats, size: int) -> tuple[float, Floats]:
    """The cheapest walk over ``size`` prints, prices handed back, and how often it visits each."""
    ahead, choices = np.zeros(len(price)), []
    for _ in range(size - 1):
        ways = weights + (price + ahead)
        choices.append(ways.argmin(axis=1))
        ahead = ways[np.arange(len(price)), choices[-1]]
    at = int((ahead + price).argmin())
    bound, visits = float(ahead[at] + price[at] - price.sum()), np.zeros(len(price))
    visits[at] = 1
    for choice in reversed(choices):
        at = int(choice[at])
        visits[at] += 1
    return bound, visits


def _cases(q: Question) -> tuple[Ints, NDArray[np.bool_], list[Ints]]:
    """Starts, who may be held, and the promise masks (case, print) that the cases bring."""
    n = q.count
    ranged = q.value_range > 0 and q.value is not None
    start = q.first if q.first is not None else -1
    if q.loop and start < 0 and q.last is None and not ranged and q.include:
        start = min(q.include)
    fixed_start = start >= 0 or not q.loop or q.last is not None
    if fixed_start and not ranged:
        return np.array([start]), np.ones((1, n), dtype=bool), []
    rank = np.arange(n)
    if not ranged:
        return rank, rank[None, :] >= rank[:, None], []
    assert q.value is not None
    far = q.value[None, :] - q.value[:, None] >= q.value_range
    darkest = np.flatnonzero(far.any(axis=1) & _can_be_darkest(q))
    may_hold = rank[None, :] >= darkest[:, None]
    starts = np.full(len(darkest), start) if fixed_start else darkest
    own = rank[None, :] == darkest[:, None]
    return starts, may_hold, [own.astype(np.int64), far[darkest].astype(np.int64)]


def _can_be_darkest(q: Question) -> NDArray[np.bool_]:
    """Prints arrive sorted by value: nothing darker than the darkest that must be chosen."""
    needed = set(q.include) | {v for v in (q.first, q.last) if v is not None}
    return np.arange(q.count) <= min(needed, default=q.count)


def _promises(q: Question, marks: list[Ints], cases: int) -> tuple[Ints, int]:
    paid = np.zeros((cases, q.count), dtype=np.int64)
    bit = 1
    for mark in marks:
        paid += bit * mark
        bit *= 2
    if q.size < q.count:
        for v in sorted(q.include - {q.first, q.last}):
            if cases * 2 * bit * q.count * q.size > _MOST_CELLS or bit >= 1 << 10:
                break
            paid[:, v] += bit
            bit *= 2
    return paid, bit - 1


def _tables(q: Question, walks: Walks, deadline: float) -> list[Ints]:
    """table[r][case, owed, v], built from the end; unpaid promises at the end are forbidden."""
    n, cases = q.count, len(walks.start_of)
    join = np.maximum if q.bottleneck else np.add
    end = np.full((cases, walks.promises, n), FORBIDDEN, dtype=np.int64)
    end[:, 0, :] = 0
    if q.loop and q.size > 1:
        starts = walks.start_of
        fixed = starts >= 0
        end[fixed, 0, :] = q.weights[starts[fixed]]
    if q.last is not None:
        end[:, :, np.arange(n) != q.last] = FORBIDDEN
    end[np.broadcast_to(~walks.may_hold[:, None, :], end.shape)] = FORBIDDEN
    tables = [end]
    weights = q.weights + walks.price  # for the bottleneck there are no prices
    every = np.arange(n)
    for _ in range(q.size - 1):
        previous, table = tables[-1], np.empty_like(end)
        for case in range(cases):
            if time.monotonic() > deadline:
                raise LateError
            for owed in range(walks.promises):
                ahead = previous[case, owed & ~walks.paid[case], every]
                table[case, owed] = join(weights, ahead[None, :]).min(axis=1)
        np.minimum(table, FORBIDDEN, out=table)
        tables.append(table)
    return tables
