"""Partial orders of one length, and what may come next in each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.tables.walks import Walks
from sequencer.order.search.tours.subtours import Mask

Words = NDArray[np.uint64]


@dataclass(eq=False)
class Layer:
    """Partial orders of one length, a row each."""

    seen: Words
    last: Ints
    anchor: Ints
    owed: Ints
    weight: Ints
    price: Ints
    shared: Ints
    parent: Ints
    bound: Ints

    def rows(self, keep: Ints | slice) -> Layer:
        """Some of them."""
        return Layer(*(column[keep] for column in vars(self).values()))

    @staticmethod
    def stacked(parts: list[Layer]) -> Layer:
        """All of them, one after the other."""
        columns = zip(*(vars(part).values() for part in parts), strict=True)
        return Layer(*(np.concatenate(column) for column in columns))


def allowed_next(walks: Walks, layer: Layer, length: int) -> Mask:
    """(rows, n) which prints may come next, as number ``length``, by every rule on neighbours."""
    q, n = walks.question, walks.question.count
    bits = np.unpackbits(layer.seen.view(np.uint8), axis=1, bitorder="little")[:, :n]
    unseen = bits == 0
    allowed = unseen & (q.weights[layer.last] < FORBIDDEN) & walks.may_hold[layer.anchor]
    if q.last is not None:
        allowed[:, q.last] &= length == q.size
        if length == q.size:
            allowed &= np.arange(n) == q.last
    for a, b in q.before:
        allowed[:, b] &= ~unseen[:, a]
    for pair in q.together:
        for a, b in (pair, pair[::-1]):
            _keep_together(walks, layer, allowed, unseen, length == q.size, a, b)
    return np.asarray(allowed)


def _keep_together(
    walks: Walks, layer: Layer, allowed: Mask, unseen: Mask, at_end: bool, a: int, b: int
) -> None:
    """After a comes b, unless a came straight after b; a loop's start may meet b at the end."""
    on_a = layer.last == a
    closing = walks.question.loop & (walks.start_of[layer.anchor] == a)
    owing = np.flatnonzero(on_a & unseen[:, b] & ~closing)
    allowed[owing] &= np.arange(walks.question.count) == b
    parted = ~unseen[:, a] & ~on_a & ~(closing & at_end)
    allowed[parted, b] = False
