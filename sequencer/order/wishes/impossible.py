"""When nothing keeps all wishes: the smallest set of wishes that contradict each other.

A wish whose loss leaves the rest impossible is dropped (deletion filter: Chinneck and Dravnieks
1991), which leaves a set with nothing to spare; then every smaller set is tried, smallest first.
"""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sequencer.errors import ImpossibleWishes, SequenceError
from sequencer.order.graph.costs import FORBIDDEN, Box
from sequencer.order.search.question import Question
from sequencer.order.search.solve import solve
from sequencer.order.wishes.asked import ask
from sequencer.order.wishes.wish import Wish, Wishes

if TYPE_CHECKING:
    import networkx as nx

_TRIES = 400
_SECONDS = 2.0
_EACH = 0.5


def explain(graph: nx.Graph, box: Box, wishes: Wishes, deadline: float) -> SequenceError:
    """The error to raise for a request that is proved impossible."""
    if not box.size:
        return SequenceError("There are no prints, so there is nothing to order.")
    pick = wishes.number("pick")
    if pick is not None and pick > box.size:
        return SequenceError(f"You asked for {pick:g} prints and there are only {box.size}.")
    court = _Court(box, wishes, max(deadline, time.monotonic() + _SECONDS))
    if not court.wishes or not court.possible(()):
        most = court.largest_choice(())
        return SequenceError(_torn(graph, wishes.loop) if pick is None else
                             f"At most {most or 1} of these prints can be laid in one sequence.")
    guilty = court.smallest()
    most = court.largest_choice(guilty)
    if most is not None:
        guilty = (*guilty, court.pick[0])
    return ImpossibleWishes(_sentence(court, guilty, most), [str(wish) for wish in guilty])


class _Court:
    """Asks of any set of wishes whether they can be kept together; doubt counts as yes.

    A number to pick is no wish among others but the ground they stand on.
    """

    def __init__(self, box: Box, wishes: Wishes, deadline: float) -> None:
        self.box, self.loop, self.deadline = box, wishes.loop, deadline
        self.pick = tuple(wish for wish in wishes.wishes if wish.kind == "pick")
        self.wishes = tuple(wish for wish in wishes.wishes if wish.kind != "pick")
        self.known: dict[tuple[Wish, ...], bool] = {}

    def possible(self, wishes: tuple[Wish, ...], pick: int | None = None) -> bool:
        """Whether some order keeps all of these (with another number to pick)."""
        ground = self.pick if pick is None else (Wish("pick", number=pick),)
        key = (*ground, *wishes)
        if key not in self.known:
            until = self._until() if wishes else self.deadline
            self.known[key] = _possible(self.box, Wishes(key, self.loop), until)
        return self.known[key]

    def _until(self) -> float:
        return min(self.deadline, time.monotonic() + _EACH)

    def smallest(self) -> tuple[Wish, ...]:
        """A contradictory set of least size, in the order the wishes were made."""
        kept = list(self.wishes)
        for wish in self.wishes:
            rest = tuple(one for one in kept if one != wish)
            if not self.possible(rest):
                kept = list(rest)
        tries = 0
        for size in range(1, len(kept)):
            for some in combinations(self.wishes, size):
                tries += 1
                if tries > _TRIES or time.monotonic() > self.deadline:
                    return tuple(kept)
                if not self.possible(some):
                    return some
        return tuple(kept)

    def largest_choice(self, wishes: tuple[Wish, ...]) -> int | None:
        """How many prints could be picked with these wishes; None if fewer would not help."""
        if not self.pick:
            return None
        for size in range(int(self.pick[0].number or 0) - 1, 0, -1):
            if time.monotonic() > self.deadline:
                return None
            if self.possible(wishes, size):
                return size
        return None


def _possible(box: Box, wishes: Wishes, deadline: float) -> bool:
    if len(wishes.named("first")) > 1 or len(wishes.named("last")) > 1:
        return False
    if wishes.needed & wishes.unwanted:
        return False
    left = box.without(wishes.unwanted)
    pick = wishes.number("pick")
    if not left.size or (pick or 0) > left.size:
        return False
    adrift = wishes.loop and wishes.end("first") is None and wishes.end("last") is None
    if adrift and wishes.named("before"):
        return False
    question = ask(left, wishes, "total").question
    free = np.where(question.weights >= FORBIDDEN, FORBIDDEN, 0)
    answer = solve(_shrunk(replace(question, weights=free), left, wishes), deadline)
    return answer.order is not None or not answer.proved


def _shrunk(question: Question, box: Box, wishes: Wishes) -> Question:
    """Unnamed prints are all alike where every pair may meet: a few stand for all."""
    q = question
    whole = bool(np.isfinite(box.cost[~np.eye(box.size, dtype=bool)]).all())
    if q.size < q.count or q.value_range > 0 or wishes.number("distinct") or not whole:
        return question
    named = {name for wish in wishes.wishes for name in wish.prints}
    ours = [i for i, name in enumerate(box.ids) if name in named]
    others = [i for i, name in enumerate(box.ids) if name not in named]
    keep = sorted(ours + others[: len(ours) + 1])
    if len(keep) == q.count:
        return question
    small = q.permuted(np.array(keep + [i for i in range(q.count) if i not in set(keep)]))
    m = len(keep)
    value = None if small.value is None else small.value[:m]
    return replace(small, weights=small.weights[:m, :m], size=m, value=value)


def _torn(graph: nx.Graph, loop: bool) -> str:
    """Why the graph itself allows no order at all."""
    import networkx as nx

    pieces = sorted(sorted(map(str, piece)) for piece in nx.connected_components(graph))
    if len(pieces) > 1:
        few = [_few(piece) for piece in pieces]
        return (f"These prints fall into {len(pieces)} groups with no transition between them "
                f"({' | '.join(few[:4])}); every print needs a cost to its neighbours.")
    shape = "closed loop" if loop else "open sequence"
    return (f"The pairs that have a cost do not make any {shape} of all {len(graph)} prints; "
            "add the missing pairs, or leave prints out.")


def _few(names: list[str]) -> str:
    return ", ".join(names[:4]) + (" …" if len(names) > 4 else "")


def _sentence(court: _Court, wishes: tuple[Wish, ...], most: int | None) -> str:
    words = "; ".join(str(wish) for wish in wishes)
    kinds = {wish.kind for wish in wishes}
    if most is not None and kinds == {"pick", "distinct"}:
        return f"At most {most} of these prints are distinct enough to be neighbours ({words})."
    if most is not None:
        return f"At most {most} prints can be picked with these wishes: {words}."
    if len(wishes) == 1:
        return _alone(court, wishes[0])
    both = "These two wishes" if len(wishes) == 2 else f"These {len(wishes)} wishes"
    return f"{both} contradict each other: {words}. Give up one of them."


def _alone(court: _Court, wish: Wish) -> str:
    if court.loop and wish.kind == "before":
        return (f"'{wish}' cannot be kept on a loop, which has no beginning: name the first "
                "print as well, or ask for an open sequence.")
    value = court.box.value
    if wish.kind == "value range" and value is None:
        return f"'{wish}' cannot be checked: not every print has a value (L*)."
    if wish.kind == "value range" and value is not None:
        span = float(np.ptp(value))
        return f"'{wish}' cannot be kept: these prints span {span:.1f} L* from dark to light."
    return f"No sequence can keep this wish: {wish}."
