"""Pieces that lay in the folder before: whether what was done on one of them holds on today's."""

from __future__ import annotations

from collections.abc import Callable

from sequencer.errors import PieceError
from sequencer.piece import Piece

_MOST = 30

Stays = Callable[[Piece, Piece], bool]
"""Whether what a change rests on is in the second piece as it was in the first."""


class Earlier:
    """The last 30 pieces by their revisions, so that a change made on one of them can be joined."""

    def __init__(self) -> None:
        self._pieces: dict[str, Piece] = {}

    def remember(self, piece: Piece) -> None:
        """Keep a piece as the newest; the oldest are forgotten."""
        self._pieces.pop(piece.revision, None)
        self._pieces[piece.revision] = piece
        while len(self._pieces) > _MOST:
            del self._pieces[next(iter(self._pieces))]

    def holds(self, revision: str, now: Piece, stays: Stays | None) -> bool:
        """Whether a change made on this revision can be made on the piece of now instead."""
        before = self._pieces.get(revision)
        return before is not None and (
            _goes_on(before, now) or (stays is not None and stays(before, now)))

    def same_plan(self, one: str, other: str) -> bool:
        """Whether two revisions have the same prints in the same plan, with no step between."""
        before, now = self._pieces.get(one), self._pieces.get(other)
        return before is not None and now is not None and (
            _goes_on(before, now) and before.plan == now.plan)


def print_stays(id_: str) -> Stays:
    """A change that rests on this print alone: its name, scraps, outline and photograph."""
    def stays(before: Piece, now: Piece) -> bool:
        try:
            old, new = before.print_of(id_), now.print_of(id_)
        except PieceError:
            return False
        told = (old.name, old.scraps, old.outline)
        return told == (new.name, new.scraps, new.outline) and old.photo_id == new.photo_id

    return stays


def _goes_on(before: Piece, now: Piece) -> bool:
    """Whether the second piece is the first with its own last step gone on: the picture laid out
    that follows from a correction. No one else has changed it, so what was done on the first holds.
    """
    return (before.past, before.future) == (now.past, now.future) and (
        [one.id for one in before.prints] == [one.id for one in now.prints])
