"""Bottleneck: the least level at which a closed tour still exists.

A level is possible only if the pairs up to it leave every print two neighbours and no print whose
loss would part the rest (biconnectivity, from networkx); for a path, only if the parts that such
prints join lie in a row. That is the lower end of the search.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import replace

import networkx as nx
import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.tours.ring import NONE, Answer, Ring
from sequencer.order.search.tours.rings import solve_ring
from sequencer.order.search.tours.subtours import Mask


def least_largest_ring(ring: Ring, deadline: float) -> Answer:
    """A tour whose largest pair is least: ``weight`` is that level, ``bound`` what is proved."""
    levels = np.unique(ring.weights[np.triu(ring.weights < FORBIDDEN, 1)])
    low, high = _first_possible(ring, levels), len(levels)
    best: tuple[int, ...] | None = None
    probe, step = low, 1
    while low < high and time.monotonic() < deadline:
        capped = np.where(ring.weights <= levels[probe], ring.weights, FORBIDDEN)
        answer = solve_ring(replace(ring, weights=capped), deadline, any_tour=True)
        if answer.order is not None:
            best, high = answer.order, int(np.searchsorted(levels, _largest(ring, answer.order)))
        elif answer.proved:
            low, step = probe + 1, 2 * step
        else:
            break
        probe = (low + high) // 2 if best else min(low + step - 1, len(levels) - 1)
    if low >= high:
        return NONE if best is None else Answer(best, int(levels[high]), int(levels[high]), True)
    best = best or solve_ring(ring, deadline, any_tour=True).order
    largest = 0 if best is None else _largest(ring, best)
    return Answer(best, largest, float(levels[low]), False)


def _largest(ring: Ring, tour: tuple[int, ...]) -> int:
    at = np.array(tour)
    return int(ring.weights[at, np.roll(at, -1)].max())


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
    """Whether these pairs may close a tour; a node beside all others leaves a path of the rest."""
    if connected_components(csr_matrix(near), directed=False)[0] > 1:
        return False
    with_all = np.flatnonzero(near.sum(axis=1) == len(near) - 1)[:1]
    rest = np.delete(np.delete(near, with_all, axis=0), with_all, axis=1)
    a, b = np.nonzero(np.triu(rest, 1))
    graph = nx.Graph()
    graph.add_nodes_from(range(len(rest)))
    graph.add_edges_from(zip(a.tolist(), b.tolist(), strict=True))
    return _in_a_row(graph) if len(with_all) else bool(nx.is_biconnected(graph))


def _in_a_row(graph: nx.Graph) -> bool:
    """Whether the blocks of a graph hang together like beads, as a path through all needs it."""
    if not nx.is_connected(graph):
        return False
    cuts = set(nx.articulation_points(graph))
    blocks = [block & cuts for block in nx.biconnected_components(graph)]
    beside = Counter(v for block in blocks for v in block)
    return all(len(block) <= 2 for block in blocks) and all(n <= 2 for n in beside.values())
