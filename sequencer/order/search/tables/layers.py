"""Choose k of n while ordering, proved: layered dynamic programming with completion bounds.

A layer holds partial orders of one length. Two that hold the same prints, end on the same one and
owe the same promises are worth the same onward, so the cheaper stays (Held and Karp 1962). Each
is bounded by the cheapest walk that could complete it (state-space relaxation: Christofides,
Mingozzi and Toth 1981), on wide layers with prices as well; what cannot beat the best known order
goes. Only the best ``width`` of a layer are kept, the bound of what that drops is remembered, and
width grows until nothing is dropped that matters: then the answer is proved.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import count

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.question import Question
from sequencer.order.search.tables.layer import Layer, allowed_next
from sequencer.order.search.tables.walks import LateError, Walks, priced, walks_for
from sequencer.order.search.tours.ring import Answer

_CELLS = 400_000
PRICED_FROM = 600
"""The width from which prices are worth their making."""
WIDTHS = (60, 600, 30000, 120000, 400000)


def _widths() -> Iterator[int]:
    """Ever wider, until nothing that matters is dropped or time is up."""
    yield from WIDTHS
    yield from (WIDTHS[-1] * 3**k for k in count(1))


def solve_layers(
    question: Question, deadline: float, widths: tuple[int, ...] | None = None
) -> Answer:
    """The best order, proved within the time or bounded. ``deadline`` in time.monotonic seconds."""
    n = question.count
    value = np.zeros(n) if question.value is None else question.value
    by_value = np.lexsort((np.arange(n), value))
    try:
        answer = _Search(question.permuted(by_value), deadline).run(widths)
    except LateError:
        return Answer(None, 0, 0.0, False)
    if answer.order is None:
        return answer
    order = tuple(int(by_value[v]) for v in answer.order)
    return Answer(order, answer.weight, answer.bound, answer.proved)


class _Search:
    def __init__(self, question: Question, deadline: float) -> None:
        self.q, self.deadline = question, deadline
        self.walks: Walks = walks_for(question, deadline)
        self.priced: Walks | None = None
        self.words = (question.count + 63) // 64
        self.best: list[int] | None = None
        self.upper = FORBIDDEN
        self.bound: float = 0.0
        self.join = np.maximum if question.bottleneck else np.add
        self.shares = [self._share_matrix(pairs) for pairs, _ in question.limits]

    def _share_matrix(self, pairs: frozenset[tuple[int, int]]) -> Ints:
        matrix = np.zeros((self.q.count, self.q.count), dtype=np.int64)
        for a, b in pairs:
            matrix[a, b] = matrix[b, a] = 1
        return matrix

    def run(self, widths: tuple[int, ...] | None) -> Answer:
        """Widen until what was dropped can no longer matter."""
        for width in widths or _widths():
            if width >= PRICED_FROM and not self.q.bottleneck and self.q.size < self.q.count:
                try:
                    self.priced = self.priced or priced(self.walks, self.deadline)
                except LateError:
                    break
            cut, finished = self._pass(width)
            self.bound = max(self.bound, min(cut, self.upper))
            if self.bound >= self.upper or not finished:
                break
        proved = self.bound >= self.upper
        if self.best is None:
            return Answer(None, 0, self.bound, proved)
        return Answer(tuple(self.best), int(self.upper), self.bound, proved)

    def _pass(self, width: int) -> tuple[int, bool]:
        """One sweep through the layers; the least bound dropped, and whether it ran to the end."""
        cut = FORBIDDEN
        layer, dropped = self._thinned(self._starts(), width)
        layers, cut = [layer], min(cut, dropped)
        for length in range(2, self.q.size + 1):
            wider, dropped = self._widened(layer, length, width)
            cut = min(cut, dropped)
            if wider is None:  # out of time: what is open here still bounds the rest
                return min(cut, int(layer.bound.min(initial=FORBIDDEN))), False
            layer = wider
            layers.append(layer)
        self._finish(layers)
        return cut, True

    def _starts(self) -> Layer:
        starts, anchors, owed = self.walks.starts()
        m = len(starts)
        seen = np.zeros((m, self.words), dtype=np.uint64)
        seen[np.arange(m), starts // 64] = np.uint64(1) << (starts % 64).astype(np.uint64)
        nothing, price = np.zeros(m, dtype=np.int64), self._price(starts)
        return Layer(
            seen, starts, anchors, owed, nothing, price,
            np.zeros((m, len(self.shares)), dtype=np.int64), np.full(m, -1),
            self._by_walks(1, anchors, owed, starts, nothing),
        )

    def _price(self, prints: Ints) -> Ints:
        return (self.priced or self.walks).price[prints]

    def _by_walks(self, length: int, anchor: Ints, owed: Ints, last: Ints, weight: Ints) -> Ints:
        """What an order that begins like this costs at least."""
        onward = self.walks.onward(self.q.size - length, anchor, owed, last)
        return np.asarray(self.join(weight, onward))

    def _by_prices(
        self, length: int, anchor: Ints, owed: Ints, last: Ints, paid: Ints, bound: Ints
    ) -> Ints:
        """A higher bound where there are prices; ``paid``: weight and prices of what it holds."""
        if self.priced is None:
            return bound
        dear = paid + self.priced.onward(self.q.size - length, anchor, owed, last)
        return np.asarray(np.maximum(bound, dear - self.priced.back(anchor)))

    def _widened(self, layer: Layer, length: int, width: int) -> tuple[Layer | None, int]:
        """The best of every way on from every row, and the least bound dropped.

        Block by block, thinned as it grows, to spare memory; None: out of time.
        """
        block = max(1, _CELLS // self.q.count)
        parts: list[Layer] = []
        held, cut = 0, FORBIDDEN
        starts = range(0, max(1, len(layer.last)), block)
        for start in starts:
            if time.monotonic() > self.deadline:
                return None, cut
            part = self._extended(layer.rows(slice(start, start + block)), length)
            part.parent += start
            parts.append(part)
            held += len(part.last)
            if held > 3 * width + _CELLS or start == starts[-1]:
                thin, dropped = self._thinned(Layer.stacked(parts), width)
                parts, held, cut = [thin], len(thin.last), min(cut, dropped)
        return parts[0], cut

    def _extended(self, layer: Layer, length: int) -> Layer:
        """Every allowed next print for every row, with its bound."""
        allowed = allowed_next(self.walks, layer, length)
        row, to = np.nonzero(allowed)
        weight = self.join(layer.weight[row], self.q.weights[layer.last[row], to])
        owed = layer.owed[row] & ~self.walks.pays(layer.anchor[row], to)
        bound = self._by_walks(length, layer.anchor[row], owed, to, weight)
        good = np.flatnonzero(bound < self.upper)  # few are left for what costs more to look at
        row, to, weight, owed, bound = row[good], to[good], weight[good], owed[good], bound[good]
        price, shared = layer.price[row] + self._price(to), layer.shared[row]
        bound = self._by_prices(length, layer.anchor[row], owed, to, weight + price, bound)
        for i, matrix in enumerate(self.shares):
            shared[:, i] += matrix[layer.last[row], to]
        most = np.array([limit for _, limit in self.q.limits], dtype=np.int64)
        kept = np.flatnonzero((bound < self.upper) & (shared <= most).all(axis=1))
        row, to, weight, owed = row[kept], to[kept], weight[kept], owed[kept]
        bound, shared, price = bound[kept], shared[kept], price[kept]
        seen = layer.seen[row]
        seen[np.arange(len(row)), to // 64] |= np.uint64(1) << (to % 64).astype(np.uint64)
        return Layer(seen, to, layer.anchor[row], owed, weight, price, shared, row, bound)

    def _thinned(self, layer: Layer, width: int) -> tuple[Layer, int]:
        """Drop what cannot win, keep the cheapest of equals, then the most promising rows."""
        good = np.flatnonzero(layer.bound < self.upper)
        layer = layer.rows(good)
        bound = layer.bound
        if not len(good):
            return layer, FORBIDDEN
        tag = (layer.anchor * self.walks.promises + layer.owed) * self.q.count + layer.last
        for i in range(layer.shared.shape[1]):
            tag = tag * (self.q.size + 1) + layer.shared[:, i]
        keys = (tag, *layer.seen.T)
        order = np.lexsort((layer.weight, *keys))
        fresh = np.zeros(len(order), dtype=bool)
        fresh[0] = True
        for key in keys:
            fresh[1:] |= key[order][1:] != key[order][:-1]
        kept = order[fresh]
        kept = kept[np.argsort(bound[kept], kind="stable")]
        dropped = int(bound[kept[width]]) if len(kept) > width else FORBIDDEN
        return layer.rows(kept[:width]), dropped

    def _finish(self, layers: list[Layer]) -> None:
        """Read back the cheapest complete order that passes the plain check."""
        final = layers[-1]
        closing = self.walks.onward(0, final.anchor, final.owed, final.last)
        whole = self.join(final.weight, closing)
        for row in np.argsort(whole, kind="stable").tolist():
            if whole[row] >= self.upper:
                return
            order: list[int] = []
            at = row
            for layer in reversed(layers):
                order.append(int(layer.last[at]))
                at = int(layer.parent[at])
            order.reverse()
            if self.q.accepts(order):
                self.best, self.upper = order, int(whole[row])
                return
