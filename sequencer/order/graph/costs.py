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

from sequencer.errors import SequenceError, UsageError

if TYPE_CHECKING:
    import networkx as nx

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FORBIDDEN = 1 << 50
"""Weight of a pair that may not meet. Sums of real weights never reach it."""

_NOTHING = 1e-200
_LARGEST_COST = 1e100
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
    _check_kind(graph)
    if graph.number_of_nodes() > MOST_PRINTS:
        raise SequenceError(
            f"{graph.number_of_nodes()} prints are more than one sequence can take "
            f"({MOST_PRINTS}); sort them into smaller boxes first."
        )
    ids = in_fixed_order(graph.nodes)
    index = {name: i for i, name in enumerate(ids)}
    edges = [(index[a], index[b], c) for a, b, c in graph.edges(data="cost") if a != b]
    cost = np.full((len(ids), len(ids)), np.inf)
    if edges:
        ends = np.array([edge[:2] for edge in edges])
        costs = _checked([edge[2] for edge in edges], edges, ids)
        cost[ends[:, 0], ends[:, 1]] = costs
        cost[ends[:, 1], ends[:, 0]] = costs
    return Box(ids, cost, _values(graph, ids))


def _check_kind(graph: Any) -> None:
    import networkx as nx

    if not isinstance(graph, nx.Graph):
        raise UsageError(f"The transition graph must be a networkx.Graph, not a "
                         f"{type(graph).__name__}; transition_graph(prints) makes one.")
    if graph.is_directed():
        raise SequenceError("This graph is directed, but two prints meet the same either way "
                            "round: give a plain networkx.Graph (graph.to_undirected()).")
    if graph.is_multigraph():
        raise SequenceError("This graph has more than one edge between two prints: give a plain "
                            "networkx.Graph (nx.Graph(graph)), one cost for each pair.")


def in_fixed_order(nodes: Iterable[Any]) -> tuple[Any, ...]:
    """Sorted, by type and text where the names do not compare."""
    names = list(nodes)
    try:
        return tuple(sorted(names))
    except TypeError:
        return tuple(sorted(names, key=lambda name: (type(name).__name__, str(name))))


def _checked(costs: list[Any], edges: list[tuple[int, int, Any]], ids: tuple[Any, ...]) -> Floats:
    wrong = [i for i, cost in enumerate(costs) if not _is_cost(cost)]
    if wrong:
        a, b, cost = edges[wrong[0]]
        found = "no cost" if cost is None else f"the cost {_short(cost)}"
        raise SequenceError(
            f"The pair {ids[a]}, {ids[b]} has {found}; every pair needs a finite cost from 0 to "
            f"{_LARGEST_COST:g} ({len(wrong)} such pair{'s' if len(wrong) > 1 else ''}). Two that "
            "may never meet need no edge at all."
        )
    return np.array([float(cost) for cost in costs])


def _is_cost(cost: Any) -> bool:
    try:
        return not isinstance(cost, (str, bytes)) and 0 <= float(cost) <= _LARGEST_COST
    except (TypeError, ValueError, OverflowError):
        return False


def _short(cost: Any) -> str:
    text = f"{cost:.3g}" if isinstance(cost, float) else repr(cost)
    return text if len(text) <= 40 else text[:37] + "…"


def _values(graph: nx.Graph, ids: tuple[Any, ...]) -> Floats | None:
    values = [graph.nodes[name].get("value") for name in ids]
    if not values or any(value is None for value in values):
        return None
    try:
        numbers = np.array([float(value) for value in values])
    except (TypeError, ValueError, OverflowError) as error:
        raise SequenceError(f"A print has a value (L*) that is not a number: {error}.") from None
    if not np.isfinite(numbers).all():
        wrong = ids[int(np.flatnonzero(~np.isfinite(numbers))[0])]
        raise SequenceError(f"The print {wrong} has no usable value (L*); measure it again.")
    return numbers


def aimed(cost: Any, aim: str) -> Any:
    """A cost or costs in the aim's own unit: squared for ``even``, as they are otherwise."""
    return cost * cost if aim == "even" else cost


def whole_weights(costs: Floats, total: float | None = None) -> tuple[Ints, float]:
    """Whole-number weights and their scale (weights per unit of cost); inf becomes FORBIDDEN.

    Costs in the aim's own unit. ``total``: what some order that keeps all wishes costs, if one is
    known; dearer pairs cannot stand in a better one and are set aside. The unit is a power of ten:
    fine enough for 10**8 units in the total and a million in the dearest pair left, coarse enough
    for the linear programs' tolerances; without ``total`` one huge pair may make it coarser.
    """
    n = len(costs)
    usable = np.isfinite(costs) & (costs <= (np.inf if total is None else total * (1 + 1e-9)))
    np.fill_diagonal(usable, False)
    scale = 1.0
    if usable.any():
        largest = max(float(costs[usable].max()), _NOTHING)
        if total is None:
            near = np.sort(np.where(usable, costs, np.inf), axis=1)[:, : min(2, n - 1)]
            total = max(float(near[np.isfinite(near)].sum()) or largest, _NOTHING)
            scale = min(_unit(total, largest), 10.0 ** math.floor(9 - math.log10(largest)))
        else:
            scale = _unit(max(total, _NOTHING), largest)
    weights = np.full((n, n), FORBIDDEN, dtype=np.int64)
    # 0.4999 instead of one half: short decimals land exactly on halves, and must not waver
    weights[usable] = np.floor(costs[usable] * scale + 0.4999).astype(np.int64)
    return weights, scale


def _unit(total: float, largest: float) -> float:
    return float(10.0 ** math.ceil(max(math.log10(3e7 / total), math.log10(1e6 / largest))))


def ranks(costs: Floats) -> Ints:
    """Whole numbers in the order of the costs, told apart to twelve digits; inf: FORBIDDEN."""
    usable = np.isfinite(costs)
    np.fill_diagonal(usable, False)
    weights = np.full(costs.shape, FORBIDDEN, dtype=np.int64)
    short = np.array([float(f"{cost:.12g}") for cost in costs[usable].tolist()])
    weights[usable] = np.unique(short, return_inverse=True)[1].astype(np.int64)
    return weights
