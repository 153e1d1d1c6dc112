"""When nothing keeps all wishes: the smallest set of wishes that contradict each other.

A wish whose loss leaves the rest impossible is dropped (deletion filter: Chinneck and Dravnieks
1991), which leaves a set with nothing to spare; then every smaller set is tried, smallest first.
"""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sequencer.errors import ImpossibleWishes, SequenceError
from sequencer.order.asked import ask
from sequencer.order.costs import FORBIDDEN, Box
from sequencer.order.question import Question
from sequencer.order.solve import solve
from sequencer.order.wishes import Wish, Wishes

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
    court = _Court(box, wishes.loop, max(deadline, time.monotonic() + _SECONDS))
    if not court.possible(()):
        return SequenceError(_torn(graph, wishes.loop))
    guilty = court.smallest(wishes.wishes)
    words = [str(wish) for wish in guilty]
    return ImpossibleWishes(_sentence(court, guilty), words)


class _Court:
    """Asks of any set of wishes whether they can be kept together; doubt counts as yes."""

    def __init__(self, box: Box, loop: bool, deadline: float) -> None:
        self.box, self.loop, self.deadline = box, loop, deadline
        self.known: dict[tuple[Wish, ...], bool] = {}

    def possible(self, wishes: tuple[Wish, ...]) -> bool:
        """Whether some order keeps all of these."""
        if wishes not in self.known:
            self.known[wishes] = _possible(self.box, Wishes(wishes, self.loop), self._until())
        return self.known[wishes]

    def _until(self) -> float:
        return min(self.deadline, time.monotonic() + _EACH)

    def smallest(self, wishes: tuple[Wish, ...]) -> tuple[Wish, ...]:
        """A contradictory set of least size, in the order the wishes were made."""
        kept = list(wishes)
        for wish in wishes:
            rest = tuple(one for one in kept if one != wish)
            if not self.possible(rest):
                kept = list(rest)
        tries = 0
        for size in range(1, len(kept)):
            for some in combinations(wishes, size):
                tries += 1
                if tries > _TRIES or time.monotonic() > self.deadline:
                    return tuple(kept)
                if not self.possible(some):
                    return some
        return tuple(kept)

    def largest_choice(self, wishes: tuple[Wish, ...]) -> int | None:
        """How many prints could be picked if the other wishes stayed; None if that is unclear."""
        others = tuple(wish for wish in wishes if wish.kind != "pick")
        asked = next(wish.number for wish in wishes if wish.kind == "pick")
        for size in range(int(asked or 0) - 1, 0, -1):
            if time.monotonic() > self.deadline:
                return None
            if self.possible((*others, Wish("pick", number=float(size)))):
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

    pieces = sorted((sorted(map(str, piece)) for piece in nx.connected_components(graph)))
    if len(pieces) > 1:
        few = [_few(piece) for piece in pieces]
        return (f"These prints fall into {len(pieces)} groups with no transition between them "
                f"({' | '.join(few[:4])}); every print needs a cost to its neighbours.")
    shape = "closed loop" if loop else "open sequence"
    return (f"The pairs that have a cost do not make any {shape} of all {len(graph)} prints; "
            "add the missing pairs, or leave prints out.")


def _few(names: list[str]) -> str:
    return ", ".join(names[:4]) + (" …" if len(names) > 4 else "")


def _sentence(court: _Court, wishes: tuple[Wish, ...]) -> str:
    words = "; ".join(str(wish) for wish in wishes)
    pick = next((wish.number for wish in wishes if wish.kind == "pick"), None)
    if pick is not None:
        return _too_many(court, wishes, words, int(pick))
    if court.loop and len(wishes) == 1 and wishes[0].kind == "before":
        return (f"'{words}' cannot be kept on a loop, which has no beginning: name the first "
                "print as well, or ask for an open sequence.")
    if len(wishes) == 1:
        return f"No sequence can keep this wish: {words}."
    both = "These two wishes" if len(wishes) == 2 else f"These {len(wishes)} wishes"
    return f"{both} contradict each other: {words}. Give up one of them."


def _too_many(court: _Court, wishes: tuple[Wish, ...], words: str, pick: int) -> str:
    most = court.largest_choice(wishes)
    if most is None:
        return f"No choice of {pick} prints keeps these wishes: {words}."
    kinds: set[Any] = {wish.kind for wish in wishes}
    if kinds == {"pick", "distinct"}:
        return f"At most {most} of these prints are distinct enough to be neighbours ({words})."
    return f"At most {most} prints can be picked with these wishes: {words}."
