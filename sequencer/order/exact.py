"""The cheapest closed tour over all nodes, proved: cutting planes, then branch and bound by HiGHS.

Dantzig, Fulkerson and Johnson (1954) for the model; Applegate, Bixby, Chvátal and Cook (2006) for
working on a sparse set of edges and pricing the rest; HiGHS (Huangfu and Hall 2018) for the linear
and the integer programs. An open path is a tour through one extra node that costs nothing.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sequencer.order.branch import BranchAndCut
from sequencer.order.costs import FORBIDDEN, Floats, Ints
from sequencer.order.cuts import Cut, all_subtours, combs, subtours
from sequencer.order.heuristics import (
    chained,
    good_tour,
    near_neighbours,
    polished,
    tour_weight,
)
from sequencer.order.relaxation import Relaxation
from sequencer.order.teeth import toothed
from sequencer.order.warm import warm_tour

Pairs = frozenset[tuple[int, int]]
_EPS = 1e-6
_KICKS_EACH = 4
_MOST_BRANCHED = 400
"""Beyond so many nodes time is better spent on cuts and better tours than on branching."""
_WARM_SHARE = 0.17
"""Share of the time that a large box gives to its first tour."""
_SLOW_STEPS = 2000
"""Beyond so many nodes one step may take seconds: leave room, so that the time limit is kept."""
_PATIENCE = 4
"""Rounds of combs that may close less than a hundredth of the gap before they are left."""


@dataclass(frozen=True)
class Answer:
    """``order`` None and ``proved``: there is none. ``bound`` is never above the best weight."""

    order: tuple[int, ...] | None
    weight: int
    bound: float
    proved: bool


@dataclass(frozen=True)
class Ring:
    """One closed-tour question: symmetric whole ``weights`` (n, n), FORBIDDEN where not allowed.

    ``fixed``: pairs (a < b) that must meet. ``limits``: (pairs, at most so many of them).
    """

    weights: Ints
    fixed: Pairs = frozenset()
    limits: Sequence[tuple[Pairs, int]] = ()

    def allows(self, tour: Sequence[int]) -> bool:
        """Whether this tour keeps every rule."""
        pairs = tour_pairs(tour)
        forbidden = any(self.weights[pair] >= FORBIDDEN for pair in pairs)
        kept = self.fixed <= pairs and all(len(pairs & p) <= most for p, most in self.limits)
        return kept and not forbidden


def tour_pairs(tour: Sequence[int]) -> Pairs:
    """The pairs (a < b) that meet in a closed tour."""
    closed = [*tour, tour[0]]
    return frozenset((min(a, b), max(a, b)) for a, b in pairwise(closed))


def solve_ring(ring: Ring, deadline: float) -> Answer:
    """The cheapest tour that keeps the rules; n ≥ 5. ``deadline`` in time.monotonic seconds."""
    if len(ring.weights) > _SLOW_STEPS:
        deadline = _part(deadline, 0.8)
    return _Search(ring, _first_tour(ring, deadline), deadline).run()


def _first_tour(ring: Ring, deadline: float) -> list[int]:
    n, pulled = len(ring.weights), _pulled(ring)
    if n > _MOST_BRANCHED:
        near = near_neighbours(ring.weights, 10)
        seconds = _part(deadline, _WARM_SHARE) - time.monotonic()
        warm = warm_tour(ring.weights, near, ring.fixed, seconds)
        if warm:
            until = _part(deadline, 0.05)
            tour = chained(pulled, near, warm, kicks=n // 3, deadline=until)
            if ring.allows(tour):
                return tour
    return good_tour(pulled, kicks=n // 3, deadline=_part(deadline, 0.2))


@dataclass(frozen=True, eq=False)
class Relaxed:
    """What a relaxation leaves: a bound, its cuts, and the edges (m, 2) that still matter."""

    bound: float
    cuts: tuple[Cut, ...]
    ends: Ints
    impossible: bool = False


def relaxed(ring: Ring, upper: int | None, deadline: float) -> Relaxed | None:
    """The root only, for a question with rules of its own whose best known weight is ``upper``.

    None: out of time. Every edge that an order lighter than ``upper`` may use is in ``ends``.
    """
    start = good_tour(_pulled(ring), kicks=len(ring.weights) // 3, deadline=_part(deadline, 0.2))
    search = _Search(ring, start, _part(deadline, 0.3))
    solved = search.tighten()
    if solved is None:
        return None
    if solved is False:
        return Relaxed(np.inf, (), np.empty((0, 2), dtype=np.int64), True)
    ends, _ = search.edges_that_matter(np.inf if upper is None else upper)
    return Relaxed(search.bound, tuple(search.relaxation.cuts), ends)


def _part(deadline: float, share: float) -> float:
    """The moment when this share of the time left will have passed."""
    now = time.monotonic()
    return now + share * max(0.0, deadline - now)


def _pulled(ring: Ring) -> Ints:
    """Weights that draw a heuristic to the fixed pairs and keep it off the forbidden ones."""
    weights = ring.weights.copy()
    real = weights[weights < FORBIDDEN]
    pull = 4 * int(real.max(initial=0)) + 4
    weights[weights >= FORBIDDEN] = pull
    for a, b in ring.fixed:
        weights[a, b] = weights[b, a] = -pull
    return weights


class _Search:
    """Holds the best tour, the bound and the relaxation while they close in on each other."""

    def __init__(self, ring: Ring, start: list[int], deadline: float) -> None:
        self.ring, self.deadline, self.n = ring, deadline, len(ring.weights)
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
        if self.best is None or self.n <= 24:
            a, b = np.nonzero(np.triu(weights < FORBIDDEN, 1))
            return np.column_stack([a, b])
        near = near_neighbours(weights, 8)
        pairs = {(min(a, b), max(a, b)) for a in range(self.n) for b in near[a].tolist()}
        pairs |= tour_pairs(start) | self.ring.fixed
        for limited, _ in self.ring.limits:
            pairs |= limited
        ends: Ints = np.array(sorted(pairs), dtype=np.int64)
        return np.asarray(ends[weights[ends[:, 0], ends[:, 1]] < FORBIDDEN])

    def run(self) -> Answer:
        """Cutting planes; if they leave a gap, branch over the edges that could still matter."""
        state = self.tighten()
        if state is False:
            return Answer(None, 0, np.inf, True)
        if state and not self._closed():
            self._polish()
        while state and self.n > _MOST_BRANCHED and not self._closed() and self.left > 0:
            before = (self.upper, self.bound)
            state = self.tighten(patience=4 * _PATIENCE)
            self._polish()
            if before == (self.upper, self.bound):
                break
        if state and not self._closed():
            self._branch()
        return self._answer()

    def _closed(self) -> bool:
        return bool(np.ceil(self.bound - _EPS * max(1.0, abs(self.bound) * 1e-3)) >= self.upper)

    def _answer(self) -> Answer:
        proved = self._closed()
        if self.best is None:
            return Answer(None, 0, self.bound, proved)
        weight = int(self.upper)
        return Answer(tuple(self.best), weight, weight if proved else self.bound, proved)

    def tighten(self, patience: int = _PATIENCE) -> bool | None:
        """Solve the relaxation with every cut and edge it needs. False: no tour exists."""
        r = self.relaxation
        slow, past = 0, -np.inf
        while True:
            solved = r.solve(self.left) if self.left > 0 else None
            if solved is not True:
                return solved
            x = r.x()
            self._take(r.ends, x)
            cuts = subtours(self.n, r.ends, x, self.line)
            if not cuts and slow < patience:
                slow = slow + 1 if r.bound < past + 0.01 * (self.upper - past) else 0
                past = max(past, r.bound)
                self._bound_so_far()
                cuts = combs(self.n, r.ends, x, self.line)
                if self.n > _MOST_BRANCHED:
                    cuts += toothed(self.n, r.ends, x, self.line, r.cuts)
            if not cuts:
                cuts = all_subtours(self.n, r.ends, x)
            if cuts:
                r.drop_idle_cuts()
            if r.add_cuts(cuts):
                continue
            if self._price():
                continue
            self.bound = max(self.bound, r.bound)
            return True

    def _bound_so_far(self) -> None:
        """Make any relaxation a bound: edges not in play that would help are charged in full.

        Every print has two edges, so a tour gains no more than the two best reduced costs of each
        print, halved.
        """
        if self.n <= _MOST_BRANCHED:
            return
        price = self.relaxation.reduced_matrix()
        ends = self.relaxation.ends
        price[ends[:, 0], ends[:, 1]] = price[ends[:, 1], ends[:, 0]] = 0
        np.fill_diagonal(price, 0)
        best_two = np.partition(np.minimum(price, 0), 1, axis=1)[:, :2]
        self.bound = max(self.bound, self.relaxation.bound + 0.5 * float(best_two.sum()))

    def _take(self, ends: Ints, x: Floats) -> None:
        """A whole-numbered answer in one ring is a tour: keep it if it is better."""
        if np.abs(x - np.rint(x)).max() > 1e-5:
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
        price = np.triu(self.relaxation.reduced_matrix(), 1)
        ends = self.relaxation.ends
        price[ends[:, 0], ends[:, 1]] = 0
        price[self.ring.weights >= FORBIDDEN] = 0
        a, b = np.nonzero(price < -_EPS)
        if len(a) > 4 * self.n:
            cheapest = np.argsort(price[a, b], kind="stable")[: 4 * self.n]
            a, b = a[cheapest], b[cheapest]
        self.relaxation.add_edges(np.column_stack([a, b]))
        return len(a)

    def _polish(self) -> None:
        """Look for a better tour where the relaxation points."""
        if self.best is None:
            return
        r = self.relaxation
        price = r.reduced_matrix()
        price[self.ring.weights >= FORBIDDEN] = FORBIDDEN
        pulled = _pulled(self.ring)
        for a, b in r.fixed:
            price[a, b] = price[b, a] = -FORBIDDEN
        kicks = _KICKS_EACH * self.n
        until = _part(self.deadline, 0.2)
        tour = polished(pulled, r.potentials(), price, self.best, kicks=kicks, deadline=until)
        self._keep(tour)

    def _branch(self) -> None:
        """Branch and cut over the edges a better tour may use."""
        ends, low = self.edges_that_matter(self.upper)
        relaxation = Relaxation(self.n, self.ring.weights, ends, self.ring.fixed, self.ring.limits)
        relaxation.add_cuts(self.relaxation.cuts)
        tree = BranchAndCut(relaxation, low, self.upper, self.line, self.deadline, self._hear)
        bound = tree.run()
        self.bound = max(self.bound, min(bound, self.upper))
        self.nodes = tree.nodes

    def _hear(self, ends: Ints, x: Floats) -> float:
        self._take(ends, x)
        return self.upper

    def edges_that_matter(self, upper: float) -> tuple[Ints, Floats]:
        """Edges that a tour lighter than ``upper`` may use, and those it must (low bound 1)."""
        r = self.relaxation
        price = r.reduced_matrix()
        inner = r.reduced_costs()
        price[r.ends[:, 0], r.ends[:, 1]] = inner
        gap = upper - self.bound - 1 + 1e-3
        keep = np.triu(price <= gap, 1) & (self.ring.weights < FORBIDDEN)
        for pair in r.fixed:
            keep[pair] = True
        a, b = np.nonzero(keep)
        ends = np.column_stack([a, b])
        low = np.where(price[a, b] < -gap, 1.0, 0.0)
        low[[pair in r.fixed for pair in map(tuple, ends.tolist())]] = 1.0
        return ends, low


def one_ring(n: int, ends: Ints) -> list[int] | None:
    """The closed tour these n edges make, from node 0; None if they make several rings."""
    links: list[list[int]] = [[] for _ in range(n)]
    for a, b in ends.tolist():
        links[a].append(b)
        links[b].append(a)
    if any(len(link) != 2 for link in links):
        return None
    tour, previous, here = [0], 0, links[0][0]
    while here != 0:
        tour.append(here)
        previous, here = here, links[here][links[here][0] == previous]
    return tour if len(tour) == n else None
