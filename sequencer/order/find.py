"""From a transition graph and wishes to the best sequence, step by step."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sequencer import doors
from sequencer.errors import SequenceError
from sequencer.models import Alternative, Print, Sequence
from sequencer.order.binding import left_alone, what_binds
from sequencer.order.confidence import doubts
from sequencer.order.graph.costs import Box, read_box
from sequencer.order.report import in_reading_direction, neighbours_of, totals
from sequencer.order.search.alternatives import how_it_differs
from sequencer.order.sizes import gentlest, sizes_of
from sequencer.order.wishes.answer import Found, answer_for
from sequencer.order.wishes.asked import Usual, usual_limits
from sequencer.order.wishes.impossible import explain
from sequencer.order.wishes.wish import (
    PairOfIds,
    Wish,
    Wishes,
    check_aim,
    check_number,
    read_wishes,
)

if TYPE_CHECKING:
    import networkx as nx


def find_sequence(
    graph: nx.Graph,
    loop: bool = False,
    pick: int | tuple[int, int] | None = None,
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
    prints: Iterable[Print] | None = None,
) -> Sequence:
    """The best sequence that keeps all wishes, proved; bounded if ``seconds`` run out first.

    Args:
        graph: any undirected graph with the edge attribute ``cost`` (finite, ≥ 0) and, where it
            matters, the node attribute ``value`` (L*). A missing edge means: may not meet.
        loop: whether the end also meets the start (two prints in a loop meet twice).
        pick: use so many prints, the best ones; or (fewest, most): the best of each size is
            found, the one with the gentlest average step returned, all of them in ``sizes``.
        first, last: the prints the list starts and ends with. On a loop ``first`` is where it is
            opened, and with both the two are neighbours.
        include, exclude: prints that must be in, and that must not.
        together, apart: pairs that must meet, in any order (both are then in); that must not.
        before: pairs (a, b), a earlier in the list than b; both are then in. On a loop this
            needs ``first`` or ``last``, for a loop has no beginning of its own.
        aim: ``even`` least sum of squared costs, ``total`` least sum, ``worst`` least largest
            cost, then least sum.
        distinct: neighbours cost at least this; unset and with ``pick``, a graph of prints uses
            its own limit and keeps pairs that blur apart.
        value_range: the chosen span at least so much L*; unset and with ``pick``, a graph of
            prints asks for what shows a curve.
        alternatives: so many further sequences, each with a fifth of its neighbours new.
        seconds: time limit.
        prints: the prints behind a graph of prints, if their uncertainty is to be weighed: the
            order is then found again for colours drawn within it, ``confidence`` says in how many
            trials it held, and each neighbour whether it is ``certain``. Not counted in seconds.

    Raises:
        SequenceError: the graph is unusable, an id is unknown, or no order exists.
        ImpossibleWishes: wishes contradict each other; the smallest set is named.
        UsageError: the request makes no sense as typed.
    """
    known = [] if prints is None else doors.prints(prints)
    search, sizes = _request(
        graph, pick, aim, seconds, loop=loop, first=first, last=last, include=include,
        exclude=exclude, together=together, apart=apart, before=before, distinct=distinct,
        value_range=value_range, alternatives=alternatives,
    )
    found = gentlest(search.of_sizes(sizes)) if len(sizes) > 1 else search.sequence(alternatives)
    return found if prints is None else doubts(graph, found, known, search.wishes)


def find_sizes(
    graph: nx.Graph, fewest: int, most: int, *, aim: str = "even", seconds: float = 10.0,
    **options: Any,
) -> tuple[Sequence, ...]:
    """The best sequence of every possible size, smallest first; ``options`` as above."""
    search, sizes = _request(graph, (fewest, most), aim, seconds, **{"loop": False, **options})
    return tuple(search.of_sizes(sizes))


def _request(
    graph: nx.Graph, pick: int | tuple[int, int] | None, aim: str, seconds: float,
    alternatives: int = 0, **options: Any,
) -> tuple[Search, tuple[int, ...]]:
    started = time.monotonic()
    doors.whole("alternatives", alternatives)
    check_aim(aim)
    check_number("seconds", seconds, above=True)
    sizes = sizes_of(pick)
    box = read_box(graph)
    wishes = read_wishes(box.ids, pick=sizes[0] if sizes else None, **options)
    return Search(graph, box, wishes, aim, started, started + seconds), sizes


@dataclass(eq=False)
class Search:
    """One request while it is worked on; ``whole``: the box with everything in it."""

    graph: nx.Graph
    whole: Box
    wishes: Wishes
    aim: str
    started: float
    deadline: float

    def sequence(self, alternatives: int = 0) -> Sequence:
        """The best sequence, what bound it, and others worth a look."""
        found, limits, notes = self._best()
        best = self._report(found)
        notes += best.notes
        chosen = 2 <= found.asked.question.size < found.asked.question.count
        if chosen and self._left() >= 0.5 * (self.deadline - self.started):
            notes += what_binds(self.wishes, limits, found.asked, best, self.deadline)
        others = self._alternatives(found, limits, best, alternatives)
        if len(others) < alternatives:
            notes.append(f"{len(others)} of {alternatives} alternatives: no more differ in a "
                         "fifth of their neighbours" + ("." if self._left() > 0 else " in time."))
        taken = time.monotonic() - self.started
        return replace(best, alternatives=others, notes=tuple(notes), seconds=taken)

    def of_sizes(self, sizes: tuple[int, ...]) -> list[Sequence]:
        """The best sequence of each size that is possible; an error if none is."""
        found: list[Sequence] = []
        trouble: SequenceError | None = None
        end = self.deadline
        for done, size in enumerate(sizes):
            share = (end - time.monotonic()) / (len(sizes) - done)
            wishes = Wishes(tuple(
                Wish("pick", number=size) if wish.kind == "pick" else wish
                for wish in self.wishes.wishes
            ), self.wishes.loop)
            deadline = time.monotonic() + max(share, 0.05)
            try:
                found.append(replace(self, wishes=wishes, deadline=deadline).sequence())
            except SequenceError as error:
                trouble = trouble or error
        if not found and trouble:
            raise trouble
        return found

    def _left(self) -> float:
        return self.deadline - time.monotonic()

    def _best(self) -> tuple[Found, Usual, list[str]]:
        """Solve; where only the usual limits stand in the way, ease them and say so."""
        explain_first = _cannot_be_asked(self.whole, self.wishes)
        if explain_first:
            raise explain(self.graph, self.whole, self.wishes, self.deadline)
        box = self.whole.without(self.wishes.unwanted)
        usual = usual_limits(self.graph, box, self.wishes)
        notes: list[str] = []
        for limits in [usual, *usual.eased()]:
            found = self._answer(box, limits)
            if found and found.answer.order is not None:
                return found, limits, [*notes, *left_alone(box, limits)]
            if not (found and found.answer.proved):
                break
            notes = ["This box cannot keep the usual limits (neighbours that stay distinct, "
                     "enough value range), so they were eased."]
        if not (found and found.answer.proved):
            raise SequenceError("No order that keeps all wishes was found in the time given, nor "
                                "a proof that there is none. Allow more seconds or fewer wishes.")
        raise explain(self.graph, self.whole, self.wishes, self.deadline)

    def _answer(
        self, box: Box, limits: Usual, unlike: Iterable[tuple[int, ...]] = ()
    ) -> Found | None:
        return answer_for(box, self.wishes, self.aim, limits, self.deadline, unlike)

    def _report(self, found: Found) -> Sequence:
        asked, answer = found.asked, found.answer
        assert answer.order is not None
        question, box = asked.question, asked.box
        order = in_reading_direction(question, answer.order, box.value)
        total, worst = totals(box, order, question.loop, self.aim)
        bound = total if answer.proved else min(total, found.bound)
        level = worst if self.aim != "worst" or answer.proved else min(worst, found.level)
        proved = answer.proved or (bound >= total and level >= worst)
        order = asked.as_read(order)
        names = tuple(box.ids[v] for v in order)
        return Sequence(
            order=names, loop=question.loop, aim=self.aim, total=total, worst=worst,
            status="optimal" if proved else "bounded", lower_bound=bound,
            gap=max(_share(total - bound, total), _share(worst - level, worst)),
            neighbours=neighbours_of(self.graph, names, question.loop),
            left_out=tuple(name for name in self.graph.nodes if name not in set(names)),
            notes=("Only one print: nothing to order.",) if len(names) == 1 else (),
        )

    def _alternatives(
        self, first: Found, limits: Usual, best: Sequence, wanted: int
    ) -> tuple[Alternative, ...]:
        others: list[Alternative] = []
        earlier = [first.answer.order or ()]
        for _ in range(wanted):
            found = self._answer(first.asked.box, limits, earlier) if self._left() > 0 else None
            if found is None or found.answer.order is None:
                break
            earlier.append(found.answer.order)
            other = self._report(found)
            note = how_it_differs(best.order, other.order, best.loop)
            proof = "" if other.status == "optimal" else " (not proved the best of its kind)"
            others.append(Alternative(other.order, other.total, other.worst, note + proof))
        return tuple(others)


def _share(short: float, whole: float) -> float:
    return short / whole if whole > 0 else 0.0


def _cannot_be_asked(box: Box, wishes: Wishes) -> bool:
    """Contradictions that leave no question to put."""
    pick = wishes.number("pick")
    room = box.size - len(wishes.unwanted)
    loose = wishes.loop and wishes.named("before") and not (
        wishes.named("first") or wishes.named("last"))
    ends = [len(set(wishes.named(kind))) for kind in ("first", "last")]
    return bool(
        wishes.needed & wishes.unwanted or room < 1 or (pick or 0) > room or loose or max(ends) > 1
    )
