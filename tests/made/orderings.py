"""Oracles written without the solver: enumeration, and the recursion of Held and Karp (1962)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import Any

import networkx as nx
import numpy as np


def graph_of(cost: np.ndarray, value: Sequence[float] | None = None) -> nx.Graph:
    """A transition graph of prints p00, p01, …; pairs with cost inf are left out."""
    graph = nx.Graph()
    names = [f"p{i:02d}" for i in range(len(cost))]
    for i, name in enumerate(names):
        graph.add_node(name, **({} if value is None else {"value": float(value[i])}))
    for i, j in itertools.combinations(range(len(cost)), 2):
        if np.isfinite(cost[i, j]):
            graph.add_edge(names[i], names[j], cost=float(cost[i, j]))
    return graph


def scattered(n: int, seed: int, dimensions: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Distances of random points, as in Lab, and the first coordinate as a value."""
    points = np.random.default_rng(seed).random((n, dimensions)) * [90, 60, 60][:dimensions]
    return np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2)), points[:, 0]


def meetings(order: Sequence[Any], loop: bool) -> list[tuple[Any, Any]]:
    pairs = list(itertools.pairwise(order))
    return [*pairs, (order[-1], order[0])] if loop and len(order) > 1 else pairs


def price(graph: nx.Graph, order: Sequence[Any], loop: bool, aim: str) -> tuple[float, ...]:
    """What the aim compares."""
    costs = [graph.edges[pair]["cost"] for pair in meetings(order, loop)]
    total = math.fsum(c * c if aim == "even" else c for c in costs)
    return (max(costs, default=0.0), total) if aim == "worst" else (total,)


def keeps(graph: nx.Graph, order: Sequence[Any], loop: bool, wishes: dict[str, Any]) -> bool:
    """Whether an order keeps every wish, read literally."""
    place = {name: i for i, name in enumerate(order)}
    pairs = {frozenset(pair) for pair in meetings(order, loop)}
    values = [graph.nodes[name].get("value", 0.0) for name in order]
    costs = [graph.edges[tuple(pair)]["cost"] if len(pair) == 2 and graph.has_edge(*pair)
             else math.inf for pair in pairs]
    return (
        all(map(math.isfinite, costs))
        and wishes.get("first") in (None, order[0])
        and wishes.get("last") in (None, order[-1])
        and all(name in place for name in wishes.get("include", ()))
        and not any(name in place for name in wishes.get("exclude", ()))
        and all(frozenset(pair) in pairs for pair in wishes.get("together", ()))
        and not any(frozenset(pair) in pairs for pair in wishes.get("apart", ()))
        and all(a in place and b in place and place[a] < place[b]
                for a, b in wishes.get("before", ()))
        and min(costs, default=math.inf) >= (wishes.get("distinct") or 0)
        and max(values) - min(values) >= (wishes.get("value_range") or 0)
    )


def every_order(graph: nx.Graph, loop: bool, wishes: dict[str, Any]) -> Iterable[tuple[Any, ...]]:
    """All orders of the right size that keep the wishes."""
    names = [name for name in sorted(graph) if name not in wishes.get("exclude", ())]
    size = wishes.get("pick") or len(names)
    if not 1 <= size <= len(names):
        return
    for order in itertools.permutations(names, size):
        if keeps(graph, order, loop, wishes):
            yield order


def best_price(
    graph: nx.Graph, loop: bool, aim: str, wishes: dict[str, Any]
) -> tuple[float, ...] | None:
    """The least price of all orders; None if there is no order."""
    return min((price(graph, order, loop, aim) for order in every_order(graph, loop, wishes)),
               default=None)


def held_karp(cost: np.ndarray, loop: bool) -> float:
    """Least total of an open or closed order of all n ≤ 12, by the recursion of Held and Karp."""
    n = len(cost)
    best = {(1 << i, i): 0.0 for i in ([0] if loop else range(n))}
    for size in range(2, n + 1):
        for chosen in itertools.combinations(range(n), size):
            if loop and 0 not in chosen:
                continue
            seen = sum(1 << i for i in chosen)
            for last in chosen:
                if loop and last == 0:
                    continue
                options = [best[seen ^ (1 << last), i] + cost[i, last] for i in chosen
                           if i != last and (seen ^ (1 << last), i) in best]
                if options:
                    best[seen, last] = min(options)
    whole = (1 << n) - 1
    ends = {i: best[whole, i] for i in range(n) if (whole, i) in best}
    return min(total + (cost[i, 0] if loop else 0.0) for i, total in ends.items())
