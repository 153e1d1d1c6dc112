"""Bottleneck: the closed tour whose largest pair is least, then the least sum at that level.

A level is possible only if the pairs up to it leave every print two neighbours and no print whose
loss would part the rest (biconnectivity, from networkx): the lower end of the search.
"""

from __future__ import annotations

import time

import networkx as nx
import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from sequencer.order.costs import FORBIDDEN, Ints
from sequencer.order.cuts import Mask
from sequencer.order.exact import Answer, Ring, solve_ring


def least_largest_ring(ring: Ring, deadline: float) -> tuple[Answer, int]:
    """The answer, and the least level proved possible or not yet shut out (a lower bound)."""
    levels = np.unique(ring.weights[np.triu(ring.weights < FORBIDDEN, 1)])
    low, high = _first_possible(ring, levels), len(levels)
    best: Answer | None = None
    probe, step = low, 1
    while low < high and time.monotonic() < deadline:
        answer = solve_ring(_capped(ring, int(levels[probe])), deadline)
        if answer.order is not None:
            best, high = answer, int(np.searchsorted(levels, _largest(ring, answer.order)))
        elif answer.proved:
            low, step = probe + 1, 2 * step
        else:
            break
        probe = (low + high) // 2 if best else min(low + step - 1, len(levels) - 1)
    level = int(levels[low]) if low < len(levels) else FORBIDDEN
    if best is None:
        return Answer(None, 0, np.inf, low >= high), level
    if low < high:
        best = Answer(best.order, best.weight, min(best.bound, best.weight), False)
    return best, level


def _largest(ring: Ring, tour: tuple[int, ...]) -> int:
    at = np.array(tour)
    return int(ring.weights[at, np.roll(at, -1)].max())


def _capped(ring: Ring, level: int) -> Ring:
    return Ring(np.where(ring.weights <= level, ring.weights, FORBIDDEN), ring.fixed, ring.limits)


def _first_possible(ring: Ring, levels: Ints) -> int:
    """Index of the least level that passes the necessary conditions.

    They hold from some level on; steps that double keep the graphs looked at sparse.
    """
    own = np.sort(ring.weights, axis=1)[:, 1]
    fixed = max((int(ring.weights[pair]) for pair in ring.fixed), default=0)
    low, high = int(np.searchsorted(levels, max(int(own.max()), fixed))), len(levels)
    step, probe = 1, low
    while low < high:
        if _could_close(ring.weights <= levels[probe]):
            high = probe
        else:
            low, step = probe + 1, 2 * step
        probe = min(low + step - 1, high - 1) if high == len(levels) else (low + high) // 2
    return low


def _could_close(near: Mask) -> bool:
    if connected_components(csr_matrix(near), directed=False)[0] > 1:
        return False
    a, b = np.nonzero(np.triu(near, 1))
    graph = nx.Graph()
    graph.add_edges_from(zip(a.tolist(), b.tolist(), strict=True))
    return bool(nx.is_biconnected(graph))
