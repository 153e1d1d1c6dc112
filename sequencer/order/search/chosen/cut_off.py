"""Sets of nodes that a fractional choice of a ring leaves too seldom; see :mod:`selection`."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from sequencer.order.graph.costs import Floats
from sequencer.order.search.chosen.selection import Cut, Selection
from sequencer.order.search.tours.subtours import Mask, support

_WORTH = 0.01
_FEW = 5
_STRENGTHS = (0.9, 0.7, 0.5, 0.4, 0.3, 0.2, 0.15, 0.1, 0.05, 0.03)
_FLOW = 1e6


def broken(model: Selection, y: Floats, x: Floats) -> list[Cut]:
    """Cuts that this answer breaks, by quick searches, then exactly (least cuts to the root)."""
    found = _Found(model, y, x)
    found.note_pieces(0.0)
    for least in () if found.cuts else _STRENGTHS:
        found.note_pieces(least)
    if len(found.cuts) < _FEW:
        found.note_least_cuts()
    return list(found.cuts.values())


def stray_rings(model: Selection, y: Floats, x: Floats) -> list[Cut]:
    """Of a whole-numbered answer every ring but the root's (or every one), by each of its nodes."""
    chosen = y > 0.5
    return [
        (mask, v)
        for mask in _pieces(support(model.n, model.ends, x), 0.5)
        if (mask & chosen).any() and not (model.root is not None and mask[model.root])
        for v in np.flatnonzero(mask & chosen).tolist()
    ]


class _Found:
    def __init__(self, model: Selection, y: Floats, x: Floats) -> None:
        self.model, self.y = model, y
        self.graph = support(model.n, model.ends, x)
        self.cuts: dict[bytes, Cut] = {}

    def note_pieces(self, least: float) -> None:
        """Pieces that hang together by edges of at least this strength."""
        for mask in _pieces(self.graph, least):
            self._note(mask)

    def _note(self, mask: Mask) -> None:
        """Keep the set, or all but it, if no ring fits in and the likeliest of it is cut off."""
        mask = mask if self._holds_no_ring(mask) else ~mask
        if not mask.any() or not self._holds_no_ring(mask):
            return
        inside = np.flatnonzero(mask)
        likeliest = int(inside[self.y[inside].argmax()])
        leaves = float(self.graph[inside][:, np.flatnonzero(~mask)].sum())
        if leaves < 2 * self.y[likeliest] - _WORTH:
            self.cuts[mask.tobytes()] = (mask, likeliest)

    def _holds_no_ring(self, mask: Mask) -> bool:
        root = self.model.root
        return bool(mask.sum() < self.model.size if root is None else not mask[root])

    def note_least_cuts(self) -> None:
        """Least cuts between the root, or the likeliest print, and every other."""
        source = int(self.y.argmax()) if self.model.root is None else self.model.root
        room = csr_matrix((self.graph * _FLOW).rint().astype(np.int32))
        parted = self.y < 2 * _WORTH
        parted[source] = True
        for sink in np.argsort(-self.y, kind="stable").tolist():
            if parted[sink]:
                continue
            flow = maximum_flow(room, source, sink, method="dinic")
            if flow.flow_value < (2 * self.y[sink] - _WORTH) * _FLOW:
                rest = csr_matrix(room - flow.flow)
                rest.data[rest.data < 0] = 0
                rest.eliminate_zeros()
                side = np.zeros(self.model.n, dtype=bool)
                side[breadth_first_order(rest, source, return_predecessors=False)] = True
                parted |= ~side
                self._note(~side)


def _pieces(graph: csr_matrix, least: float) -> list[Mask]:
    """The components, two nodes or more, of the edges that carry at least so much."""
    strong = graph.copy()
    strong.data = np.where(strong.data >= least, strong.data, 0.0)
    strong.eliminate_zeros()
    count, label = connected_components(strong, directed=False)
    sizes = np.bincount(label, minlength=count)
    return [label == c for c in np.flatnonzero(sizes > 1).tolist()]
