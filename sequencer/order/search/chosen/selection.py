"""The integer model of 'choose k of n and close them to a ring' in HiGHS, over edges as needed.

Each node has a column y, whether it is chosen, each edge a column x; chosen nodes have two edges.
Subtours are cut as in the selective travelling salesman problem (Fischetti, Salazar and Toth
1998): a ring that holds a node inside a set and reaches beyond it leaves the set at least twice.
Where some node, the root, is in every ring, every set without it is such a set; else every set too
small to hold the whole ring. Solved as a linear program until :meth:`Selection.make_whole`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.question import Question
from sequencer.order.search.tours.program import INF, Program
from sequencer.order.search.tours.ring import Ring
from sequencer.order.search.tours.subtours import Mask, leaving

_IDLE = 0.05
_MANY = 40
Cut = tuple[Mask, int]
"""A set of nodes, and one of them: where that one is chosen, at least two edges leave the set."""


class Selection(Program):
    """min w·x with Σy = ``size`` and x(δ(v)) = 2·y(v), all between 0 and 1, and cuts.

    ``ring``: the question as a closed tour; a node beyond the prints opens it to a path.
    ``ends``: (m, 2) edges in play, a < b; the root's own are in play from the start.
    """

    def __init__(self, q: Question, ring: Ring, ends: Ints) -> None:
        super().__init__()
        self.n, self.weights = len(ring.weights), ring.weights
        self.size = q.size + self.n - q.count
        must = set(q.include) | {v for v in (q.first, q.last) if v is not None}
        must |= {v for pair in ring.fixed for v in pair} | set(range(q.count, self.n))
        self.root = max(must, default=None)
        self.ring, self.cuts, self.seen = ring, list[Cut](), set[tuple[bytes, int]]()
        self.ends = np.empty((0, 2), dtype=np.int64)
        self._add_nodes(must)
        self._add_range(q)
        for _, most in ring.limits:
            self._row(-INF, float(most), [], [])
        self.first_limit = self.solver.getNumRow() - len(ring.limits)
        self.add_edges(self._with_the_roots(ends))
        self._tie_to_the_root()
        self.first_cut = self.solver.getNumRow()

    def _add_nodes(self, must: set[int]) -> None:
        n = self.n
        self.least: Floats = np.array([float(v in must) for v in range(n)])
        none = np.empty(0, dtype=np.int32)
        self.solver.addCols(n, np.zeros(n), self.least, np.ones(n), 0, np.zeros(n, np.int32), none,
                            np.empty(0))
        for v in range(n):
            self._row(0.0, 0.0, [v], [-2.0])
        self._row(self.size, self.size, list(range(n)), [1.0] * n)

    def _add_range(self, q: Question) -> None:
        """For every print: a darker one is chosen, or one lighter by at least the range.

        True of every choice that spans it; and of the darkest chosen it asks just that.
        """
        if q.value_range <= 0 or q.value is None:
            return
        for value in np.unique(q.value).tolist():
            there = np.flatnonzero((q.value < value) | (q.value - value >= q.value_range))
            self._row(1.0, INF, there.tolist(), [1.0] * len(there))
            if value + q.value_range > q.value.max():
                return  # from here on every print asks for a darker one, the first for the darkest

    def _with_the_roots(self, ends: Ints) -> Ints:
        if self.root is None:
            return ends
        root = self.root
        theirs = {(min(v, root), max(v, root)) for v in range(self.n)
                  if self.weights[v, root] < FORBIDDEN}
        return np.array(sorted(theirs | set(map(tuple, ends.tolist()))), dtype=np.int64)

    def _tie_to_the_root(self) -> None:
        """An edge of the root is used only where its other end is chosen; there are three or
        more, so a ring never takes it twice."""
        for k, (a, b) in enumerate(self.ends.tolist()):
            if self.root in (a, b):
                self._row(-INF, 0.0, [a + b - self.root, self.n + k], [-1.0, 1.0])

    def _row(self, low: float, high: float, columns: Sequence[int], numbers: Sequence[float]
             ) -> None:
        self.solver.addRow(low, high, len(columns), np.array(columns, dtype=np.int32),
                           np.array(numbers, dtype=float))

    def add_edges(self, ends: Ints) -> None:
        """Bring edges into play, with their place in every row."""
        m = len(ends)
        if not m:
            return
        ones = [(ends[:, 0], np.arange(m)), (ends[:, 1], np.arange(m))]
        rows = [(self.first_limit + k, np.array([tuple(end) in pairs for end in ends.tolist()]))
                for k, (pairs, _) in enumerate(self.ring.limits)]
        rows += [(self.first_cut + k, leaving(mask, ends)) for k, (mask, _) in enumerate(self.cuts)]
        ones += [(np.full(int(hit.sum()), row), np.flatnonzero(hit)) for row, hit in rows]
        low = np.array([float(tuple(end) in self.ring.fixed) for end in ends.tolist()])
        self.add_columns(self.weights[ends[:, 0], ends[:, 1]].astype(float), low, ones)
        self.ends, self.least = np.vstack([self.ends, ends]), np.append(self.least, low)

    def add_cuts(self, cuts: Sequence[Cut]) -> int:
        """Add the cuts that are not there yet; how many that were."""
        fresh = 0
        for mask, v in cuts:
            key = (np.packbits(mask).tobytes(), v)
            if key not in self.seen:
                self.seen.add(key)
                self.cuts.append((mask, v))
                hit = (self.n + np.flatnonzero(leaving(mask, self.ends))).tolist()
                self._row(0.0, INF, [v, *hit], [-2.0] + [1.0] * len(hit))
                fresh += 1
        return fresh

    def drop_idle_cuts(self) -> None:
        """Forget cuts that do not bind (they may come back when broken again)."""
        slack = np.array(self.solver.getSolution().row_value)[self.first_cut :]
        idle = np.flatnonzero(slack > _IDLE)
        if len(idle) < _MANY:
            return
        self.solver.deleteRows(len(idle), (self.first_cut + idle).astype(np.int32))
        for i in reversed(idle.tolist()):
            mask, v = self.cuts.pop(i)
            self.seen.discard((np.packbits(mask).tobytes(), v))

    def make_whole(self) -> None:
        """From now on every node and edge is in or out."""
        self.in_whole_numbers()

    def bound_columns(self, low: Floats, high: Floats) -> None:
        """Least and most of every column, nodes first; what must be stays."""
        kept, m = self.least, len(self.least)
        self.solver.changeColsBounds(
            m, np.arange(m, dtype=np.int32), np.maximum(low, kept), np.maximum(high, kept))

    def chosen(self) -> tuple[Floats, Floats]:
        """How much of each node (n,) and of each edge in play (m,) is taken."""
        values = np.array(self.solver.getSolution().col_value)
        return values[: self.n], values[self.n :]

    def prices(self) -> tuple[float, Floats, Floats]:
        """A bound, and what each node (n,) and each pair (n, n) costs beyond it, inf where two may
        not meet; exact, see :class:`Dual`. Pairs not in play may be charged in full: an order uses
        at most as many as it has nodes."""
        dual = self.dual()
        price = self.pair_prices(
            np.where(self.weights < FORBIDDEN, self.weights, np.inf), dual.rows[: self.n],
            [mask for mask, _ in self.cuts], dual.rows[self.first_cut :])
        np.fill_diagonal(price, np.inf)
        a, b = self.ends[:, 0], self.ends[:, 1]
        price[a, b] = price[b, a] = np.inf
        missed = self.size * min(float(price.min()), 0.0)
        price[a, b] = price[b, a] = dual.prices[self.n :]
        return dual.bound + missed, dual.prices[: self.n], price
