"""The box of scraps in whole numbers, and how each print's strips are cut from it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sequencer.errors import PlanError
from sequencer.models import Print
from sequencer.plan.asked import Request, join_loss
from sequencer.plan.cloth.laying.bound import Order
from sequencer.plan.cloth.laying.cutting import cut_quickly, cut_thoroughly
from sequencer.plan.cloth.laying.cuttings import ABSENT, Cutting
from sequencer.plan.cloth.laying.lanes import most_length, ways_to_cut
from sequencer.plan.cloth.ledger import Part
from sequencer.plan.cloth.scraps import Scrap, scraps_of
from sequencer.plan.sewing import StripSet

Given = Mapping[str, Sequence[Sequence[Fraction]]]
MOST_PIECES = {"any": 1000, "few": 2, "none": 1}
"""Pieces that a strip may be joined of, by how many joins are wished."""


@dataclass(frozen=True)
class Cut:
    """How one print is cut. ``cutting`` is None where no size is known.

    ``full``: measured sides are counted in full. ``given``: pieces as the maker gave them.
    ``held``: most length of strip there is, in parts of an inch.
    """

    cutting: Cutting | None
    full: bool = False
    given: tuple[tuple[Fraction, ...], ...] | None = None
    held: int = 0

    @property
    def proved(self) -> bool:
        """Whether no cutting is better."""
        return self.cutting is None or self.cutting.proved

    @property
    def merit(self) -> tuple[int, int]:
        """Length lacking, joins."""
        if self.cutting is None:
            return 0, 0
        return self.cutting.short_by, self.cutting.joins

    def pieces(self, at: int, length: Fraction, unit: int) -> tuple[Part, ...]:
        """Pieces of strip ``at``, which is ``length`` long."""
        if self.given is not None:
            first = sum(map(len, self.given[:at]))
            whole = range(first, first + len(self.given[at]))
            sources = [self.cutting.strips[i][0] if self.cutting else None for i in whole]
            return tuple(
                Part(ABSENT, 0, piece) if one is None else Part(one.scrap, one.lane, piece)
                for one, piece in zip(sources, self.given[at], strict=True)
            )
        if self.cutting is None:
            return (Part(ABSENT, 0, length),)
        return tuple(
            Part(one.scrap, one.lane, Fraction(one.length, unit)) for one in self.cutting.strips[at]
        )


class Box:
    """Scraps by print, and the ``unit``: parts of an inch in which all lengths are whole."""

    def __init__(
        self, request: Request, known: Mapping[str, Print], given: Given | None = None
    ) -> None:
        self.request = request
        self.given = {key: tuple(map(tuple, strips)) for key, strips in (given or {}).items()}
        self.scraps: dict[str, tuple[Scrap, ...] | None] = {
            key: scraps_of(known[key], request) for key in request.ids
        }
        sides = [side for scraps in self.scraps.values() for scrap in scraps or ()
                 for side in (*scrap.sure, *scrap.full)]  # fmt: skip
        pieces = [piece for strips in self.given.values() for strip in strips for piece in strip]
        self.unit = math.lcm(*(x.denominator for x in (
            request.seam, request.grid, request.squaring, request.spare,
            *request.strips.values(), *sides, *pieces)), 2)  # fmt: skip

    @property
    def sized(self) -> list[str]:
        """Prints whose scraps have a size."""
        return [key for key, scraps in self.scraps.items() if scraps is not None]

    def whole(self, length: Fraction) -> int:
        """The length in parts of an inch."""
        return int(length * self.unit)

    def order(self, key: str, lengths: tuple[int, ...], full: bool, most: int) -> Order:
        """What is wanted of a print."""
        request = self.request
        cut = request.cut(request.strips[key])
        loss = join_loss(request.join, cut, request.seam)
        shortest = math.ceil((loss + cut / 2) * self.unit)
        least = min([*lengths, *([shortest] if most > 1 else [])], default=1)
        ways = tuple(
            ways_to_cut(self._sides(scrap, full), self.whole(cut), least, scrap.upright)
            for scrap in self.scraps[key] or ()
        )  # fmt: skip
        return Order(ways, lengths, self.whole(loss), shortest, most)

    def cut(self, key: str, lengths: tuple[int, ...], thorough: bool = False) -> Cut:
        """The print's strips of these lengths; measured sides count in full only where cloth
        would lack otherwise.
        """
        scraps = self.scraps[key]
        given = self._checked(key, lengths) if key in self.given else None
        if scraps is None:
            return Cut(None, given=given)
        most = MOST_PIECES[self.request.joins]
        if given is not None:
            lengths, most = tuple(self.whole(p) for strip in given for p in strip), 1
        work = cut_thoroughly if thorough else cut_quickly
        found = work(self.order(key, lengths, False, most))
        full = False
        if found.short_by and any(scrap.sure != scrap.full for scrap in scraps):
            other = work(self.order(key, lengths, True, most))
            if other.short_by < found.short_by:
                found, full = other, True
        return Cut(found, full, given, self.held(key, full))

    def held(self, key: str, full: bool = False) -> int:
        """Most length of strip the scraps give, whichever way; nothing shorter than it is wide."""
        width = self.whole(self.request.cut(self.request.strips[key]))
        return sum(
            max((sum(way.lanes) for way in
                 ways_to_cut(self._sides(scrap, full), width, width, scrap.upright)), default=0)
            for scrap in self.scraps[key] or ()
        )  # fmt: skip

    def most(
        self, key: str, toll: Fraction = Fraction(0), least: Fraction | None = None
    ) -> Fraction:
        """Inches of strip that no lanes of the print's scraps exceed, measured sides in full;
        ``toll`` is taken off each lane, and those shorter than ``least`` give nothing.
        """
        width = self.whole(self.request.cut(self.request.strips[key]))
        shortest = 1 if least is None else math.ceil(least * self.unit)
        return Fraction(
            sum(most_length(self._sides(scrap, True), width, scrap.upright, self.whole(toll),
                            shortest)
                for scrap in self.scraps[key] or ()), self.unit)  # fmt: skip

    def loss(self, key: str) -> Fraction:
        """Inches that a join of the print's strips costs."""
        request = self.request
        return join_loss(request.join, request.cut(request.strips[key]), request.seam)

    def _sides(self, scrap: Scrap, full: bool) -> tuple[int, int]:
        long, short = scrap.full if full else scrap.sure
        return self.whole(long), self.whole(short)

    def wanted(self, sets: Sequence[StripSet]) -> dict[str, tuple[int, ...]]:
        """Lengths of the strips of each print, sets in order, each top to bottom."""
        return {
            key: tuple(self.whole(one.length) for one in sets for _ in range(one.order.count(key)))
            for key in self.request.ids
        }

    def _checked(self, key: str, lengths: Sequence[int]) -> tuple[tuple[Fraction, ...], ...]:
        """The pieces given, each strip long enough; those for sets that do not exist fall away."""
        request, show = self.request, self.request.show
        strips = self.given[key]
        if len(strips) < len(lengths):
            raise PlanError(f"Pieces for {key} are given for too few strips.")
        loss = join_loss(request.join, request.cut(request.strips[key]), request.seam)
        for pieces, length in zip(strips, lengths, strict=False):
            if len(pieces) > 1 and min(pieces) <= loss:
                raise PlanError(
                    f"A piece of {key} {show(min(pieces))} long cannot be joined: the seam alone "
                    f"takes {show(loss)}."
                )
            reach = sum(pieces, loss) - loss * len(pieces) if pieces else Fraction(0)
            if reach * self.unit < length:
                raise PlanError(
                    f"Pieces of {key} reach {show(reach)} when joined, but the strip set needs "
                    f"{show(Fraction(length, self.unit))}."
                )
        return strips[: len(lengths)]
