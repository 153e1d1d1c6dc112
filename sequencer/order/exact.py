"""The cheapest closed tour over all nodes, proved: cutting planes, then branch and bound by HiGHS.

Dantzig, Fulkerson and Johnson (1954) for the model; Applegate, Bixby, Chvátal and Cook (2006) for
working on a sparse set of edges and pricing the rest; HiGHS (Huangfu and Hall 2018) for the linear
and the integer programs. An open path is a tour through one extra node that costs nothing.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from sequencer.order.costs import FORBIDDEN, Floats, Ints
from sequencer.order.cuts import blossoms, component_cuts, subtours
from sequencer.order.heuristics import good_tour, near_neighbours, tour_weight
from sequencer.order.relaxation import INF, Relaxation, quiet

Pairs = frozenset[tuple[int, int]]
_EPS = 1e-6


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
    return frozenset((min(a, b), max(a, b)) for a, b in zip(tour, [*tour[1:], tour[0]], strict=True))


def solve_ring(ring: Ring, deadline: float, *, kicks: int | None = None) -> Answer:
    """The cheapest tour that keeps the rules; n ≥ 5. ``deadline`` in time.monotonic seconds."""
    n = len(ring.weights)
    if kicks is None:
        kicks = n if n <= 120 else 5 * n
    heuristic_end = min(deadline, time.monotonic() + 0.2 * (deadline - time.monotonic()))
    start = good_tour(_pulled(ring), kicks=kicks, deadline=heuristic_end)
    return _Search(ring, start, deadline).run()


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
        ends = np.array(sorted(pairs))
        return ends[weights[ends[:, 0], ends[:, 1]] < FORBIDDEN]

    def run(self) -> Answer:
        """Cutting planes; if they leave a gap, branch over the edges that could still matter."""
        state = self._tighten()
        if state is False:
            return Answer(None, 0, np.inf, True)
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

    def _tighten(self) -> bool | None:
        """Solve the relaxation with every cut and edge it needs. False: no tour exists."""
        r = self.relaxation
        while True:
            solved = r.solve(self.left)
            if solved is not True:
                return solved
            x = r.x()
            self._take(r.ends, x)
            cuts = subtours(self.n, r.ends, x, self.line)
            if not cuts:
                cuts = blossoms(self.n, r.ends, x)
            if r.add_cuts(cuts):
                r.drop_idle_cuts()
                continue
            if self._price():
                continue
            self.bound = max(self.bound, r.bound)
            return True

    def _take(self, ends: Ints, x: Floats) -> None:
        """A whole-numbered answer in one ring is a tour: keep it if it is better."""
        if np.abs(x - np.rint(x)).max() > 1e-5:
            return
        tour = one_ring(self.n, ends[x > 0.5])
        if tour and self.ring.allows(tour) and tour_weight(self.ring.weights, tour) < self.upper:
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

    def _branch(self) -> None:
        """Integer program over the edges a better tour may use; ring by ring until one is left."""
        ends, low, high = self._edges_that_matter()
        while self.left > 0:
            x, bound, done = self._integer(ends, low, high)
            self.bound = max(self.bound, min(bound, self.upper))
            if x is None:
                if done:
                    self.bound = self.upper
                return
            self._take(ends, x)
            if not done or self._closed():
                return
            if not self.relaxation.add_cuts(component_cuts(self.n, ends, x)):
                return

    def _edges_that_matter(self) -> tuple[Ints, Floats, Floats]:
        """Edges not shut out by their reduced cost, with their bounds (0 to 1, or fixed at 1)."""
        r = self.relaxation
        price = r.reduced_matrix()
        inner = r.reduced_costs()
        price[r.ends[:, 0], r.ends[:, 1]] = inner
        gap = self.upper - self.bound - 1 + 1e-3
        keep = np.triu(price <= gap, 1) & (self.ring.weights < FORBIDDEN)
        for pair in r.fixed:
            keep[pair] = True
        a, b = np.nonzero(keep)
        ends = np.column_stack([a, b])
        low = np.where(price[a, b] < -gap, 1.0, 0.0)
        low[[pair in r.fixed for pair in map(tuple, ends.tolist())]] = 1.0
        return ends, low, np.ones(len(ends))

    def _integer(
        self, ends: Ints, low: Floats, high: Floats
    ) -> tuple[Floats | None, float, bool]:
        """One integer program with the cuts at hand: answer, bound, whether it ran to the end."""
        solver = quiet()
        solver.passModel(self._program(ends, low, high))
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.setOptionValue("mip_abs_gap", 0.99)
        solver.setOptionValue("time_limit", max(self.left, 0.01))
        if self.best is not None:
            self._hint(solver, ends)
        solver.run()
        status, info = solver.getModelStatus(), solver.getInfo()
        if status == highspy.HighsModelStatus.kInfeasible:
            return None, np.inf, True
        done = status == highspy.HighsModelStatus.kOptimal
        bound = float(info.mip_dual_bound)
        has = info.primal_solution_status == 2
        x = np.array(solver.getSolution().col_value) if has else None
        return x, bound, done

    def _program(self, ends: Ints, low: Floats, high: Floats) -> highspy.HighsLp:
        model = Relaxation(self.n, self.ring.weights, ends, self.ring.fixed, self.ring.limits)
        model.add_cuts(self.relaxation.cuts)
        program = model.solver.getLp()
        program.col_lower_, program.col_upper_ = low, high
        program.integrality_ = [highspy.HighsVarType.kInteger] * len(ends)
        return program

    def _hint(self, solver: highspy.Highs, ends: Ints) -> None:
        assert self.best is not None
        pairs = tour_pairs(self.best)
        hint = highspy.HighsSolution()
        hint.col_value = [1.0 if tuple(pair) in pairs else 0.0 for pair in ends.tolist()]
        if sum(hint.col_value) == self.n:
            solver.setSolution(hint)


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


__all__ = ["INF", "Answer", "Ring", "one_ring", "solve_ring", "tour_pairs"]
