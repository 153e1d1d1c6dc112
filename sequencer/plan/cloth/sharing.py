"""One print's strips shared out of its scraps: quick, good, and never more than is there.

Whole strips are taken first, each from the length it leaves least of (best fit decreasing); then
strips are joined from what is left; where that does not reach, the left-overs are still joined
and one new piece makes up the rest, so that as little new cloth as can be is asked for.

All lengths here are whole numbers of one small unit, since many lengths of strip set are tried.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Share:
    """``pieces`` of each strip wanted, in the order they are joined. ``beyond``: what of them the
    scraps do not give, always the last piece of its strip.
    """

    pieces: tuple[tuple[int, ...], ...]
    beyond: int

    @property
    def joins(self) -> int:
        """Joins end to end."""
        return sum(len(strip) - 1 for strip in self.pieces)


def share_out(lanes: Sequence[int], wanted: Sequence[int], loss: int, shortest: int) -> Share:
    """Strips of the lengths ``wanted`` out of ``lanes``, each join costing ``loss``.

    No piece that is joined is under ``shortest`` (more than ``loss``).
    """
    left = sorted(lanes)
    made: dict[int, tuple[int, ...]] = {}
    turn = sorted(range(len(wanted)), key=lambda i: (-wanted[i], i))
    for i in turn:
        place = bisect_left(left, wanted[i])
        if place < len(left):
            _put_back(left, left.pop(place) - wanted[i])
            made[i] = (wanted[i],)
    for i in turn:
        if i not in made and (pieces := _joined(left, wanted[i], loss, shortest)):
            made[i] = pieces
    beyond = 0
    for i in turn:
        if i not in made:
            made[i] = _topped_up(left, wanted[i], loss, shortest)
            beyond += made[i][-1]
    return Share(tuple(made[i] for i in range(len(wanted))), beyond)


def _put_back(left: list[int], rest: int) -> None:
    if rest:
        insort(left, rest)


def _joined(left: list[int], length: int, loss: int, shortest: int) -> tuple[int, ...]:
    """The longest remnants, the last cut just long enough; empty where they do not reach."""
    pieces: list[int] = []
    reached = loss  # the first piece costs no join
    for piece in reversed(left):
        if piece < shortest or reached >= length:
            break
        pieces.append(piece)
        reached += piece - loss
    surplus = reached - length
    if not pieces or surplus < 0:
        return ()
    for piece in pieces:
        left.remove(piece)
    last = pieces[-1]
    pieces[-1] = max(last - surplus, min(last, shortest))
    _put_back(left, last - pieces[-1])
    return tuple(pieces)


def _topped_up(left: list[int], length: int, loss: int, shortest: int) -> tuple[int, ...]:
    """Every remnant worth joining, and a new piece for the rest of the strip."""
    pieces: list[int] = []
    need = length
    while left and left[-1] >= shortest and need > shortest:
        piece = left.pop()
        # the new piece must be long enough to join, so the remnant may have to give way
        taken = min(piece, need + loss - shortest)
        if taken < shortest:
            insort(left, piece)
            break
        _put_back(left, piece - taken)
        pieces.append(taken)
        need += loss - taken
    return (*pieces, need)
