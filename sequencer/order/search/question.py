"""One ordering question in numbers, and the check that an order answers it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints

Pairs = frozenset[tuple[int, int]]


@dataclass(frozen=True, eq=False)
class Question:
    """Choose ``size`` of n prints and order them as cheaply as the rules allow.

    ``weights``: (n, n) symmetric whole numbers, FORBIDDEN where two may not meet. ``first`` and
    ``last``: ends of the list (neighbours, on a loop). ``include``: must be chosen. ``together``
    and ``before``: pairs, all of them in ``include`` as well. ``value_range``: the chosen span at
    least so much L*. ``limits``: (pairs, at most so many of them may meet). ``bottleneck``: the
    weight of an order is its largest pair, not the sum.
    """

    weights: Ints
    size: int
    loop: bool
    first: int | None = None
    last: int | None = None
    include: frozenset[int] = frozenset()
    together: Pairs = frozenset()
    before: tuple[tuple[int, int], ...] = ()
    value: Floats | None = None
    value_range: float = 0.0
    limits: tuple[tuple[Pairs, int], ...] = field(default=())
    bottleneck: bool = False

    @property
    def count(self) -> int:
        """How many prints there are to choose from."""
        return len(self.weights)

    def permuted(self, order: Ints) -> Question:
        """The same question with prints renumbered: new i is old order[i]."""
        new = {int(old): i for i, old in enumerate(order)}

        def pairs(old: Pairs) -> Pairs:
            return frozenset((min(new[a], new[b]), max(new[a], new[b])) for a, b in old)

        return replace(
            self,
            weights=self.weights[np.ix_(order, order)],
            first=None if self.first is None else new[self.first],
            last=None if self.last is None else new[self.last],
            include=frozenset(new[i] for i in self.include),
            together=pairs(self.together),
            before=tuple((new[a], new[b]) for a, b in self.before),
            value=None if self.value is None else self.value[order],
            limits=tuple((pairs(p), most) for p, most in self.limits),
        )

    def weigh(self, order: Sequence[int]) -> int:
        """Weight of an order, in the question's own sense."""
        steps = [int(self.weights[a, b]) for a, b in meetings(order, self.loop)]
        return (max(steps, default=0)) if self.bottleneck else sum(steps)

    def accepts(self, order: Sequence[int]) -> bool:
        """Whether this order keeps every rule; written plainly, apart from any solver."""
        steps = meetings(order, self.loop)
        pairs = {(min(a, b), max(a, b)) for a, b in steps}
        place = {v: i for i, v in enumerate(order)}
        if len(place) != self.size or not self.include <= place.keys():
            return False
        if any(self.weights[a, b] >= FORBIDDEN for a, b in steps):
            return False
        if self.first is not None and order[0] != self.first:
            return False
        if self.last is not None and order[-1] != self.last:
            return False
        if not self.together <= pairs or any(place[a] > place[b] for a, b in self.before):
            return False
        if self.value_range > 0 and not self._spans(order):
            return False
        return all(len(pairs & p) <= most for p, most in self.limits)

    def _spans(self, order: Sequence[int]) -> bool:
        if self.value is None:
            return False
        chosen = self.value[list(order)]
        return bool(chosen.max() - chosen.min() >= self.value_range)


def meetings(order: Sequence[int], loop: bool) -> list[tuple[int, int]]:
    """The pairs that meet, in order; a loop's closing pair last. Two in a loop meet twice."""
    pairs = list(pairwise(order))
    return [*pairs, (order[-1], order[0])] if loop and len(order) > 1 else pairs
