"""What one print's strips are cut from, and what that leaves."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sequencer.plan.cloth.laying.bound import Bound
from sequencer.plan.cloth.laying.lanes import Way

ABSENT = -1
"""Number of the scrap that a strip comes from when no scrap holds it."""
Merit = tuple[int, int, int, int]
"""Length lacking, joins, scraps touched, lanes touched."""
Mix = tuple[Way | None, ...]
"""A way for each scrap."""


@dataclass(frozen=True)
class Piece:
    """``length`` cut from lane ``lane`` of scrap ``scrap`` (ABSENT: not in the box)."""

    scrap: int
    lane: int
    length: int


@dataclass(frozen=True)
class Cutting:
    """How one print's strips are made; a strip that the scraps cannot give is ABSENT as a whole.

    ``ways``: how each scrap is cut. ``strips``: the pieces of each strip wanted. ``bound``: no
    cutting lacks less, or lacks as little with fewer joins.
    """

    ways: tuple[Way | None, ...]
    strips: tuple[tuple[Piece, ...], ...]
    bound: Bound

    @property
    def short_by(self) -> int:
        """Length of strips that no scrap gives."""
        return sum(p.length for strip in self.strips for p in strip if p.scrap == ABSENT)

    @property
    def joins(self) -> int:
        """Joins end to end."""
        return sum(len(strip) - 1 for strip in self.strips)

    @property
    def proved(self) -> bool:
        """Whether nothing can be shorter of cloth, or as short with fewer joins."""
        return (self.short_by, self.joins) == self.bound

    @property
    def merit(self) -> Merit:
        """Less is better."""
        touched = {(p.scrap, p.lane) for strip in self.strips for p in strip if p.scrap != ABSENT}
        return self.short_by, self.joins, len({scrap for scrap, _ in touched}), len(touched)


def lanes_left(cutting: Cutting) -> Counter[tuple[int, int]]:
    """What remains of every lane, by (scrap, lane)."""
    left: Counter[tuple[int, int]] = Counter()
    for scrap, way in enumerate(cutting.ways):
        for number, length in enumerate(way.lanes if way else ()):
            left[scrap, number] = length
    for piece in (p for strip in cutting.strips for p in strip if p.scrap != ABSENT):
        left[piece.scrap, piece.lane] -= piece.length
    return left
