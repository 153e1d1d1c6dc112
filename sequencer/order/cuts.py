"""Inequalities that every closed tour keeps and a fractional answer breaks.

A cut is a few node sets and a right side: the edges leaving the sets, counted together, are at
least that many. One set and 2: subtour elimination (Dantzig, Fulkerson, Johnson 1954). A handle
with an odd number t of teeth and 3t + 1: blossom and comb inequalities (Edmonds 1965; Chvátal 1973;
found by the odd-component rule of Padberg and Hong 1980).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
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
        counts = [inside[a] != inside[b] for inside in self.sets]
        return np.asarray(np.sum(counts, axis=0, dtype=np.int64))

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
    """Broken subtour inequalities by quick searches; a whole-numbered x is always caught."""
    graph = support(n, ends, x)
    return (
        _component_cuts(graph, n) or _interval_cuts(graph, order) or _threshold_cuts(n, ends, x)
    )


def all_subtours(n: int, ends: Ints, x: Floats) -> list[Cut]:
    """Broken subtour inequalities, exactly: none found means none broken."""
    return _minimum_cuts(support(n, ends, x))


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
        strong = current.copy()
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


def combs(n: int, ends: Ints, x: Floats, order: Ints) -> list[Cut]:
    """Broken blossom and comb inequalities by the odd-component rule.

    First on the support as it is; then with tight stretches of a good tour (degree 2 as a whole)
    shrunk to single nodes, so that handles and teeth are made of stretches.
    """
    found: dict[bytes, Cut] = {}
    shrinkings = {np.arange(n).tobytes(): np.arange(n)}
    tight = _tight_stretches(n, ends, x, order)
    for most in (2, 3, 5, 8, 13, 21, n // 4):
        label = _shrink(n, order, tight, most)
        shrinkings.setdefault(label.tobytes(), label)
    for label in shrinkings.values():
        for cut in _odd_components(ends, x, label):
            found.setdefault(cut.key(), cut)
    cuts = sorted(found.values(), key=lambda cut: float(cut.on(ends) @ x) - cut.least)
    return cuts[:80]


def _tight_stretches(n: int, ends: Ints, x: Floats, order: Ints) -> Mask:
    """tight[i, j]: the stretch from place i to place j of the line has degree 2 as a whole."""
    inside = np.triu(support(n, ends, x)[order][:, order].toarray(), 1)
    inside = np.cumsum(inside[::-1], axis=0)[::-1].cumsum(axis=1)
    size = np.arange(n)[None, :] - np.arange(n)[:, None] + 1
    return np.asarray((size >= 2) & (size <= n - 3) & (np.abs(inside - size + 1) < 1e-6))


def _shrink(n: int, order: Ints, tight: Mask, most: int) -> Ints:
    """Labels after shrinking, from the left, the longest tight stretches of at most ``most``."""
    label = np.empty(n, dtype=np.int64)
    place = count = 0
    while place < n:
        reach = np.flatnonzero(tight[place, : place + most])
        end = int(reach[-1]) if len(reach) else place
        label[order[place : end + 1]] = count
        place, count = end + 1, count + 1
    return label


def _odd_components(ends: Ints, x: Floats, label: Ints) -> list[Cut]:
    """Handles: pieces that hang together by weak edges; teeth: the strong edges that leave them.

    With every edge that leaves a handle a tooth, and degree 2 everywhere, the comb is broken when
    the teeth, an odd number, lack less than 1 of their full weight together.
    """
    small, weight = _merged(ends, x, label)
    m = int(label.max()) + 1
    if m < 6:
        return []
    edges = [(a, b, w) for (a, b), w in zip(small.tolist(), weight.tolist(), strict=True)]
    cuts, done = [], set()
    for most in (1 - 1e-4, 0.9, 0.8, 0.7, 0.6):
        for handle, teeth in _handles(m, edges, most):
            if frozenset(handle) in done:
                continue
            done.add(frozenset(handle))
            cut = _comb(handle, teeth, label)
            if cut and float(cut.on(ends) @ x) < cut.least - 2 * _WORTH:
                cuts.append(cut)
    return cuts


def _handles(
    m: int, edges: list[tuple[int, int, float]], most: float
) -> Iterator[tuple[list[int], list[tuple[int, int]]]]:
    root = list(range(m))

    def top(v: int) -> int:
        while root[v] != v:
            root[v] = root[root[v]]
            v = root[v]
        return v

    for a, b, w in edges:
        if w < most:
            root[top(a)] = top(b)
    piece = [top(v) for v in range(m)]
    teeth: dict[int, list[tuple[int, int]]] = {}
    lack: dict[int, float] = {}
    for a, b, w in edges:
        for inner, outer in ((a, b), (b, a)):
            if piece[a] != piece[b]:
                teeth.setdefault(piece[inner], []).append((inner, outer))
                lack[piece[inner]] = lack.get(piece[inner], 0.0) + 1 - w
    for handle, pairs in teeth.items():
        if len(pairs) >= 3 and len(pairs) % 2 and lack[handle] < 1 - 2 * _WORTH:
            yield [v for v in range(m) if piece[v] == handle], pairs


def _merged(ends: Ints, x: Floats, label: Ints) -> tuple[Ints, Floats]:
    """Edges and weights between labels."""
    used = x > _EPS
    a, b = label[ends[used, 0]], label[ends[used, 1]]
    across = a != b
    m = int(label.max()) + 1
    code = np.minimum(a, b)[across] * m + np.maximum(a, b)[across]
    codes, back = np.unique(code, return_inverse=True)
    weight = np.bincount(back, x[used][across], minlength=len(codes))
    return np.column_stack([codes // m, codes % m]).astype(np.int64), weight.astype(float)


def _comb(handle: list[int], teeth: list[tuple[int, int]], label: Ints) -> Cut | None:
    """Handle and disjoint two-piece teeth; two teeth that share an outer piece join the handle."""
    outer = Counter(out for _, out in teeth)
    if max(outer.values()) > 2:
        return None
    grown = [*handle, *(out for out, count in outer.items() if count == 2)]
    kept = [pair for pair in teeth if outer[pair[1]] == 1]
    if len({inner for inner, _ in kept}) < len(kept):
        return None
    body = np.isin(label, grown)
    if len(kept) == 1:
        return Cut((body,), 2)
    return Cut((body, *(np.isin(label, pair) for pair in kept)), 3 * len(kept) + 1)
