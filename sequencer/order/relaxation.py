"""The linear relaxation of the closed tour, over a sparse set of edges that grows as needed."""

from __future__ import annotations

from collections.abc import Sequence

import highspy
import numpy as np

from sequencer.order.costs import Floats, Ints
from sequencer.order.cuts import Cut
from sequencer.quiet_highs import new_solver

INF = highspy.kHighsInf


class Relaxation:
    """min w·x with every node of degree 2, 0 ≤ x ≤ 1, the fixed edges at 1, and cuts.

    ``ends``: (m, 2) edges in play, a < b. ``limits``: (edges as a set of pairs, at most so many).
    """

    def __init__(
        self, n: int, weights: Ints, ends: Ints, fixed: frozenset[tuple[int, int]],
        limits: Sequence[tuple[frozenset[tuple[int, int]], int]] = (),
    ) -> None:
        self.n, self.weights, self.fixed, self.limits = n, weights, fixed, list(limits)
        self.ends = np.empty((0, 2), dtype=np.int64)
        self.cuts: list[Cut] = []
        self.seen: set[bytes] = set()
        self.solver = new_solver()
        empty = np.empty(0)
        none = np.empty(0, dtype=np.int32)
        twos = np.full(n, 2.0)
        self.solver.addRows(n, twos, twos, 0, np.zeros(n, dtype=np.int32), none, empty)
        for _, most in self.limits:
            self.solver.addRow(-INF, float(most), 0, none, empty)
        self.add_edges(ends)

    @property
    def first_cut(self) -> int:
        """Row of the first cut."""
        return self.n + len(self.limits)

    def add_edges(self, ends: Ints) -> None:
        """Bring edges into play, with their place in every row."""
        m = len(ends)
        if not m:
            return
        columns = [ends[:, 0], ends[:, 1]]
        numbers = [np.arange(m), np.arange(m)]
        values = [np.ones(m), np.ones(m)]
        rows = [(self.n + i, self._in_limit(ends, pairs))
                for i, (pairs, _) in enumerate(self.limits)]
        rows += [(self.first_cut + i, cut.on(ends)) for i, cut in enumerate(self.cuts)]
        for row, counts in rows:
            hit = np.flatnonzero(counts)
            columns.append(np.full(len(hit), row))
            numbers.append(hit)
            values.append(counts[hit].astype(float))
        number = np.concatenate(numbers)
        order = np.argsort(number, kind="stable")
        starts = np.searchsorted(number[order], np.arange(m)).astype(np.int32)
        low = np.array([1.0 if pair in self.fixed else 0.0 for pair in _pairs(ends)])
        self.solver.addCols(
            m, self.weights[ends[:, 0], ends[:, 1]].astype(float), low, np.ones(m), len(number),
            starts, np.concatenate(columns)[order].astype(np.int32), np.concatenate(values)[order],
        )
        self.ends = np.vstack([self.ends, ends])

    @staticmethod
    def _in_limit(ends: Ints, pairs: frozenset[tuple[int, int]]) -> Ints:
        return np.array([pair in pairs for pair in _pairs(ends)], dtype=np.int64)

    def add_cuts(self, cuts: Sequence[Cut]) -> int:
        """Add the cuts that are not there yet; how many that were."""
        fresh = []
        for cut in cuts:
            key = cut.key()
            if key not in self.seen:
                self.seen.add(key)
                fresh.append(cut)
        if fresh:
            counts = [cut.on(self.ends) for cut in fresh]
            hits = [np.flatnonzero(count) for count in counts]
            starts = np.cumsum([0, *[len(hit) for hit in hits[:-1]]]).astype(np.int32)
            index = np.concatenate(hits).astype(np.int32)
            value = np.concatenate(
                [count[hit] for count, hit in zip(counts, hits, strict=True)]
            ).astype(float)
            least = np.array([float(cut.least) for cut in fresh])
            top = np.full(len(fresh), INF)
            self.solver.addRows(len(fresh), least, top, len(index), starts, index, value)
            self.cuts += fresh
        return len(fresh)

    def drop_idle_cuts(self, slack: float = 0.01) -> None:
        """Forget cuts that do not bind (their rows may come back when broken again)."""
        activity = np.array(self.solver.getSolution().row_value)[self.first_cut :]
        idle = [i for i, cut in enumerate(self.cuts) if activity[i] > cut.least + slack]
        if len(idle) < 20:
            return
        rows = np.array([self.first_cut + i for i in idle], dtype=np.int32)
        self.solver.deleteRows(len(rows), rows)
        for i in reversed(idle):
            self.seen.discard(self.cuts.pop(i).key())

    def solve(self, seconds: float) -> bool | None:
        """True: solved; False: no answer exists over these edges; None: out of time."""
        self.solver.setOptionValue("time_limit", self.solver.getRunTime() + max(seconds, 0.01))
        self.solver.run()
        status = self.solver.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return True
        return False if status == highspy.HighsModelStatus.kInfeasible else None

    @property
    def bound(self) -> float:
        """Objective of the last solve."""
        return float(self.solver.getObjectiveValue())

    def x(self) -> Floats:
        """Value of every edge in play."""
        return np.array(self.solver.getSolution().col_value)

    def reduced_costs(self) -> Floats:
        """Reduced costs of the edges in play, as the solver has them."""
        return np.array(self.solver.getSolution().col_dual)

    def potentials(self) -> Floats:
        """(n,) duals of the nodes."""
        return np.array(self.solver.getSolution().row_dual)[: self.n]

    def reduced_matrix(self) -> Floats:
        """(n, n) reduced costs of every pair, in play or not (limits left out of account)."""
        dual = np.array(self.solver.getSolution().row_dual)
        node = dual[: self.n]
        price = self.weights.astype(float) - node[:, None] - node[None, :]
        masks, duals = [], []
        for cut, y in zip(self.cuts, dual[self.first_cut :], strict=True):
            if abs(y) > 1e-9:
                masks += list(cut.sets)
                duals += [y] * len(cut.sets)
        if masks:
            inside = np.array(masks, dtype=float).T
            weighted = inside * np.array(duals)
            alone = weighted.sum(axis=1)
            price -= alone[:, None] + alone[None, :] - 2 * (weighted @ inside.T)
        return np.asarray(price)


def _pairs(ends: Ints) -> list[tuple[int, int]]:
    return [(int(a), int(b)) for a, b in ends.tolist()]
