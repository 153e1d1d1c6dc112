"""Branch and cut for the closed tour: best bound first, strong branching, subtour cuts everywhere.

Padberg and Rinaldi (1991); strong branching after Applegate, Bixby, Chvátal and Cook (2006). The
linear program is kept between nodes; only bounds change, and cuts found anywhere serve everywhere.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sequencer.order.costs import Floats, Ints
from sequencer.order.cuts import combs, subtours
from sequencer.order.relaxation import Relaxation

_CANDIDATES = 8
_TRIAL_PIVOTS = 60
_ROUNDS = 12
_EPS = 1e-6

Found = Callable[[Ints, Floats], None]


@dataclass(eq=False)
class _Node:
    bound: float
    fixed: dict[int, int]


class BranchAndCut:
    """Searches the edges of one relaxation for a tour lighter than ``upper``.

    ``take`` is told of every fractional or whole answer, and may lower ``upper`` from outside.
    """

    def __init__(
        self, relaxation: Relaxation, low: Floats, upper: float, line: Ints, deadline: float,
        take: Callable[[Ints, Floats], float],
    ) -> None:
        self.r, self.upper, self.line, self.deadline = relaxation, upper, line, deadline
        self.take = take
        self.low, self.high = low.copy(), np.ones(len(low))
        self.now_low, self.now_high = low.copy(), np.ones(len(low))
        self.bound = -np.inf
        self.nodes = 0
        self.hopes: dict[int, tuple[float, float]] = {}
        self.order: list[tuple[float, int, _Node]] = []
        self._number = 0

    @property
    def left(self) -> float:
        """Seconds left."""
        return self.deadline - time.monotonic()

    def run(self) -> float:
        """A bound no lighter tour can beat (``upper`` itself when the search is complete)."""
        self._push(_Node(-np.inf, {}))
        while self.order:
            bound, _, start = heapq.heappop(self.order)
            if self._hopeless(bound):
                return self.upper
            self.bound = max(self.bound, bound)
            node: _Node | None = start
            while node is not None:
                following = self._explore(node) if self.left > 0 else _STOPPED
                if following is _STOPPED:
                    return max(self.bound, min([node.bound, *(one[0] for one in self.order)]))
                node = following
        return self.upper

    def _hopeless(self, bound: float) -> bool:
        return bool(np.ceil(bound - max(_EPS, 1e-9 * abs(bound))) >= self.upper)

    def _push(self, node: _Node) -> None:
        self._number += 1
        heapq.heappush(self.order, (node.bound, self._number, node))

    def _go_to(self, node: _Node) -> None:
        low, high = self.low.copy(), self.high.copy()
        for edge, value in node.fixed.items():
            low[edge] = high[edge] = float(value)
        changed = np.flatnonzero((low != self.now_low) | (high != self.now_high))
        self._set(changed, low[changed], high[changed])
        self.now_low, self.now_high = low, high

    def _set(self, edges: Ints, low: Floats, high: Floats) -> None:
        if len(edges):
            self.r.solver.changeColsBounds(len(edges), edges.astype(np.int32), low, high)

    def _explore(self, node: _Node) -> _Node | None:
        """Solve a node with its cuts; branch; go on with the more promising child."""
        self.nodes += 1
        self._go_to(node)
        state, x = self._tightened(node)
        if state is None:
            return _STOPPED
        fractional = np.flatnonzero((x > 1e-5) & (x < 1 - 1e-5))
        if state is False or self._hopeless(node.bound) or not len(fractional):
            return None
        return self._split(node, x, fractional)

    def _tightened(self, node: _Node) -> tuple[bool | None, Floats]:
        """Cutting planes at this node. False: nothing here; None: out of time."""
        nothing = np.empty(0)
        past = -np.inf
        for turn in range(10**6):
            solved = self.r.solve(self.left)
            if solved is not True:
                return solved, nothing
            x = self.r.x()
            node.bound = max(node.bound, self.r.bound)
            self.upper = min(self.upper, self.take(self.r.ends, x))
            if self._hopeless(node.bound):
                return False, nothing
            cuts = subtours(self.r.n, self.r.ends, x, self.line)
            if not cuts and turn < _ROUNDS and self.r.bound > past + 1e-4 * (self.upper - past):
                past = self.r.bound
                cuts = combs(self.r.n, self.r.ends, x, self.line)
            if cuts and not node.fixed:
                self.r.drop_idle_cuts()
            if not self.r.add_cuts(cuts):
                return True, x
        return True, x

    def _split(self, node: _Node, x: Floats, fractional: Ints) -> _Node | None:
        """Two children, less those already shown to lead nowhere; the other one waits its turn."""
        edge, dead = self._choose(node, x, fractional)
        children = [_Node(node.bound, {**node.fixed, edge: value})
                    for value in (0, 1) if value not in dead]
        if not children:
            return None
        if len(children) == 2:
            off, on = self.hopes[edge]
            self._push(children.pop(0 if off > on else 1))
        return children[0]

    def _choose(self, node: _Node, x: Floats, fractional: Ints) -> tuple[int, set[int]]:
        """Strong branching: the edge whose two ways raise the bound most, and its dead ways.

        What an edge was once seen to gain stands in for trying it again.
        """
        cost = self.r.weights[self.r.ends[fractional, 0], self.r.ends[fractional, 1]]
        middle = np.minimum(x[fractional], 1 - x[fractional])
        likely = np.argsort(-(middle * (cost + 1.0)), kind="stable")[: 3 * _CANDIDATES]
        edges = [int(edge) for edge in fractional[likely]]
        fresh = [edge for edge in edges if edge not in self.hopes][:_CANDIDATES]
        basis = self.r.solver.getBasis()
        for edge in fresh:
            dead = set()
            gains = [0.0, 0.0]
            for value in (0, 1):
                gains[value], proved = self._try(node, edge, value)
                if proved and self._hopeless(node.bound + gains[value]):
                    dead.add(value)
                self.r.solver.setBasis(basis)
            self.hopes[edge] = (gains[0], gains[1])
            if dead or self.left <= 0:
                return edge, dead
        most = self.upper - node.bound + 1

        def worth(edge: int) -> float:
            off, on = self.hopes[edge]
            return max(min(off, most), 1.0) * max(min(on, most), 1.0)

        return max((edge for edge in edges if edge in self.hopes), key=worth), set()

    def _try(self, node: _Node, edge: int, value: int) -> tuple[float, bool]:
        """What fixing this edge adds to the bound, and whether that is proved, in a few pivots."""
        solver = self.r.solver
        solver.changeColBounds(edge, float(value), float(value))
        solver.setOptionValue("simplex_iteration_limit", _TRIAL_PIVOTS)
        solved = self.r.solve(self.left)
        gain = np.inf if solved is False else max(0.0, self.r.bound - node.bound)
        solver.setOptionValue("simplex_iteration_limit", 2**31 - 1)
        solver.changeColBounds(edge, self.now_low[edge], self.now_high[edge])
        return float(gain), solved is not None


_STOPPED = _Node(np.inf, {})
