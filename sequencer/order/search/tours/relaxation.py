"""The integer model of the closed tour in HiGHS, over a sparse set of edges that grows as needed.

Solved as a linear program until :meth:`Relaxation.make_whole` asks for whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.question import Pairs
from sequencer.order.search.tours.program import INF, Program
from sequencer.order.search.tours.subtours import Mask, key, leaving


class Relaxation(Program):
    """min w·x with every node of degree 2, 0 ≤ x ≤ 1, the fixed edges at 1, and cuts.

    ``ends``: (m, 2) edges in play, a < b. ``limits``: (edges as a set of pairs, at most so many).
    ``cuts``: sets of nodes that at least two edges leave.
    """

    def __init__(
        self, n: int, weights: Ints, ends: Ints, fixed: Pairs,
        limits: Sequence[tuple[Pairs, int]] = (),
    ) -> None:
        super().__init__()
        self.n, self.weights, self.fixed, self.limits = n, weights, fixed, list(limits)
        self.ends = np.empty((0, 2), dtype=np.int64)
        self.cuts: list[Mask] = []
        self.seen: set[bytes] = set()
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
        ones = [(ends[:, 0], np.arange(m)), (ends[:, 1], np.arange(m))]
        rows = [(self.n + i, _among(ends, pairs)) for i, (pairs, _) in enumerate(self.limits)]
        rows += [(self.first_cut + i, leaving(cut, ends)) for i, cut in enumerate(self.cuts)]
        ones += [(np.full(int(hit.sum()), row), np.flatnonzero(hit)) for row, hit in rows]
        weights = self.weights[ends[:, 0], ends[:, 1]].astype(float)
        self.add_columns(weights, _among(ends, self.fixed).astype(float), ones)
        self.ends = np.vstack([self.ends, ends])

    def add_cuts(self, cuts: Sequence[Mask]) -> int:
        """Add the cuts that are not there yet; how many that were."""
        fresh = []
        for cut in cuts:
            if key(cut) not in self.seen:
                self.seen.add(key(cut))
                fresh.append(cut)
        if fresh:
            hits = [np.flatnonzero(leaving(cut, self.ends)) for cut in fresh]
            starts = np.cumsum([0, *[len(hit) for hit in hits[:-1]]]).astype(np.int32)
            index = np.concatenate(hits).astype(np.int32)
            self.solver.addRows(len(fresh), np.full(len(fresh), 2.0), np.full(len(fresh), INF),
                                len(index), starts, index, np.ones(len(index)))
            self.cuts += fresh
        return len(fresh)

    def drop_idle_cuts(self, slack: float = 0.01) -> None:
        """Forget cuts that do not bind (their rows may come back when broken again)."""
        activity = np.array(self.solver.getSolution().row_value)[self.first_cut :]
        idle = [i for i in range(len(self.cuts)) if activity[i] > 2 + slack]
        if len(idle) < 20:
            return
        rows = np.array([self.first_cut + i for i in idle], dtype=np.int32)
        self.solver.deleteRows(len(rows), rows)
        for i in reversed(idle):
            self.seen.discard(key(self.cuts.pop(i)))

    def make_whole(self, low: Floats) -> None:
        """From now on every edge is in or out; ``low`` is 1 where an edge must be in."""
        self.in_whole_numbers()
        m = len(self.ends)
        every = np.arange(m, dtype=np.int32)
        self.solver.changeColsBounds(m, every, low, np.ones(m))

    def x(self) -> Floats:
        """Value of every edge in play."""
        return np.array(self.solver.getSolution().col_value)

    def potentials(self) -> Floats:
        """(n,) duals of the nodes."""
        return np.array(self.solver.getSolution().row_dual)[: self.n]

    def prices(self) -> tuple[float, Floats]:
        """A bound, and (n, n) what each pair costs beyond it; both exact, see :class:`Dual`.

        Pairs not in play may be charged in full: every print has two edges, so a tour gains no
        more by them than the two best reduced costs of each print, halved.
        """
        dual = self.dual()
        price = self.pair_prices(
            self.weights, dual.rows[: self.n], self.cuts, dual.rows[self.first_cut :])
        a, b = self.ends[:, 0], self.ends[:, 1]
        missed = np.where(self.weights < FORBIDDEN, np.minimum(price, 0), 0)
        np.fill_diagonal(missed, 0)
        missed[a, b] = missed[b, a] = 0
        price[a, b] = price[b, a] = dual.prices
        gained = np.partition(missed, 1, axis=1)[:, :2].ravel()
        return dual.bound + 0.5 * math.fsum(gained), price


def _among(ends: Ints, pairs: Pairs) -> Mask:
    if not pairs:
        return np.zeros(len(ends), dtype=bool)
    return np.array([(int(a), int(b)) in pairs for a, b in ends.tolist()], dtype=bool)
