"""The best order by subsets (Held and Karp 1962), under every wish; nothing of the solver in it.

Ten to thirteen prints, where listing all orders takes too long. One table for each set of prints
and the one it ends on; wishes forbid steps, and sets at the end.
"""

from __future__ import annotations

import itertools
from typing import Any

import networkx as nx
import numpy as np


def best_by_subsets(
    graph: nx.Graph, loop: bool, aim: str, wishes: dict[str, Any]
) -> tuple[float, ...] | None:
    """What the aim compares, of the best order that keeps the wishes; None if there is none."""
    names = [name for name in sorted(graph) if name not in wishes.get("exclude", ())]
    if any(name not in names for name in _needed(wishes)):
        return None
    cost = nx.to_numpy_array(graph, names, weight="cost", nonedge=np.inf)
    cost[cost < (wishes.get("distinct") or 0)] = np.inf
    np.fill_diagonal(cost, np.inf)
    at = {name: i for i, name in enumerate(names)}
    for a, b in wishes.get("apart", ()):
        if a in at and b in at:
            cost[at[a], at[b]] = cost[at[b], at[a]] = np.inf
    table = _Table(graph, names, loop, wishes)
    if aim == "worst":
        largest = table.least(cost, np.maximum)
        total = table.least(np.where(cost <= largest, cost, np.inf), np.add)
        return (largest, total) if np.isfinite(largest) else None
    total = table.least(cost**2 if aim == "even" else cost, np.add)
    return (total,) if np.isfinite(total) else None


def _needed(wishes: dict[str, Any]) -> set[str]:
    named = {*wishes.get("include", ()), *(wishes[k] for k in ("first", "last") if k in wishes)}
    return named | {name for kind in ("together", "before") for pair in wishes.get(kind, ())
                    for name in pair}


class _Table:
    def __init__(
        self, graph: nx.Graph, names: list[str], loop: bool, wishes: dict[str, Any]
    ) -> None:
        at = {name: i for i, name in enumerate(names)}
        self.n, self.loop = len(names), loop
        self.size = wishes.get("pick") or self.n
        self.first, self.last = (at.get(wishes.get(end, "")) for end in ("first", "last"))
        self.together = [(at[a], at[b]) for a, b in wishes.get("together", ())]
        self.before = [(at[a], at[b]) for a, b in wishes.get("before", ())]
        must = sum(1 << at[name] for name in _needed(wishes))
        value = np.array([graph.nodes[name].get("value", 0.0) for name in names])
        span = wishes.get("value_range") or 0
        self.sets = [[] for _ in range(self.n + 1)]
        for mask in range(1, 1 << self.n):
            self.sets[mask.bit_count()].append(mask)
        self.ends = [
            mask for mask in self.sets[min(self.size, self.n)]
            if mask & must == must and np.ptp(value[self._held(mask)]) >= span
        ] if self.size <= self.n else []

    def _held(self, mask: int) -> list[int]:
        return [v for v in range(self.n) if mask >> v & 1]

    def least(self, cost: np.ndarray, join: Any) -> float:
        """Least of all ends; ``join``: adds a step, or keeps the larger."""
        if self.first is not None:
            starts = [[self.first]]
        else:  # a loop is tried from each start, or where its list is free only from its least
            starts = [[v] for v in range(self.n)] if self.loop else [list(range(self.n))]
        free = self.loop and self.first is None and self.last is None
        return min((self._from(start, start[0] if free else 0, cost, join) for start in starts),
                   default=np.inf)

    def _from(self, starts: list[int], least: int, cost: np.ndarray, join: Any) -> float:
        reach = np.full((1 << self.n, self.n), np.inf)
        for v in starts:
            if self._may(0, None, v, None, 1):
                reach[1 << v, v] = 0.0
        start = starts[0] if self.loop else None
        for count in range(1, self.size):
            for mask in self.sets[count]:
                if mask & ((1 << least) - 1):
                    continue
                ways = join(reach[mask][:, None], cost)
                for last, v in itertools.product(range(self.n), repeat=2):
                    if mask >> v & 1 or not np.isfinite(ways[last, v]):
                        continue
                    onto = mask | 1 << v
                    if (ways[last, v] < reach[onto, v]
                            and self._may(mask, last, v, start, count + 1)):
                        reach[onto, v] = ways[last, v]
        best = np.inf
        for mask in self.ends:
            done = reach[mask]
            if self.last is not None:
                done = np.where(np.arange(self.n) == self.last, done, np.inf)
            if start is not None and self.size > 1:
                done = join(done, cost[:, start])
            best = min(best, float(done.min()))
        return best

    def _may(self, mask: int, last: int | None, v: int, start: int | None, place: int) -> bool:
        """Whether v may stand at this place, after those in the set, of which ``last`` is last."""
        if (v == self.last) != (place == self.size) and self.last is not None:
            return False
        if any(v == b and not mask >> a & 1 for a, b in self.before):
            return False
        for one, other in itertools.chain(self.together, (p[::-1] for p in self.together)):
            closes = start == one and place == self.size
            if last == one and not mask >> other & 1 and v != other and start != one:
                return False  # one is left, and other did not come
            if v == other and mask >> one & 1 and last != one and not closes:
                return False
        return True
