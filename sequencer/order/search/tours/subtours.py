"""Sets of prints that a fractional tour leaves too seldom: subtour elimination.

Every closed tour leaves a set of prints, not empty and not everything, at least twice (Dantzig,
Fulkerson and Johnson 1954). A cut is such a set, as a mask over the nodes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from sequencer.order.graph.costs import Floats, Ints

Mask = NDArray[np.bool_]
_EPS = 1e-6
_WORTH = 0.02
_MOST = 60


def leaving(inside: Mask, ends: Ints) -> Mask:
    """Which of these edges, (m, 2), leave the set."""
    return np.asarray(inside[ends[:, 0]] != inside[ends[:, 1]])


def key(inside: Mask) -> bytes:
    """The same cut has the same key, whichever of its two sides is meant."""
    return np.packbits(inside if inside[0] else ~inside).tobytes()


def subtours(n: int, ends: Ints, x: Floats, line: Ints) -> list[Mask]:
    """Broken sets by quick searches; a whole-numbered x is always caught.

    ``x``: how much of each edge in ``ends`` (m, 2) is used. ``line``: a good tour.
    """
    graph = support(n, ends, x)
    return _components(graph, n) or _stretches(graph, line) or _by_strength(n, ends, x)


def all_subtours(n: int, ends: Ints, x: Floats) -> list[Mask]:
    """Broken sets, exactly: none found means none broken."""
    return _minimum_cuts(support(n, ends, x))


def support(n: int, ends: Ints, x: Floats) -> csr_matrix:
    """The symmetric (n, n) matrix of the edges in use."""
    used = x > _EPS
    a, b, w = ends[used, 0], ends[used, 1], x[used]
    both = (np.r_[w, w], (np.r_[a, b], np.r_[b, a]))
    return csr_matrix(coo_matrix(both, shape=(n, n)))


def _components(graph: csr_matrix, n: int) -> list[Mask]:
    count, label = connected_components(graph, directed=False)
    return [label == c for c in range(count if count > 2 else count - 1)]


def _stretches(graph: csr_matrix, line: Ints) -> list[Mask]:
    """Sets that are stretches of a good tour: all n² of them at once, by running sums."""
    n = len(line)
    inside = np.triu(graph[line][:, line].toarray(), 1)
    inside = np.cumsum(inside[::-1], axis=0)[::-1].cumsum(axis=1)
    size = np.arange(n)[None, :] - np.arange(n)[:, None] + 1
    broken = np.where((size >= 2) & (size <= n - 2), inside - size + 1, -1.0)
    ends_at = broken.argmax(axis=1)
    worst = broken[np.arange(n), ends_at]
    starts = np.flatnonzero(worst > _WORTH)
    starts = starts[np.argsort(-worst[starts], kind="stable")][:_MOST]
    cuts = []
    for start in starts.tolist():
        mask = np.zeros(n, dtype=bool)
        mask[line[start : ends_at[start] + 1]] = True
        cuts.append(mask)
    return cuts


def _by_strength(n: int, ends: Ints, x: Floats) -> list[Mask]:
    """Pieces that hang together by edges of at least some strength."""
    found: dict[bytes, Mask] = {}
    for least in (0.9, 0.75, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1):
        strong = np.where(x >= least, x, 0.0)
        count, label = connected_components(support(n, ends, strong), directed=False)
        if count == 1:
            continue
        crossing = label[ends[:, 0]] != label[ends[:, 1]]
        away = np.zeros(count)
        for side in (0, 1):
            away += np.bincount(label[ends[crossing, side]], x[crossing], minlength=count)
        for c in np.flatnonzero(away < 2 - _WORTH).tolist():
            found.setdefault(key(label == c), label == c)
    return list(found.values())[:_MOST]


def _shrunk(graph: csr_matrix) -> tuple[Floats, Ints]:
    """Merge ends of edges that carry 1 (Padberg and Rinaldi 1990); dense weights and labels."""
    label = np.arange(graph.shape[0])
    current: csr_matrix = graph
    while True:
        strong = current.copy()
        strong.data = np.where(strong.data >= 1 - _EPS, strong.data, 0.0)
        strong.eliminate_zeros()
        count, merged = connected_components(strong, directed=False)
        if count == current.shape[0]:
            return current.toarray(), label
        label = merged[label]
        gather = csr_matrix((np.ones(len(merged)), (merged, np.arange(len(merged)))))
        current = csr_matrix(gather @ current @ gather.T)
        current.setdiag(0)
        current.eliminate_zeros()


def _minimum_cuts(graph: csr_matrix) -> list[Mask]:
    """Exact: least cuts between one node and every other of the shrunken support."""
    weights, label = _shrunk(graph)
    m = len(weights)
    whole = csr_matrix(np.floor(weights * 1e6 + 0.5).astype(np.int32))
    found: dict[bytes, Mask] = {}
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
            found.setdefault(key(side[label]), side[label])
    return list(found.values())
