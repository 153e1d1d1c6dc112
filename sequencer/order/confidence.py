"""Would another measurement of the colours have given another order?

Each print's colours are drawn again within their uncertainty, and every time the sequence is
found anew: exactly, under the same wishes, for up to MOST_EXACT prints; beyond, a better order is
looked for close by (:mod:`sequencer.order.nearby`), which may miss one, and the answer says that
it is approximate. A neighbour that survives nine trials in ten is certain.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from collections.abc import Sequence as List
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sequencer import doors
from sequencer.colour.spaces import Floats
from sequencer.errors import SequenceError
from sequencer.models import Json, Print, Progress, Sequence
from sequencer.order.drawn import Trials, costs_of
from sequencer.order.graph.costs import Box
from sequencer.order.nearby import descend
from sequencer.order.report import totals
from sequencer.order.wishes.answer import answer_for
from sequencer.order.wishes.asked import Usual
from sequencer.order.wishes.wish import Wishes, read_wishes

if TYPE_CHECKING:
    import networkx as nx

MOST_EXACT = 40
CERTAIN = 0.9
_ROUNDS = 8
_BLOCK = 20
_WISHES = ("pick", "first", "last", "include", "exclude", "together", "apart", "before", "distinct",
           "value_range")
_SECONDS = 60.0  # for one trial: never reached, so that the answer never depends on a clock


@dataclass(frozen=True)
class Confidence:
    """How the order fared when its colours were drawn again.

    ``trials``: how many were made. ``order``: share of them in which no other order was better.
    ``neighbours``: for each pair, in the sequence's order, the share of trials that kept it.
    ``exact``: whether each was solved exactly, or only searched close by.
    """

    trials: int
    order: float
    neighbours: tuple[float, ...]
    exact: bool = True

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "trials": self.trials,
            "order": round(self.order, 4),
            "exact": self.exact,
            "neighbours": [round(share, 4) for share in self.neighbours],
        }


def confidence(
    graph: nx.Graph[str],
    sequence: Sequence,
    prints: List[Print],
    seed: int = 0,
    trials: int | None = None,
    wishes: Wishes | None = None,
    progress: Progress | None = None,
) -> Confidence:
    """Draw the colours again and see what stands.

    Args:
        graph: the transition graph the sequence was found on.
        sequence: what was found; a loop or a path.
        prints: with ``uncertainty`` (ΔE00, nine times in ten) and ``photo``.
        seed: same seed, same answer.
        trials: how many draws; by default 40, fewer for more than 50 prints, none beyond 200.
        wishes: kept in every trial, as far as they name prints of the sequence. With a number to
            pick, pairs that blur or lie too close stay apart as well.
        progress: called before each trial; what it raises ends them.
    """
    names = list(sequence.order)
    exact = len(names) <= MOST_EXACT
    wanted = _trials_for(len(names)) if trials is None else trials
    if len(names) < 4 or wanted < 1 or "jump" not in graph.graph:
        return Confidence(0, 1.0, tuple(1.0 for _ in sequence.neighbours), exact)
    asked = _Again(graph, sequence, wishes or Wishes((), sequence.loop))
    say = progress or (lambda done, total, what: None)
    trial = Trials(graph, sequence, prints, seed)
    kept = np.zeros(len(sequence.neighbours))
    stood = 0
    for start in range(0, wanted, _BLOCK):
        for done, costs in enumerate(trial.draw(min(_BLOCK, wanted - start)), start):
            say(done, wanted, "trying the order with colours a little off")
            pairs = asked.exactly(costs) if exact else asked.close_by(costs)
            kept += [pair in pairs for pair in trial.pairs]
            stood += pairs == set(trial.pairs)
    return Confidence(
        wanted, stood / wanted, tuple(float(x) for x in kept / wanted), exact)


def doubts(
    graph: nx.Graph[str], sequence: Sequence, prints: List[Print],
    wishes: Wishes | Mapping[str, Any] | None = None, progress: Progress | None = None,
) -> Sequence:
    """The sequence with its ``confidence``, and each neighbour with whether it is ``certain``.

    What :func:`sequencer.find_sequence` adds itself when given ``prints``: asked for afterwards,
    the order can be shown first. ``wishes``: as they were given to it, by keyword. ``progress``: as
    for :func:`confidence`.

    Raises:
        UsageError: what is no list of prints.
        SequenceError: a print of the sequence is not among them.
    """
    if wishes is not None and not isinstance(wishes, Wishes):
        wishes = _wishes_of(graph, sequence, wishes)
    prints = doors.prints(prints)
    missing = set(sequence.order) - {one.id for one in prints}
    if missing:
        raise SequenceError(f"'prints' lacks {', '.join(sorted(missing))}, which the order holds.")
    kept = confidence(graph, sequence, prints, wishes=wishes, progress=progress)
    return replace(with_confidence(sequence, kept), confidence=kept.to_json())


def _wishes_of(graph: nx.Graph[str], sequence: Sequence, options: Mapping[str, Any]) -> Wishes:
    """The keywords of find_sequence that say which orders may be; how to search is no wish."""
    said = {key: options[key] for key in _WISHES if options.get(key) is not None}
    if said.pop("pick", None) is not None:
        said["pick"] = len(sequence.order)
    return read_wishes(list(graph.nodes), loop=sequence.loop, **said)


class _Again:
    """Finds the order of the same prints anew, under the same wishes, for other costs."""

    def __init__(self, graph: nx.Graph[str], sequence: Sequence, wishes: Wishes) -> None:
        self.loop, self.aim, self.wishes = sequence.loop, sequence.aim, wishes
        self.ids = tuple(sequence.order)
        self.old = list(range(len(self.ids)))
        self.pairs = _pairs(self.old, self.loop)
        there = set(self.ids)
        self.kept = wishes.only(
            wish for wish in wishes.wishes
            if wish.kind in ("first", "last", "together", "apart", "before")
            and there >= set(wish.prints)
        )
        self.barred = costs_of(graph, sequence.order) == np.inf
        least = wishes.number("distinct")
        if wishes.number("pick") is not None or least is not None:
            self._bar_the_close(graph, float(graph.graph["distinct"] if least is None else least))

    def _bar_the_close(self, graph: nx.Graph[str], least: float) -> None:
        for i, a in enumerate(self.ids):
            for j in range(i):
                edge = graph.get_edge_data(a, self.ids[j]) or {}
                close = edge.get("verdict") == "blurs" or edge.get("cost", 0.0) < least
                if close and frozenset((i, j)) not in self.pairs:
                    self.barred[i, j] = self.barred[j, i] = True

    def exactly(self, costs: Floats) -> set[frozenset[int]]:
        """The pairs of the best order; of the old one where that is as good."""
        cost: NDArray[np.float64] = np.array(costs, dtype=np.float64)
        cost[self.barred] = np.inf
        box = Box(self.ids, cost, None)
        found = answer_for(box, self.kept, self.aim, Usual(), time.monotonic() + _SECONDS)
        if found is None or found.answer.order is None:
            return self.pairs
        order = found.asked.as_read(list(found.answer.order))
        old, new = (self._price(cost, way) for way in (self.old, order))
        return self.pairs if old <= new else _pairs(order, self.loop)

    def _price(self, cost: NDArray[np.float64], order: list[int]) -> tuple[float, ...]:
        total, worst = totals(Box(self.ids, cost, None), order, self.loop, self.aim)
        return (round(worst, 6), round(total, 6)) if self.aim == "worst" else (round(total, 6),)

    def close_by(self, costs: Floats) -> set[frozenset[int]]:
        """The pairs of the best order that a few moves lead to."""
        priced = np.where(self.barred, np.inf, _priced(costs, self.aim))
        order = descend(priced, self.old, self.loop, self._allows, _ROUNDS)
        return _pairs(order, self.loop)

    def _allows(self, order: list[int]) -> bool:
        return keeps(self.kept, tuple(self.ids[k] for k in order))


def keeps(wishes: Wishes, way: tuple[str, ...]) -> bool:
    """Whether an order keeps the wishes; it may be read from either end, a loop from any print."""
    met = {frozenset(pair) for pair in pairwise(way)}
    if wishes.loop:
        met.add(frozenset((way[-1], way[0])))
    if any(frozenset(pair) not in met for pair in wishes.named("together")):
        return False
    if any(frozenset(pair) in met for pair in wishes.named("apart")):
        return False
    first, last = wishes.end("first"), wishes.end("last")
    if wishes.loop:
        return not (first and last) or frozenset((first, last)) in met
    return any(
        first in (None, one[0]) and last in (None, one[-1])
        and all(one.index(a) < one.index(b) for a, b in wishes.named("before"))
        for one in (way, way[::-1])
    )


def _trials_for(count: int) -> int:
    """By size alone, so that the answer never depends on how fast the machine is."""
    return 0 if count > 200 else max(8, min(40, 2000 // max(count, 1)))


def with_confidence(sequence: Sequence, found: Confidence) -> Sequence:
    """The sequence with ``certain`` set on its neighbours."""
    if not found.trials:
        return sequence
    pairs = tuple(
        replace(pair, certain=share >= CERTAIN)
        for pair, share in zip(sequence.neighbours, found.neighbours, strict=True)
    )
    return replace(sequence, neighbours=pairs)


def _priced(costs: Floats, aim: str) -> Floats:
    """Costs as the aim adds them up; the worst step weighs by a high power."""
    return costs ** {"total": 1.0, "worst": 8.0}.get(aim, 2.0)


def _pairs(order: list[int], loop: bool) -> set[frozenset[int]]:
    closing = [(order[-1], order[0])] if loop else []
    return {frozenset(pair) for pair in [*pairwise(order), *closing]}
