"""A transition graph as arrays: ids in a fixed order, costs, values, whole-number weights.

Weights are rounded to whole numbers of a small unit, so that "proved" is exact, ties are real
ties and a difference in the last bit of a cost never changes an order.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import SequenceError

if TYPE_CHECKING:
    import networkx as nx

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FORBIDDEN = 1 << 50
"""Weight of a pair that may not meet. Real weights stay below 2**45, so sums never reach it."""

_TYPICAL_TOTAL = 1e8
_LARGEST_WEIGHT = float(1 << 45)
_NOTHING = 1e-12
AIMS = ("even", "total", "worst")
MOST_PRINTS = 5000


@dataclass(frozen=True, eq=False)
class Box:
    """The prints to choose from: ``cost`` is (n, n), symmetric, inf where there is no edge."""

    ids: tuple[Any, ...]
    cost: Floats
    value: Floats | None

    @property
    def size(self) -> int:
        """How many prints there are."""
        return len(self.ids)

    def at(self, print_id: Hashable) -> int:
        """Position of this id in the arrays."""
        return self.ids.index(print_id)

    def without(self, drop: Iterable[Hashable]) -> Box:
        """The box less these prints."""
        gone = set(drop)
        keep = [i for i, name in enumerate(self.ids) if name not in gone]
        value = None if self.value is None else self.value[keep]
        ids = tuple(self.ids[i] for i in keep)
        return Box(ids, self.cost[np.ix_(keep, keep)], value)


def read_box(graph: nx.Graph) -> Box:
    """Check a transition graph and read it into arrays.

    Every edge needs a finite ``cost`` ≥ 0; loops on a print are ignored; ``value`` (L*) counts
    when every print has one. Raises SequenceError naming the first edge that is wrong.
    """
    if graph.is_directed() or graph.is_multigraph():
        raise SequenceError("The transition graph must be a plain undirected networkx.Graph.")
    if graph.number_of_nodes() > MOST_PRINTS:
        raise SequenceError(
            f"{graph.number_of_nodes()} prints are more than one sequence can take "
            f"({MOST_PRINTS}); sort them into smaller boxes first."
        )
    ids = _in_fixed_order(graph.nodes)
    index = {name: i for i, name in enumerate(ids)}
    edges = [(index[a], index[b], c) for a, b, c in graph.edges(data="cost") if a != b]
    cost = np.full((len(ids), len(ids)), np.inf)
    if edges:
        ends = np.array([edge[:2] for edge in edges])
        costs = _checked([edge[2] for edge in edges], edges, ids)
        cost[ends[:, 0], ends[:, 1]] = costs
        cost[ends[:, 1], ends[:, 0]] = costs
    return Box(ids, cost, _values(graph, ids))


def _in_fixed_order(nodes: Iterable[Any]) -> tuple[Any, ...]:
    names = list(nodes)
    try:
        return tuple(sorted(names))
    except TypeError:
        return tuple(sorted(names, key=lambda name: (type(name).__name__, str(name))))


def _checked(costs: list[Any], edges: list[tuple[int, int, Any]], ids: tuple[Any, ...]) -> Floats:
    try:
        numbers = np.array(costs, dtype=float)
        wrong = np.flatnonzero(~np.isfinite(numbers) | (numbers < 0))
    except (TypeError, ValueError):
        wrong = np.array([i for i, cost in enumerate(costs) if not _is_number(cost)])
    if len(wrong):
        a, b, cost = edges[int(wrong[0])]
        found = "no cost" if cost is None else f"the cost {cost!r}"
        raise SequenceError(
            f"The pair {ids[a]}, {ids[b]} has {found}; every pair needs a finite cost of 0 or more "
            f"({len(wrong)} such pair{'s' if len(wrong) > 1 else ''})."
        )
    return numbers


def _is_number(cost: Any) -> bool:
    try:
        return math.isfinite(float(cost)) and float(cost) >= 0
    except (TypeError, ValueError):
        return False


def _values(graph: nx.Graph, ids: tuple[Any, ...]) -> Floats | None:
    values = [graph.nodes[name].get("value") for name in ids]
    if not values or any(value is None for value in values):
        return None
    numbers = np.array(values, dtype=float)
    if not np.isfinite(numbers).all():
        wrong = ids[int(np.flatnonzero(~np.isfinite(numbers))[0])]
        raise SequenceError(f"The print {wrong} has no usable value (L*); measure it again.")
    return numbers


def aimed(cost: Floats, aim: str) -> Floats:
    """Costs in the aim's own unit: squared for ``even``, as they are otherwise."""
    return cost * cost if aim == "even" else cost


def whole_weights(costs: Floats) -> tuple[Ints, float]:
    """Whole-number weights and their scale (weights per unit of cost); inf becomes FORBIDDEN.

    The unit is a power of ten, chosen so that a good order weighs about 10**8: fine enough that
    rounding never matters, coarse enough for the linear programs' tolerances.
    """
    n = len(costs)
    finite = np.isfinite(costs)
    scale = 1.0
    if n > 1 and finite.any():
        second = np.sort(np.where(np.eye(n, dtype=bool), np.inf, costs), axis=1)[:, : min(2, n - 1)]
        typical = float(second[np.isfinite(second)].sum()) or float(costs[finite].mean()) * n
        typical, largest = max(typical, _NOTHING), max(float(costs[finite].max()), _NOTHING)
        scale = 10.0 ** math.floor(
            min(math.log10(_TYPICAL_TOTAL / typical), math.log10(_LARGEST_WEIGHT / largest))
        )
    weights = np.full((n, n), FORBIDDEN, dtype=np.int64)
    # 0.4999 instead of one half: short decimals land exactly on halves, and must not waver
    weights[finite] = np.floor(costs[finite] * scale + 0.4999).astype(np.int64)
    return weights, scale
