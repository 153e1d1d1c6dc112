"""The cheapest closed tour over all nodes, proved: an integer program with lazy subtour cuts.

Dantzig, Fulkerson and Johnson (1954) for the model; a linear program over a sparse set of edges
first, the rest priced (Applegate, Bixby, Chvátal and Cook 2006); its reduced costs leave few edges
that a better tour could use, and HiGHS (Huangfu and Hall 2018) solves the integer program over
them, again with every subtour it makes cut off, until none is left. An open path is a tour through
one extra node that costs nothing.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.tours.first import LARGE, first_tour
from sequencer.order.search.tours.local import near_neighbours, polished, tour_weight
from sequencer.order.search.tours.relaxation import Relaxation
from sequencer.order.search.tours.ring import NONE, Answer, Ring, one_ring, share_of, tour_pairs
from sequencer.order.search.tours.subtours import Mask, all_subtours, key, subtours

_EPS = 1e-6
_FEW = 24
"""Up to so many nodes every edge is in play from the start."""
_KICKS_EACH = 4
_RESERVE = 0.85
"""Share of the time that a large box may use, since one of its steps may take seconds."""


def solve_ring(ring: Ring, deadline: float, any_tour: bool = False) -> Answer:
    """The cheapest tour that keeps the rules; n ≥ 5. ``deadline`` in time.monotonic seconds.

    ``any_tour``: the first one found is enough; only that there is none is proved.
    """
    if len(ring.weights) > LARGE:
        deadline = share_of(deadline, _RESERVE)
    return RingSearch(ring, deadline).run(any_tour)


class RingSearch:
    """Holds the best tour, the bound and the relaxation while they close in on each other."""

    def __init__(self, ring: Ring, deadline: float) -> None:
        self.ring, self.deadline, self.n = ring, deadline, len(ring.weights)
        start = first_tour(ring, share_of(deadline, 0.2))
        self.best: list[int] | None = start if ring.allows(start) else None
        self.line = np.array(start)
        self.bound = -np.inf
        self.relaxation = Relaxation(
            self.n, ring.weights, self._first_edges(start), ring.fixed, ring.limits
        )

    @property
    def upper(self) -> float:
        """Weight of the best tour so far."""
        return np.inf if self.best is None else tour_weight(self.ring.weights, self.best)

    @property
    def left(self) -> float:
        """Seconds left."""
        return self.deadline - time.monotonic()

    def _first_edges(self, start: list[int]) -> Ints:
        weights = self.ring.weights
        if self.best is None or self.n <= _FEW:
            a, b = np.nonzero(np.triu(weights < FORBIDDEN, 1))
            return np.column_stack([a, b])
        near = near_neighbours(weights, 8)
        pairs = {(min(a, b), max(a, b)) for a in range(self.n) for b in near[a].tolist()}
        pairs |= tour_pairs(start) | self.ring.fixed
        for limited, _ in self.ring.limits:
            pairs |= limited
        ends: Ints = np.array(sorted(pairs), dtype=np.int64)
        return np.asarray(ends[weights[ends[:, 0], ends[:, 1]] < FORBIDDEN])

    def run(self, any_tour: bool = False) -> Answer:
        """The linear program with its cuts; if that leaves a gap, the integer program."""
        if any_tour and self.best is not None:
            return self._answer()
        if len(self.relaxation.ends) < self.n:
            return NONE
        state = self.tighten()
        if state and not self._closed():
            self._polish()
        if self.best is not None and self.n > LARGE:
            return self._answer()
        if state and not self._closed():
            state = self._whole(any_tour)
        return NONE if state is False else self._answer()

    def _closed(self) -> bool:
        return bool(np.isfinite(self.bound) and np.ceil(self.bound) >= self.upper)

    def _answer(self) -> Answer:
        if self.best is None:
            return Answer(None, 0, self.bound, False)
        proved, weight = self._closed(), int(self.upper)
        return Answer(tuple(self.best), weight, weight if proved else self.bound, proved)

    def tighten(self) -> bool | None:
        """The linear program with every cut and edge it needs. False: no tour; None: no time."""
        r = self.relaxation
        while True:
            solved = r.solve(self.left) if self.left > 0 else None
            if solved is not True:
                return solved
            x = r.x()
            self._take(r.ends, x)
            cuts = subtours(self.n, r.ends, x, self.line)
            if not cuts and self._price():
                continue
            cuts = cuts or all_subtours(self.n, r.ends, x)
            if all(key(cut) in r.seen for cut in cuts):
                return True
            r.drop_idle_cuts()
            r.add_cuts(cuts)

    def _take(self, ends: Ints, x: Floats) -> None:
        """A whole-numbered answer in one ring is a tour: keep it if it is better."""
        if np.abs(x - np.rint(x)).max(initial=0.0) > 1e-5:
            return
        tour = one_ring(self.n, ends[x > 0.5])
        if tour:
            self._keep(tour)

    def _keep(self, tour: list[int]) -> None:
        if self.ring.allows(tour) and tour_weight(self.ring.weights, tour) < self.upper:
            self.best = tour
            self.line = np.array(tour)

    def _price(self) -> int:
        """Bring in edges whose reduced cost is negative; how many."""
        bound, price = self.relaxation.prices()
        self.bound = max(self.bound, bound)
        out = self.ring.weights < FORBIDDEN
        out[tuple(self.relaxation.ends.T)] = False
        a, b = np.nonzero(np.triu(out & (price < -_EPS), 1))
        if len(a) > 4 * self.n:
            cheapest = np.argsort(price[a, b], kind="stable")[: 4 * self.n]
            a, b = a[cheapest], b[cheapest]
        self.relaxation.add_edges(np.column_stack([a, b]))
        return len(a)

    def _polish(self) -> None:
        """Look for a better tour where the relaxation points."""
        if self.best is None:
            return
        _, price = self.relaxation.prices()
        price[self.ring.weights >= FORBIDDEN] = FORBIDDEN
        for a, b in self.ring.fixed:
            price[a, b] = price[b, a] = -FORBIDDEN
        large = self.n > LARGE
        self._keep(polished(
            self.ring.pulled(), self.relaxation.potentials(), price, self.best,
            kicks=(10**9 if large else _KICKS_EACH * self.n),
            deadline=share_of(self.deadline, 0.9 if large else 0.2),
        ))

    def _whole(self, any_tour: bool) -> bool | None:
        """Integer programs over the edges a better tour may use, each with the last one's subtours.

        True: the bound is as good as it gets; False: no tour at all; None: out of time.
        """
        ends, low = self.edges_that_matter(self.upper)
        r = Relaxation(self.n, self.ring.weights, ends, self.ring.fixed, self.ring.limits)
        r.add_cuts(self.relaxation.cuts)
        r.make_whole(low)
        while not (self._closed() or (any_tour and self.best is not None)):
            if self.left <= 0:
                return None
            solved = r.solve(self.left, below=self.upper - 0.5)
            if solved is False:
                self.bound = max(self.bound, self.upper)
                return self.best is not None
            self.bound = max(self.bound, min(r.whole_bound, self.upper))
            if solved is None:
                return None
            x = r.x()
            self._take(ends, x)
            fresh = r.add_cuts(subtours(self.n, ends, x, self.line))
            if not fresh:
                return True
        return True

    def edges_that_matter(self, upper: float) -> tuple[Ints, Floats]:
        """Edges that a tour lighter than ``upper`` may use, and those it must (low bound 1)."""
        bound, price = self.relaxation.prices()
        gap = upper - 1 - bound
        keep = np.triu(price <= gap, 1) & (self.ring.weights < FORBIDDEN)
        for pair in self.ring.fixed:
            keep[pair] = True
        a, b = np.nonzero(keep)
        low = np.where(price[a, b] < -gap, 1.0, 0.0)
        low[[pair in self.ring.fixed for pair in zip(a.tolist(), b.tolist(), strict=True)]] = 1.0
        return np.column_stack([a, b]), low


@dataclass(frozen=True, eq=False)
class Relaxed:
    """What a relaxation leaves: a bound, its cuts, and the edges (m, 2) that still matter."""

    bound: float
    cuts: tuple[Mask, ...]
    ends: Ints
    impossible: bool = False


def relaxed(ring: Ring, upper: int | None, deadline: float) -> Relaxed | None:
    """The root only, for a question with rules of its own whose best known weight is ``upper``.

    None: out of time. Every edge that an order lighter than ``upper`` may use is in ``ends``.
    """
    search = RingSearch(ring, share_of(deadline, 0.3))
    solved = search.tighten()
    if solved is None:
        return None
    if solved is False:
        return Relaxed(np.inf, (), np.empty((0, 2), dtype=np.int64), True)
    ends, _ = search.edges_that_matter(np.inf if upper is None else upper)
    return Relaxed(search.bound, tuple(search.relaxation.cuts), ends)
