"""Inequalities that every closed tour keeps and a fractional answer breaks.

A cut is a few node sets and a right side: the edges leaving the sets, counted together, are at
least that many. One set and 2: subtour elimination (Dantzig, Fulkerson, Johnson 1954). A handle
with an odd number t of teeth and 3t + 1: blossom and comb inequalities (Edmonds 1965; Chvátal 1973;
found by the odd-component rule of Padberg and Hong 1980).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from sequencer.order.costs import Floats, Ints

Mask = NDArray[np.bool_]
_EPS = 1e-6
_WORTH = 0.02


@dataclass(frozen=True, eq=False)
class Cut:
    """Edges leaving ``sets`` (each a mask over the nodes), counted together, are ≥ ``least``."""

    sets: tuple[Mask, ...]
    least: int

    def on(self, ends: Ints) -> Ints:
        """How often each of these edges, (m, 2), counts in the cut."""
        a, b = ends[:, 0], ends[:, 1]
        return np.sum([inside[a] != inside[b] for inside in self.sets], axis=0, dtype=np.int64)

    def key(self) -> bytes:
        """The same cut has the same key."""
        parts = sorted(np.packbits(one if one[0] else ~one).tobytes() for one in self.sets)
        return b"|".join(parts)


def support(n: int, ends: Ints, x: Floats) -> csr_matrix:
    """The symmetric (n, n) matrix of the edges in use."""
    used = x > _EPS
    a, b, w = ends[used, 0], ends[used, 1], x[used]
    both = (np.r_[w, w], (np.r_[a, b], np.r_[b, a]))
    return csr_matrix(coo_matrix(both, shape=(n, n)))


def subtours(n: int, ends: Ints, x: Floats, order: Ints) -> list[Cut]:
    """Broken subtour inequalities, cheapest search first; exact if the cheap ones find none."""
    graph = support(n, ends, x)
    return (
        _component_cuts(graph, n)
        or _interval_cuts(graph, order)
        or _threshold_cuts(n, ends, x)
        or _minimum_cuts(graph)
    )


def component_cuts(n: int, ends: Ints, x: Floats) -> list[Cut]:
    """One cut for every separate piece of the support; none when it hangs together."""
    return _component_cuts(support(n, ends, x), n)


def _component_cuts(graph: csr_matrix, n: int) -> list[Cut]:
    count, label = connected_components(graph, directed=False)
    if count == 1:
        return []
    return [Cut((label == c,), 2) for c in range(count if count > 2 else 1)]


def _interval_cuts(graph: csr_matrix, order: Ints) -> list[Cut]:
    """Sets that are stretches of a good tour: all n² of them at once, by running sums."""
    n = len(order)
    inside = np.triu(graph[order][:, order].toarray(), 1)
    inside = np.cumsum(inside[::-1], axis=0)[::-1].cumsum(axis=1)
    size = np.arange(n)[None, :] - np.arange(n)[:, None] + 1
    broken = np.where((size >= 2) & (size <= n - 2), inside - size + 1, -1.0)
    ends_at = broken.argmax(axis=1)
    worst = broken[np.arange(n), ends_at]
    starts = np.flatnonzero(worst > _WORTH)
    starts = starts[np.argsort(-worst[starts], kind="stable")][:60]
    cuts = []
    for start in starts.tolist():
        mask = np.zeros(n, dtype=bool)
        mask[order[start : ends_at[start] + 1]] = True
        cuts.append(Cut((mask,), 2))
    return cuts


def _threshold_cuts(n: int, ends: Ints, x: Floats) -> list[Cut]:
    """Pieces that hang together by edges of at least some strength."""
    found: dict[bytes, Cut] = {}
    for least in (0.9, 0.75, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1):
        strong = np.where(x >= least, x, 0.0)
        count, label = connected_components(support(n, ends, strong), directed=False)
        if count == 1:
            continue
        crossing = label[ends[:, 0]] != label[ends[:, 1]]
        leaving = np.zeros(count)
        for side in (0, 1):
            leaving += np.bincount(label[ends[crossing, side]], x[crossing], minlength=count)
        for c in np.flatnonzero(leaving < 2 - _WORTH).tolist():
            cut = Cut((label == c,), 2)
            found.setdefault(cut.key(), cut)
    return list(found.values())[:60]


def _shrunk(graph: csr_matrix) -> tuple[Floats, Ints]:
    """Merge ends of edges that carry 1 (Padberg and Rinaldi 1990); dense weights and labels."""
    n = graph.shape[0]
    label = np.arange(n)
    current: csr_matrix = graph
    while True:
        strong = csr_matrix(current)
        strong.data = np.where(strong.data >= 1 - _EPS, strong.data, 0.0)
        strong.eliminate_zeros()
        count, merged = connected_components(strong, directed=False)
        if count == current.shape[0]:
            break
        label = merged[label]
        gather = csr_matrix((np.ones(len(merged)), (merged, np.arange(len(merged)))))
        current = csr_matrix(gather @ current @ gather.T)
        current.setdiag(0)
        current.eliminate_zeros()
    return current.toarray(), label


def _minimum_cuts(graph: csr_matrix) -> list[Cut]:
    """Exact: least cuts between one node and every other of the shrunken support."""
    weights, label = _shrunk(graph)
    m = len(weights)
    whole = csr_matrix(np.floor(weights * 1e6 + 0.5).astype(np.int32))
    found: dict[bytes, Cut] = {}
    separated = np.zeros(m, dtype=bool)
    for sink in range(1, m):
        if separated[sink]:
            continue
        flow = maximum_flow(whole, 0, sink, method="dinic")
        if flow.flow_value < (2 - _WORTH) * 1e6:
            rest = csr_matrix(whole - flow.flow)
            rest.data[rest.data < 0] = 0
            rest.eliminate_zeros()
            side = np.zeros(m, dtype=bool)
            side[breadth_first_order(rest, 0, return_predecessors=False)] = True
            separated |= ~side
            cut = Cut((side[label],), 2)
            found.setdefault(cut.key(), cut)
    return list(found.values())


def blossoms(n: int, ends: Ints, x: Floats) -> list[Cut]:
    """Broken blossom inequalities by the odd-component rule, at several strengths."""
    found: dict[bytes, Cut] = {}
    for most in (1 - 1e-4, 0.9, 0.8, 0.7):
        for cut in _odd_components(n, ends, x, most):
            found.setdefault(cut.key(), cut)
    return list(found.values())[:80]


def _odd_components(n: int, ends: Ints, x: Floats, most: float) -> list[Cut]:
    soft = np.where(x < most, x, 0.0)
    count, label = connected_components(support(n, ends, soft), directed=False)
    hard = np.flatnonzero(x >= most)
    a, b = label[ends[hard, 0]], label[ends[hard, 1]]
    crossing = hard[a != b]
    by_handle: dict[int, list[int]] = {}
    for edge in crossing.tolist():
        for side in (0, 1):
            by_handle.setdefault(int(label[ends[edge, side]]), []).append(edge)
    sizes = np.bincount(label, minlength=count)
    cuts = []
    for handle, edges in sorted(by_handle.items()):
        if sizes[handle] >= 3:
            cut = _comb(label == handle, ends[edges], n)
            if cut and float(cut.on(ends) @ x) < cut.least - _WORTH * 3:
                cuts.append(cut)
    return cuts


def _comb(handle: Mask, teeth: Ints, n: int) -> Cut | None:
    """Handle and disjoint two-node teeth; two teeth that share an outer node join the handle."""
    handle = handle.copy()
    outer = np.where(handle[teeth[:, 0]], teeth[:, 1], teeth[:, 0])
    nodes, counts = np.unique(outer, return_counts=True)
    for node in nodes[counts == 2].tolist():
        handle[node] = True
    kept = teeth[np.isin(outer, nodes[counts == 1])]
    t = len(kept)
    if t % 2 == 0 or (counts > 2).any():
        return None
    if t == 1:
        return Cut((handle,), 2) if 2 <= handle.sum() <= n - 2 else None
    sets = [handle]
    for pair in kept.tolist():
        tooth = np.zeros(n, dtype=bool)
        tooth[pair] = True
        sets.append(tooth)
    return Cut(tuple(sets), 3 * t + 1)
