"""The single moves that would gain her own order most.

Three kinds of move, every one of each priced at once: move one print, swap two, turn a stretch
round. All are exact differences of the pairs that change.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from collections.abc import Sequence as Listed
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from sequencer.models import Json
from sequencer.order.graph.costs import Floats, aimed, read_box

if TYPE_CHECKING:
    import networkx as nx

_ROUND = 9


@dataclass(frozen=True)
class Move:
    """One change to an order: ``gain`` in the aim's own unit (> 0), ``order`` after it.

    ``kind``: move, swap or turn. ``worst``: the largest cost after it.
    """

    kind: str
    words: str
    gain: float
    worst: float
    order: tuple[Any, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {"kind": self.kind, "words": self.words, "gain": round(self.gain, 6),
                "worst": round(self.worst, 6), "order": list(self.order)}


def best_moves(
    graph: nx.Graph, order: Listed[Any], loop: bool, aim: str, count: int
) -> tuple[Move, ...]:
    """The single moves that gain most, no two leading to the same order."""
    box = read_box(graph.subgraph(order))
    at = [box.ids.index(name) for name in order]
    cost = box.cost[np.ix_(at, at)]
    now = _price(cost, np.arange(len(at)), loop, aim)
    found: list[tuple[tuple[float, ...], tuple[str, int, int], Listed[int]]] = []
    for kind, i, j, places in _promising(cost, loop, aim, 60):
        new = _price(cost, np.array(places), loop, aim)
        if new < now:
            found.append((new, (kind, i, j), places))
    found.sort(key=lambda one: (one[0], _KINDS.index(one[1][0]), one[1][1:]))
    return tuple(_moves(cost, found, now, list(order), loop, count))


_KINDS = ("move", "swap", "turn")


def _price(cost: Floats, places: Any, loop: bool, aim: str) -> tuple[float, ...]:
    """What is compared: (total) or, for the worst aim, (largest, total); rounded for ties."""
    steps = cost[places[:-1], places[1:]]
    if loop and len(places) > 1:
        steps = np.append(steps, cost[places[-1], places[0]])
    total = round(math.fsum(aimed(steps, aim)), _ROUND)
    return (round(float(steps.max(initial=0)), _ROUND), total) if aim == "worst" else (total,)


def _promising(
    cost: Floats, loop: bool, aim: str, count: int
) -> Iterator[tuple[str, int, int, list[int]]]:
    """The moves of each kind with the largest difference in total, as new lists of places."""
    n = len(cost)
    if n < 3:
        return
    price = aimed(cost, aim)
    if aim == "worst":  # high powers put the largest pair first
        price = (cost / max(float(cost[np.isfinite(cost)].max()), 1e-12)) ** 8
    price = np.where(np.isfinite(price), price, 1e18)
    padded = np.zeros((n + 2, n + 2))
    padded[1 : n + 1, 1 : n + 1] = price
    if loop:
        padded[0, 1 : n + 1] = padded[1 : n + 1, 0] = price[n - 1]
        padded[n + 1, 1 : n + 1] = padded[1 : n + 1, n + 1] = price[0]
    for kind, gains in (("move", _move_gains(padded, n)), ("swap", _swap_gains(padded, n, loop)),
                        ("turn", _turn_gains(padded, n, loop))):
        flat = np.argsort(-gains, axis=None, kind="stable")[:count]
        for i, j in zip(*np.unravel_index(flat, gains.shape), strict=True):
            if gains[i, j] > 0:
                yield kind, int(i), int(j), _apply(kind, int(i), int(j), n)


def _apply(kind: str, i: int, j: int, n: int) -> list[int]:
    places = list(range(n))
    if kind == "move":  # take place i out, put it before what was at place j (n: at the end)
        places.remove(i)
        places.insert(j if j < i else j - 1, i)
    elif kind == "swap":
        places[i], places[j] = places[j], places[i]
    else:
        places[i : j + 1] = places[i : j + 1][::-1]
    return places


def _move_gains(p: Floats, n: int) -> Floats:
    """gains[i, j]: take place i out and put it into the gap before place j (0 … n)."""
    k = np.arange(1, n + 1)
    out = p[k - 1, k] + p[k, k + 1] - p[k - 1, k + 1]
    gap = np.arange(1, n + 2)
    into = p[gap[None, :] - 1, k[:, None]] + p[k[:, None], gap[None, :]] - p[gap - 1, gap][None, :]
    gains = out[:, None] - into
    gains[k - 1, k - 1] = gains[k - 1, k] = -np.inf
    gains[0, n] = gains[n - 1, 0] = -np.inf  # on a loop the same place, on a path see turn
    if p[0].max() == 0:
        gains[0, n] = out[0] - p[n, 1]
        gains[n - 1, 0] = out[n - 1] - p[n, 1]
    return gains


def _swap_gains(p: Floats, n: int, loop: bool) -> Floats:
    """gains[i, j], i < j - 1: exchange places i and j (neighbours are a move)."""
    k = np.arange(1, n + 1)
    now = p[k - 1, k] + p[k, k + 1]
    there = p[k[:, None] - 1, k[None, :]] + p[k[:, None] + 1, k[None, :]]
    gains = now[:, None] + now[None, :] - there - there.T
    gains[np.tril_indices(n, 1)] = -np.inf
    if loop:
        gains[0, n - 1] = -np.inf
    return gains


def _turn_gains(p: Floats, n: int, loop: bool) -> Floats:
    """gains[i, j], i < j: turn the stretch from place i to place j round."""
    k = np.arange(1, n + 1)
    before, after = p[k - 1, k], p[k, k + 1]
    gains = before[:, None] + after[None, :]
    gains = gains - p[k[:, None] - 1, k[None, :]] - p[k[:, None], k[None, :] + 1]
    gains[np.tril_indices(n)] = -np.inf
    if loop:
        gains[0, n - 2 :] = gains[1, n - 1] = -np.inf
    else:
        gains[0, n - 1] = -np.inf
    return gains


def _moves(
    cost: Floats, found: list[tuple[tuple[float, ...], tuple[str, int, int], Listed[int]]],
    now: tuple[float, ...], order: list[Any], loop: bool, count: int,
) -> Iterator[Move]:
    seen: set[frozenset[frozenset[int]]] = set()
    for new, (kind, i, j), places in found:
        pairs = [*pairwise(places), *[(places[-1], places[0])] * loop]
        same = frozenset(frozenset(pair) for pair in pairs)
        if same in seen or len(seen) == count:
            continue
        seen.add(same)
        after = tuple(order[k] for k in places)
        words = _words(kind, i, j, order, after, loop)
        worst = max(float(cost[a, b]) for a, b in pairs)
        yield Move(kind, words, now[-1] - new[-1], worst, after)


def _words(
    kind: str, i: int, j: int, order: list[Any], after: tuple[Any, ...], loop: bool
) -> str:
    if kind == "swap":
        return f"swap {order[i]} and {order[j]}"
    if kind == "turn":
        return f"turn the stretch from {order[i]} to {order[j]} round"
    at, n = after.index(order[i]), len(after)
    if not loop and at in (0, n - 1):
        return f"move {order[i]} to the {'start' if at == 0 else 'end'}"
    return f"move {order[i]} between {after[at - 1]} and {after[(at + 1) % n]}"
