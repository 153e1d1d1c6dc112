"""From a transition graph and wishes to the best sequence, step by step."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sequencer.errors import SequenceError
from sequencer.models import Sequence
from sequencer.order.costs import FORBIDDEN, Box, aimed, read_box, whole_weights
from sequencer.order.exact import Answer
from sequencer.order.question import Question
from sequencer.order.report import in_reading_direction, neighbours_of, totals
from sequencer.order.solve import solve, solve_worst
from sequencer.order.wishes import PairOfIds, Wishes, check_aim, read_wishes

if TYPE_CHECKING:
    import networkx as nx


def find_sequence(
    graph: nx.Graph,
    loop: bool = False,
    pick: int | None = None,
    first: Any = None,
    last: Any = None,
    include: Iterable[Any] = (),
    exclude: Iterable[Any] = (),
    together: Iterable[PairOfIds] = (),
    apart: Iterable[PairOfIds] = (),
    before: Iterable[PairOfIds] = (),
    aim: str = "even",
    distinct: float | None = None,
    value_range: float | None = None,
    alternatives: int = 0,
    seconds: float = 10.0,
) -> Sequence:
    """The best sequence for these wishes, with its proof."""
    started = time.monotonic()
    check_aim(aim)
    box = read_box(graph)
    wishes = read_wishes(
        box.ids, loop=loop, pick=pick, first=first, last=last, include=include, exclude=exclude,
        together=together, apart=apart, before=before, distinct=distinct, value_range=value_range,
    )
    search = Search(graph, box.without(wishes.unwanted), wishes, aim, started, started + seconds)
    return search.sequence()


@dataclass(eq=False)
class Search:
    """One request while it is worked on."""

    graph: nx.Graph
    box: Box
    wishes: Wishes
    aim: str
    started: float
    deadline: float

    def question(self) -> Question:
        """The wishes in numbers."""
        w, box = self.wishes, self.box
        costs = box.cost.copy()
        least = w.number("distinct")
        if least is not None:
            costs[costs < least] = np.inf
        self.weights, self.scale = whole_weights(aimed(costs, self.aim))
        weights = self.weights
        at = {name: i for i, name in enumerate(box.ids)}
        for a, b in w.named("apart"):
            if a in at and b in at:
                weights[at[a], at[b]] = weights[at[b], at[a]] = FORBIDDEN
        together = frozenset(
            (min(at[a], at[b]), max(at[a], at[b])) for a, b in w.named("together")
        )
        pick = w.number("pick")
        first, last = w.end("first"), w.end("last")
        return Question(
            weights=weights,
            size=box.size if pick is None else int(pick),
            loop=w.loop,
            first=None if first is None else at[first],
            last=None if last is None else at[last],
            include=frozenset(at[name] for name in w.needed),
            together=together,
            before=tuple((at[a], at[b]) for a, b in w.named("before")),
            value=box.value,
            value_range=w.number("value range") or 0.0,
        )

    def sequence(self) -> Sequence:
        """Solve, then report."""
        if self.wishes.needed & self.wishes.unwanted:
            raise SequenceError("No order keeps all of these wishes.")
        question = self.question()
        if self.aim == "worst":
            answer, _ = solve_worst(question, self.deadline)
        else:
            answer = solve(question, self.deadline)
        if answer.order is None:
            raise SequenceError("No order keeps all of these wishes.")
        return self.report(question, answer)

    def report(self, question: Question, answer: Answer) -> Sequence:
        """The record of one answer."""
        assert answer.order is not None
        order = in_reading_direction(question, answer.order, self.box.value)
        total, worst = totals(self.box, order, question.loop, self.aim)
        bound = total
        if not answer.proved:
            bound = max(0.0, (answer.bound - 0.5 * question.size) / self.scale)
            bound = min(bound, total)
        names = tuple(self.box.ids[v] for v in order)
        chosen = set(names)
        return Sequence(
            order=names,
            loop=question.loop,
            aim=self.aim,
            total=total,
            worst=worst,
            status="optimal" if answer.proved else "bounded",
            lower_bound=bound,
            gap=(total - bound) / total if total > 0 else 0.0,
            neighbours=neighbours_of(self.graph, names, question.loop),
            left_out=tuple(name for name in self.graph.nodes if name not in chosen),
            seconds=time.monotonic() - self.started,
        )
