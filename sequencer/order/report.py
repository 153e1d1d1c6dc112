"""From an order of positions to the Sequence record: direction, neighbours, totals."""

from __future__ import annotations

import math
from collections.abc import Sequence as Listed
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from sequencer.models import Neighbours
from sequencer.order.graph.costs import Box, aimed
from sequencer.order.search.question import Question, meetings

if TYPE_CHECKING:
    import networkx as nx


def in_reading_direction(question: Question, order: Listed[int], value: Any) -> list[int]:
    """The same neighbours, listed light to dark where the wishes leave that free.

    A path starts at its lighter end. A loop starts at its lightest print and goes on with the
    lighter of that one's two neighbours. Without values, or on a tie, the earlier id comes first.
    """
    ways = [list(order), list(order)[::-1]]
    if question.loop:
        ways = _from_start(question, ways, value)
    allowed = [way for way in ways if question.accepts(way)] or [list(order)]
    return min(allowed, key=lambda way: [_rank(v, value) for v in way])


def _rank(v: int, value: Any) -> tuple[float, int]:
    return (0.0 if value is None else -round(float(value[v]), 9), v)


def _from_start(question: Question, ways: list[list[int]], value: Any) -> list[list[int]]:
    start = question.first
    if start is None:
        start = min(ways[0], key=lambda v: _rank(v, value))
    turned = []
    for way in ways:
        at = way.index(start)
        turned.append(way[at:] + way[:at])
    return turned


def totals(box: Box, order: Listed[int], loop: bool, aim: str) -> tuple[float, float]:
    """Total in the aim's own unit, and the largest cost between neighbours."""
    costs = [float(box.cost[a, b]) for a, b in meetings(order, loop)]
    own = [float(aimed(box.cost[a, b], aim)) for a, b in meetings(order, loop)]
    return math.fsum(own), max(costs, default=0.0)


def neighbours_of(graph: nx.Graph, order: Listed[Any], loop: bool) -> tuple[Neighbours, ...]:
    """What the graph knows about every pair that meets; a loop's closing pair last."""
    pairs = list(pairwise(order))
    if loop and len(order) > 1:
        pairs.append((order[-1], order[0]))
    return tuple(_neighbours(graph, a, b) for a, b in pairs)


def _neighbours(graph: nx.Graph, a: Any, b: Any) -> Neighbours:
    edge = graph.edges[a, b]
    value_a, value_b = graph.nodes[a].get("value"), graph.nodes[b].get("value")
    known = value_a is not None and value_b is not None
    return Neighbours(
        a=a,
        b=b,
        cost=float(edge["cost"]),
        delta_e=edge.get("delta_e"),
        value_step=float(value_b) - float(value_a) if known else None,
        shared=edge.get("shared"),
        verdict=edge.get("verdict"),
        certain=bool(edge.get("certain", True)),
    )


def totals_of(pairs: Listed[Neighbours], aim: str) -> tuple[float, float]:
    """The same of neighbours as reported."""
    costs = [pair.cost for pair in pairs]
    return math.fsum(aimed(cost, aim) for cost in costs), max(costs, default=0.0)
