"""'a before b', proved: the tour with a direction, and cuts that keep the wished order.

An arc each way for every pair; the undirected cuts hold for both ways together; the precedence cuts
are those of Balas, Fischetti and Pulleyblank (1995): whatever set S is left for the last time is
left from a print, and to a print, that need not come before any of S. A path closes through an
extra node; a loop is opened at its first print.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from sequencer.order.graph.costs import Floats, Ints
from sequencer.order.search.question import Question
from sequencer.order.search.tours.program import INF
from sequencer.order.search.tours.ring import NONE, Answer, Ring
from sequencer.order.search.tours.rings import Relaxed, relaxed
from sequencer.order.search.tours.subtours import Mask, leaving
from sequencer.quiet_highs import new_solver

_ROOT_ROUNDS = 40
_FLOW = 1_000_000


@dataclass(eq=False)
class _Row:
    """Arcs that count (by number), and at least how many of them are used."""

    arcs: Ints
    counts: Floats
    least: float


def solve_before(q: Question, ring: Ring, first: Answer, deadline: float) -> Answer:
    """The cheapest order that keeps 'before'; ``first`` is any order that does, or none."""
    root = relaxed(ring, first.weight if first.order is not None else None, deadline)
    if root is None:
        return Answer(first.order, first.weight, 0.0, False)
    if root.impossible:
        return NONE
    search = _Directed(q, ring, root, first, deadline)
    search.strengthen()
    return search.run()


class _Directed:
    def __init__(
        self, q: Question, ring: Ring, root: Relaxed, first: Answer, deadline: float
    ) -> None:
        self.q, self.deadline, self.m = q, deadline, len(ring.weights)
        self.depot = q.count if not q.loop else int(q.first or 0)
        self.best, self.bound = first, root.bound
        self.earlier = _closure(self.m, q.before)
        self.arcs = self._arcs(root.ends)
        self.weight = ring.weights[self.arcs[:, 0], self.arcs[:, 1]].astype(float)
        self.rows = [self._both_ways(cut) for cut in root.cuts]
        self.rows += [self._pair(pair) for pair in ring.fixed]
        for pairs, most in ring.limits:
            row = self._counting(lambda a, b, p=pairs: (min(a, b), max(a, b)) in p)
            self.rows.append(_Row(row.arcs, -row.counts, -float(most)))

    def _arcs(self, ends: Ints) -> Ints:
        """Both ways of every edge, less those no wished order can use."""
        q, depot = self.q, self.depot
        both = np.vstack([ends, ends[:, ::-1]])
        a, b = both[:, 0], both[:, 1]
        good = ~self.earlier[b, a]
        late = np.asarray(self.earlier.any(axis=0))
        soon = np.asarray(self.earlier.any(axis=1))
        good &= ~((a == depot) & late[b]) & ~((b == depot) & soon[a])
        if q.first is not None and not q.loop:
            good &= ((a == depot) == (b == q.first))
        if q.last is not None:
            good &= ((b == depot) == (a == q.last))
        return np.asarray(both[good])

    def _counting(self, wanted: object) -> _Row:
        assert callable(wanted)
        hit = np.array([i for i, (a, b) in enumerate(self.arcs.tolist()) if wanted(a, b)],
                       dtype=np.int64)
        return _Row(hit, np.ones(len(hit)), 0.0)

    def _both_ways(self, cut: Mask) -> _Row:
        hit = np.flatnonzero(leaving(cut, self.arcs))
        return _Row(hit, np.ones(len(hit)), 2.0)

    def _pair(self, pair: tuple[int, int]) -> _Row:
        row = self._counting(lambda a, b: (min(a, b), max(a, b)) == pair)
        return _Row(row.arcs, row.counts, 1.0)

    def _model(self) -> highspy.Highs:
        m, count = self.m, len(self.arcs)
        solver = new_solver()
        none = np.empty(0, dtype=np.int32)
        ones = np.ones(2 * m)
        solver.addRows(2 * m, ones, ones, 0, np.zeros(2 * m, dtype=np.int32), none, np.empty(0))
        index = np.column_stack([self.arcs[:, 0], m + self.arcs[:, 1]]).ravel().astype(np.int32)
        solver.addCols(count, self.weight, np.zeros(count), np.ones(count), 2 * count,
                       np.arange(0, 2 * count, 2, dtype=np.int32), index, np.ones(2 * count))
        _add(solver, self.rows)
        return solver

    def strengthen(self) -> None:
        """Cuts for the fractional answer, before anything is branched on."""
        solver = self._model()
        for _ in range(_ROOT_ROUNDS):
            solver.setOptionValue("time_limit", solver.getRunTime() + max(0.01, self._left()))
            solver.run()
            if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return
            fresh = self._fractional(np.array(solver.getSolution().col_value))
            if not fresh or self._left() <= 0:
                return
            self.rows += fresh
            _add(solver, fresh)

    def _left(self) -> float:
        return self.deadline - time.monotonic()

    def _fractional(self, x: Floats) -> list[_Row]:
        """From every print one can go on to the end without what must come before it."""
        used = x > 1e-7
        a, b = self.arcs[used, 0], self.arcs[used, 1]
        flow = np.floor(x[used] * _FLOW + 0.5).astype(np.int32)
        fresh = []
        for v in range(self.m):
            if v == self.depot:
                continue
            gone = self.earlier[:, v]
            kept = ~(gone[a] | gone[b])
            graph = csr_matrix((flow[kept], (a[kept], b[kept])), shape=(self.m, self.m))
            result = maximum_flow(graph, v, self.depot)
            if result.flow_value < 0.97 * _FLOW:
                rest = csr_matrix(graph - result.flow)
                rest.eliminate_zeros()
                side = np.zeros(self.m, dtype=bool)
                side[breadth_first_order(rest, v, return_predecessors=False)] = True
                fresh.append(self._leaving(side))
        return fresh

    def _leaving(self, inside: Mask) -> _Row:
        barred = np.asarray(self.earlier[:, inside].any(axis=1))
        a, b = self.arcs[:, 0], self.arcs[:, 1]
        hit = np.flatnonzero(inside[a] & ~barred[a] & ~inside[b] & ~barred[b])
        return _Row(hit, np.ones(len(hit)), 1.0)

    def run(self) -> Answer:
        """Integer programs, with the cuts each answer breaks, until an answer breaks none."""
        while self._left() > 0:
            solver = self._model()
            solver.changeColsIntegrality(
                len(self.arcs), np.arange(len(self.arcs), dtype=np.int32),
                np.full(len(self.arcs), int(highspy.HighsVarType.kInteger), dtype=np.uint8))
            solver.setOptionValue("mip_rel_gap", 0.0)
            solver.setOptionValue("mip_abs_gap", 0.99)
            solver.setOptionValue("time_limit", max(0.01, self._left()))
            solver.run()
            status = solver.getModelStatus()
            if status == highspy.HighsModelStatus.kInfeasible:
                return self._proved()
            done = status == highspy.HighsModelStatus.kOptimal
            self.bound = max(self.bound, solver.getInfo().mip_dual_bound)
            if not done or self._closed():
                break
            fresh = self._hear(np.array(solver.getSolution().col_value))
            if not fresh:
                return self._proved()
            self.rows += fresh
        return self._proved() if self._closed() else self._open()

    def _closed(self) -> bool:
        return self.best.order is not None and np.ceil(self.bound - 1e-3) >= self.best.weight

    def _proved(self) -> Answer:
        order, weight = self.best.order, self.best.weight
        return Answer(order, weight, np.inf if order is None else weight, True)

    def _open(self) -> Answer:
        bound = self.bound if self.best.order is None else min(self.bound, self.best.weight)
        return Answer(self.best.order, self.best.weight, bound, False)

    def _hear(self, x: Floats) -> list[_Row]:
        """Keep the answer if it is an order as wished; otherwise the cuts it breaks."""
        after = {int(a): int(b) for a, b in self.arcs[x > 0.5].tolist()}
        order, here = [], after[self.depot]
        while here != self.depot:
            order.append(here)
            here = after[here]
        if len(order) < self.m - 1:
            return [self._leaving(side) for side in self._rings(after)]
        place = {v: i for i, v in enumerate(order)}
        fresh = []
        for a, b in self.q.before:
            if a in place and b in place and place[a] > place[b]:
                side = np.zeros(self.m, dtype=bool)
                side[order[: place[a]]] = True
                fresh.append(self._leaving(side))
        if not fresh:
            whole = [self.depot, *order] if self.q.loop else order
            weight = self.q.weigh(whole)
            if self.q.accepts(whole) and (self.best.order is None or weight < self.best.weight):
                self.best = Answer(tuple(whole), weight, self.bound, False)
        return fresh

    def _rings(self, after: dict[int, int]) -> Iterable[Mask]:
        left = set(after)
        while left:
            ring, here = [], min(left)
            while here in left:
                left.discard(here)
                ring.append(here)
                here = after[here]
            if self.depot not in ring:
                side = np.zeros(self.m, dtype=bool)
                side[ring] = True
                yield side


def _closure(m: int, before: Iterable[tuple[int, int]]) -> NDArray[Any]:
    """earlier[a, b]: a must come before b, directly or by way of others."""
    earlier: NDArray[Any] = np.zeros((m, m), dtype=bool)
    for a, b in before:
        earlier[a, b] = True
    for v in range(m):
        earlier |= earlier[:, v][:, None] & earlier[v][None, :]
    return earlier


def _add(solver: highspy.Highs, rows: list[_Row]) -> None:
    for row in rows:
        solver.addRow(row.least, INF, len(row.arcs), row.arcs.astype(np.int32), row.counts)
