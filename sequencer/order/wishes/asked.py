"""Wishes and a box → the question in whole numbers, with the usual limits that picking brings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sequencer.order.graph.costs import FORBIDDEN, Box, aimed, ranks, whole_weights
from sequencer.order.search.question import Question
from sequencer.order.wishes.wish import Wishes

if TYPE_CHECKING:
    import networkx as nx

SHOWS_CURVE = 40.0
"""L* from darkest to lightest that shows a curve well: four Munsell value steps (common practice,
no source). A box that spans little more is asked for 0.7 of what it spans."""
_OF_THE_BOX = 0.7


@dataclass(frozen=True, eq=False)
class Usual:
    """Limits kept when prints are picked and nothing else was said; None where there is none.

    ``distinct``: neighbours cost at least this. ``blurs``: (n, n), pairs that blur together.
    ``value_range``: L* the chosen span. ``alone``: (n,) prints that jump beside every other and
    were not wished for: they are not chosen. A bare graph, whose costs have no known unit, has
    none: they come with graphs of prints, which carry ``graph.graph["distinct"]``.
    """

    distinct: float | None = None
    blurs: NDArray[np.bool_] | None = None
    value_range: float | None = None
    alone: NDArray[np.bool_] | None = None

    def eased(self) -> list[Usual]:
        """Ever weaker limits, for boxes that cannot keep the usual ones."""
        if self.distinct is None:
            return []
        part = 0.0 if self.value_range is None else self.value_range
        weaker = [
            replace(self, value_range=0.75 * part),
            replace(self, value_range=0.5 * part),
            *([replace(self, value_range=0.0)] if self.alone is not None else []),
        ]
        return [
            *weaker,
            *([replace(one, alone=None) for one in [self, *weaker] if self.alone is not None]),
            Usual(distinct=self.distinct, value_range=0.5 * part),
            Usual(distinct=0.5 * self.distinct),
            Usual(),
        ]


def usual_limits(graph: nx.Graph, box: Box, wishes: Wishes) -> Usual:
    """The limits for this request: none unless prints are picked from a graph of prints."""
    distinct = graph.graph.get("distinct")
    if wishes.number("pick") is None or distinct is None:
        return Usual()
    blurs = None
    if wishes.number("distinct") is None:
        blurs = np.zeros((box.size, box.size), dtype=bool)
        index = {name: i for i, name in enumerate(box.ids)}
        for a, b, verdict in graph.edges(data="verdict"):
            if verdict == "blurs" and a in index and b in index:
                blurs[index[a], index[b]] = blurs[index[b], index[a]] = True
    span = None
    if box.value is not None and box.size:
        span = min(SHOWS_CURVE, _OF_THE_BOX * float(np.ptp(box.value)))
    return Usual(float(distinct), blurs, span, _alone(graph, box, wishes))


def _alone(graph: nx.Graph, box: Box, wishes: Wishes) -> NDArray[np.bool_] | None:
    """Prints without a companion in the box; None where there are none."""
    there = set(box.ids)
    alone = np.array([
        name not in wishes.needed and len(there) > 2 and all(
            edge.get("verdict") == "jumps" for other, edge in graph[name].items() if other in there)
        for name in box.ids
    ], dtype=bool)
    return alone if alone.any() else None


@dataclass(frozen=True, eq=False)
class Asked:
    """A question about a box; ``scale``: whole weights per unit of the aim.

    ``ends_on_first``: a loop with only a last print is asked as if it started there, and its
    list is turned on by one for reading.
    """

    box: Box
    question: Question
    scale: float
    ends_on_first: bool = False

    def as_read(self, order: list[int]) -> list[int]:
        """The list as it was wished for."""
        return [*order[1:], order[0]] if self.ends_on_first else order


def ask(
    box: Box, wishes: Wishes, aim: str, usual: Usual | None = None, *,
    total: float | None = None, level: float = np.inf,
) -> Asked:
    """Put the wishes in numbers. Prints named in them must be in the box.

    ``total``: what an order that keeps the wishes costs, if one is known; ``level``: no pair may
    cost more. Aim ``level`` asks for the least level at which there is an order.
    """
    usual = usual or Usual()
    least, span = wishes.number("distinct"), wishes.number("value range")
    costs = box.cost.copy()
    if least is None and usual.distinct is not None:
        costs[costs < usual.distinct] = np.inf
        if usual.blurs is not None:
            costs[usual.blurs] = np.inf
    elif least is not None:
        costs[costs < least] = np.inf
    if usual.alone is not None:
        costs[usual.alone] = costs[:, usual.alone] = np.inf
    costs[costs > level * (1 + 1e-11)] = np.inf
    weights, scale = (ranks(costs), 1.0) if aim == "level" else whole_weights(
        aimed(costs, aim), total)
    at = {name: i for i, name in enumerate(box.ids)}
    for a, b in wishes.named("apart"):
        if a in at and b in at:
            weights[at[a], at[b]] = weights[at[b], at[a]] = FORBIDDEN
    first, last = wishes.end("first"), wishes.end("last")
    before = [(at[a], at[b]) for a, b in wishes.named("before")]
    ends_on_first = wishes.loop and first is None and last is not None
    if ends_on_first:
        first, last = last, None
        start = at[first]
        # all come before the last print: true of the others, impossible the other way about
        before = [(b, a) if a == start else (a, b) for a, b in before if b != start]
    pick = wishes.number("pick")
    return Asked(box, Question(
        weights=weights,
        size=box.size if pick is None else int(pick),
        loop=wishes.loop,
        first=None if first is None else at[first],
        last=None if last is None else at[last],
        include=frozenset(at[name] for name in wishes.needed),
        together=frozenset(
            (min(at[a], at[b]), max(at[a], at[b])) for a, b in wishes.named("together")
        ),
        before=tuple(before),
        value=box.value,
        value_range=(usual.value_range or 0.0) if span is None else span,
        bottleneck=aim == "level",
    ), scale, ends_on_first)
