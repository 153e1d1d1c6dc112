"""Choose k of n while ordering, for many prints: an integer program with lazy subtour cuts.

As :mod:`sequencer.order.search.tours.rings` does for all of them: a linear program over a sparse
set of edges, the rest priced; its reduced costs leave few nodes and edges for an order below a
ceiling, and the integer program over those says whether there is one. The ceiling rises from just
above the linear program's bound: the first order found below one is the best there is.
"""

from __future__ import annotations

import time

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.chosen.cut_off import broken, stray_rings
from sequencer.order.search.chosen.selection import Selection
from sequencer.order.search.question import Question, meetings
from sequencer.order.search.tours.local import near_neighbours
from sequencer.order.search.tours.ring import NONE, Answer, Ring
from sequencer.order.search.tours.turning import turned

_EPS = 1e-6
_NEAR = 8
_PATIENCE, _TAIL = 12, 2e-4
"""When so many rounds raised the bound by less than this part, the integer program goes on."""
_CEILINGS = (0.01, 0.02, 0.03, 0.045, 0.06, 0.08)


def choose(q: Question, ring: Ring, rough: Answer, deadline: float) -> Answer:
    """The best choice, proved within the time or bounded; ``rough``: a good one, if one is known.

    For choices of four or more without 'before', summed. ``deadline`` in time.monotonic seconds.
    """
    return _Choosing(q, ring, rough, deadline).run()


class _Choosing:
    def __init__(self, q: Question, ring: Ring, rough: Answer, deadline: float) -> None:
        self.q, self.ring, self.deadline = q, ring, deadline
        self.best = rough.order
        self.upper = float(rough.weight) if rough.order is not None else np.inf
        self.bound = float(rough.bound)
        self.model = Selection(q, ring, self._first_edges())

    @property
    def left(self) -> float:
        return self.deadline - time.monotonic()

    def _first_edges(self) -> Ints:
        weights = self.ring.weights
        if self.best is None:
            a, b = np.nonzero(np.triu(weights < FORBIDDEN, 1))
            return np.column_stack([a, b])
        near = near_neighbours(weights, min(_NEAR, len(weights) - 1))
        pairs = {(min(a, b), max(a, b)) for a in range(len(near)) for b in near[a].tolist()}
        pairs |= {(min(p), max(p)) for p in meetings(self.best, self.q.loop)} | self.ring.fixed
        pairs |= {pair for some, _ in self.ring.limits for pair in some}
        ends: Ints = np.array(sorted(pairs), dtype=np.int64)
        return np.asarray(ends[weights[ends[:, 0], ends[:, 1]] < FORBIDDEN])

    def run(self) -> Answer:
        """The linear program with its cuts, then integer programs below rising ceilings."""
        solved = self._tighten()
        if solved is False:
            return NONE
        if solved and not self._closed():
            self._whole()
        if self.best is None:
            proved = self.bound == np.inf
            return NONE if proved else Answer(None, 0, self.bound, False)
        bound = self.upper if self._closed() else self.bound
        return Answer(self.best, int(self.upper), bound, self._closed())

    def _closed(self) -> bool:
        return bool(self.bound == np.inf or np.ceil(self.bound) >= self.upper)

    def _tighten(self) -> bool | None:
        """The linear program with the edges it needs and cuts while they still raise its bound.

        False: no order; None: no time.
        """
        model, marks = self.model, [-np.inf] * _PATIENCE
        while True:
            solved = model.solve(self.left) if self.left > 0 else None
            if solved is not True:
                return solved
            if self._price():
                continue
            marks.append(self.bound)
            if marks[-1] < marks[-1 - _PATIENCE] * (1 + _TAIL):
                return True
            cuts = broken(model, *model.chosen())
            if not cuts:
                return True
            model.drop_idle_cuts()
            model.add_cuts(cuts)

    def _price(self) -> int:
        """Bring in edges whose reduced cost is negative; how many."""
        bound, _, price = self.model.prices()
        self.bound = max(self.bound, bound)
        price[tuple(self.model.ends.T)] = np.inf
        a, b = np.nonzero(np.triu(price < -_EPS, 1))
        if len(a) > 4 * len(price):
            cheapest = np.argsort(price[a, b], kind="stable")[: 4 * len(price)]
            a, b = a[cheapest], b[cheapest]
        self.model.add_edges(np.column_stack([a, b]))
        return len(a)

    def _whole(self) -> None:
        """Is there an order below this ceiling, and the next? Ends with the best, or with time."""
        least, nodes, pairs = self.model.prices()
        floor = self.bound
        near = np.triu(pairs < self.upper - least, 1)
        for pair in self.ring.fixed:
            near[pair] = True
        ends = np.column_stack(np.nonzero(near))
        whole = Selection(self.q, self.ring, ends)
        whole.add_cuts(self.model.cuts)
        whole.make_whole()
        for part in (*_CEILINGS, np.inf):
            ceiling = min(self.upper, np.ceil(floor * (1 + part)))
            if ceiling <= self.bound:
                continue
            _leave_out(whole, nodes, pairs, ceiling - least)
            if not self._below(whole, ceiling):
                return
            if self._closed() or ceiling >= self.upper:
                return

    def _below(self, whole: Selection, ceiling: float) -> bool:
        """Look for an order below the ceiling until one is found or none left; False: no time."""
        while self.left > 0:
            solved = whole.solve(self.left, below=ceiling - 0.5)
            if solved is False:
                self.bound = max(self.bound, ceiling)
                return True
            self.bound = max(self.bound, min(whole.whole_bound, ceiling))
            if solved is None:
                return False
            y, x = whole.chosen()
            tour = _round(whole.ends[x > 0.5], whole.size)
            if tour:
                self._keep(tour)
                return True
            whole.add_cuts(stray_rings(whole, y, x))
        return False

    def _keep(self, tour: list[int]) -> None:
        opened = len(self.ring.weights) > self.q.count
        order = turned(self.q, Answer(tuple(tour), 0, 0.0, False), opened).order
        assert order is not None
        if self.q.accepts(order) and self.q.weigh(order) < self.upper:
            self.best, self.upper = order, self.q.weigh(order)


def _leave_out(whole: Selection, nodes: Floats, pairs: Floats, gap: float) -> None:
    """Only nodes and edges that an order less than ``gap`` above the relaxation may use."""
    price = np.concatenate([nodes, pairs[whole.ends[:, 0], whole.ends[:, 1]]])
    whole.bound_columns((price < -gap).astype(float), (price < gap).astype(float))


def _round(ends: Ints, size: int) -> list[int] | None:
    """The one ring of so many nodes that these edges make, or None."""
    links: dict[int, list[int]] = {}
    for a, b in ends.tolist():
        links.setdefault(a, []).append(b)
        links.setdefault(b, []).append(a)
    tour = [min(links)]
    while True:
        ahead = [v for v in links[tour[-1]] if v not in tour[-2:]]
        if not ahead or ahead[0] == tour[0]:
            return tour if len(tour) == size else None
        tour.append(ahead[0])
