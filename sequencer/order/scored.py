"""Her own order: what it costs, how far it is from the best, in figures and in words."""

from __future__ import annotations

import math
from collections.abc import Iterable
from collections.abc import Sequence as Listed
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from sequencer.errors import SequenceError
from sequencer.models import Json, Neighbours, Sequence
from sequencer.order.moves import Move, best_moves
from sequencer.order.report import neighbours_of, totals_of
from sequencer.order.search.question import meetings

if TYPE_CHECKING:
    import networkx as nx

_NO_MORE = 0.05
"""Percent below which two orders are told to cost the same."""


@dataclass(frozen=True)
class Scored:
    """An order as laid out by hand, against the best of the same prints.

    ``total`` in the aim's own unit; ``percent``: how much more than the best total, 0 when it is
    the best. ``moves``: those that gain most, largest gain first, each counted from this order.
    """

    order: tuple[Any, ...]
    loop: bool
    aim: str
    total: float
    worst: float
    percent: float
    best: Sequence
    neighbours: tuple[Neighbours, ...]
    moves: tuple[Move, ...]

    @property
    def words(self) -> str:
        """The price of this order, one sentence."""
        if _same_meetings(self.order, self.best.order, self.loop):
            return ("This is the best order of these prints, proved."
                    if self.best.status == "optimal" else
                    "No better order of these prints is known.")
        steps = f"{self.worst:.0f} instead of {self.best.worst:.0f}"
        differs = f"{self.worst:.0f}" != f"{self.best.worst:.0f}"
        harder = self.worst > self.best.worst
        if self.aim == "worst" and differs and harder:
            return f"The largest step of this order is {steps}."
        price = f"costs {_times(self.total, self.best.total, self.percent)}"
        if not differs:
            return f"This order {price}."
        return (f"This order {price}{', and' if harder else ', but'} its largest step is "
                f"{'' if harder else 'gentler, '}{steps}.")

    def to_json(self) -> Json:
        """Plain form: the score, the best sequence and the moves."""
        return {
            "order": list(self.order), "loop": self.loop, "aim": self.aim,
            "total": round(self.total, 6), "worst": round(self.worst, 6),
            "percent": round(self.percent, 3), "words": self.words, "best": self.best.to_json(),
            "neighbours": [pair.to_json() for pair in self.neighbours],
            "moves": [move.to_json() for move in self.moves],
        }


def score_sequence(
    graph: nx.Graph, order: Iterable[Any], loop: bool = True, aim: str = "even",
    *, moves: int = 3, seconds: float = 10.0, best: Sequence | None = None,
) -> Scored:
    """Cost her order, find the best of the same prints, and name the best few single moves.

    ``best``: the best sequence of these prints, kept by the caller, so that nothing is searched
    (under a millisecond, with ``moves=0``); one of other prints, shape or aim is not used.

    Raises SequenceError where an id is unknown, comes twice, or two neighbours have no cost.
    """
    from sequencer.order.find import find_sequence

    names = read_order(graph, list(order), loop)
    pairs = neighbours_of(graph, names, loop)
    total, worst = totals_of(pairs, aim)
    fits = best and (set(best.order), best.loop, best.aim) == (set(names), loop, aim)
    if best is None or not fits:
        best = find_sequence(graph.subgraph(names), loop=loop, aim=aim, seconds=seconds)
    over = total - best.total
    percent = 100.0 * over / best.total if best.total > 0 else (100.0 if over > 0 else 0.0)
    return Scored(
        order=tuple(names), loop=loop, aim=aim, total=total, worst=worst,
        percent=max(percent, 0.0) if aim != "worst" else percent, best=best, neighbours=pairs,
        moves=best_moves(graph, names, loop, aim, moves) if moves else (),
    )


def report_sequence(
    graph: nx.Graph, order: Listed[Any], *, loop: bool, aim: str = "even"
) -> Sequence:
    """Cost and report an order as it stands, unproved: milliseconds, for moving prints by hand.

    Raises SequenceError where an id is unknown, comes twice, or two neighbours have no cost.
    """
    names = read_order(graph, order, loop)
    pairs = neighbours_of(graph, names, loop)
    total, worst = totals_of(pairs, aim)
    there = set(names)
    return Sequence(
        order=tuple(names), loop=loop, aim=aim, total=total, worst=worst,
        status="bounded", lower_bound=0.0, gap=1.0 if total else 0.0, neighbours=pairs,
        left_out=tuple(name for name in graph.nodes if name not in there),
    )


def read_order(graph: nx.Graph, order: Listed[Any], loop: bool) -> list[Any]:
    """Check an order typed by hand against the graph."""
    names = list(order)
    unknown = [str(name) for name in names if name not in graph]
    if unknown:
        raise SequenceError(f"There is no print called {', '.join(unknown)}.")
    twice = sorted({str(name) for name in names if names.count(name) > 1})
    if twice:
        raise SequenceError(f"{', '.join(twice)} comes more than once in this order; each print "
                            "has one place.")
    if not names:
        raise SequenceError("The order is empty, so there is nothing to score.")
    pairs = list(pairwise(names))
    if loop and len(names) > 1:
        pairs.append((names[-1], names[0]))
    for a, b in pairs:
        cost = graph.edges[a, b].get("cost") if graph.has_edge(a, b) else None
        if cost is None or not math.isfinite(cost) or cost < 0:
            raise SequenceError(f"The neighbours {a}, {b} have no usable cost in the graph.")
    return names


def _same_meetings(one: Listed[Any], other: Listed[Any], loop: bool) -> bool:
    first, second = ({frozenset(pair) for pair in meetings(order, loop)} for order in (one, other))
    return first == second and set(one) == set(other)


def _times(total: float, best: float, percent: float) -> str:
    if total < best * (1 - 1e-9):
        return "less than the best known so far"
    if percent < _NO_MORE:
        return "the same as the best"
    if best <= 0:
        return "more than the best, which costs nothing"
    if percent >= 100:
        return f"{1 + percent / 100:.1f} times what the best does"
    return f"{percent:.{0 if percent >= 10 else 1}f} % more than the best"
