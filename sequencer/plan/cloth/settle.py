"""Strip sets that suit the scraps: lengths are tried, the best kept, its strips placed.

One long set is sewn quickest but asks for long strips, which small scraps only give by joining,
at a loss. Several shorter sets use up such scraps, at the price of more seams and more squaring.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sequencer.inches import round_down, round_up
from sequencer.models import Column, Print
from sequencer.plan.asked import Request
from sequencer.plan.cloth.box import Box, Cut, Given
from sequencer.plan.cloth.lacking import least_lacking
from sequencer.plan.cloth.ledger import Ledger
from sequencer.plan.cloth.placing import place_strips
from sequencer.plan.sewing import StripSet, plan_sets

Merit = tuple[int, int, int]
"""Length of strips lacking, joins, sets."""
MOST_LENGTHS = {False: 6, True: 9}
"""Lengths of strip set tried, quickly and with effort."""
FAR = 10**12
MOST_PROVED = 2
"""The best of them that are cut thoroughly."""


@dataclass(frozen=True)
class Tried:
    """Strip sets of one length and how their strips are cut."""

    merit: Merit
    sets: tuple[StripSet, ...]
    cuts: Mapping[str, Cut]


class Settling:
    """The search for strip sets of one request."""

    def __init__(
        self, request: Request, known: Mapping[str, Print], given: Given | None = None
    ) -> None:
        self.request, self.box = request, Box(request, known, given)
        held = {key: self.box.held(key) for key in self.box.sized}
        self.scarcest = sorted(request.ids, key=lambda key: held.get(key, FAR))
        self.tried = 0

    def best(
        self, columns: Sequence[Column], thorough: bool, all_or_none: bool = False
    ) -> Tried:
        """The sets with least lacking, then fewest joins, then fewest sets.

        ``all_or_none``: only whether nothing lacks is asked, so the first print that is short
        ends each attempt.
        """
        request = self.request
        longest = request.usable
        if request.set_length is not None:
            longest = min(request.set_length, request.usable)
        first = self.attempt(plan_sets(request, columns, longest), False, all_or_none)
        found = [first]
        if any(first.merit[:2]) and request.set_length is None:
            seen = {_kind(first.sets)}
            lengths = self._lengths(columns, MOST_LENGTHS[False])
            if thorough:  # never without those that the quick effort tries
                lengths += self._lengths(columns, MOST_LENGTHS[True])
            for length in lengths:
                sets = plan_sets(request, columns, length)
                if _kind(sets) not in seen:
                    seen.add(_kind(sets))
                    found.append(self.attempt(sets, False, all_or_none))
                    if not any(found[-1].merit[:2]):
                        break
        found.sort(key=lambda one: one.merit)
        if thorough and any(found[0].merit[:2]):
            found = [self.attempt(one.sets, True) for one in found[:MOST_PROVED]]
        return min(found, key=lambda one: one.merit)

    def attempt(
        self, sets: Sequence[StripSet], thorough: bool = False, all_or_none: bool = False
    ) -> Tried:
        """These sets' strips, cut, the scarcest print first."""
        self.tried += 1
        wanted = self.box.wanted(sets)
        cuts: dict[str, Cut] = {}
        for key in self.scarcest:
            cuts[key] = self.box.cut(key, wanted[key], thorough)
            if all_or_none and cuts[key].merit[0]:
                break
        merits = [cut.merit for cut in cuts.values()]
        merit = sum(short for short, _ in merits), sum(joins for _, joins in merits), len(sets)
        return Tried(merit, tuple(sets), cuts)

    def placed(self, tried: Tried) -> Ledger:
        """Its strips, every piece in its place."""
        return place_strips(self.box, tried.sets, tried.cuts, self.tried)

    def _lengths(self, columns: Sequence[Column], most: int) -> list[Fraction]:
        """What the scraps' sides give, whole and in parts, and all columns in even sets."""
        request = self.request
        margin = request.squaring + request.spare
        widest = max(column.cut_width for column in columns) + margin
        whole = sum((column.cut_width for column in columns), Fraction(0)) * (
            1 if request.tall else request.repeats
        )
        sides = {side for scraps in self.box.scraps.values() for scrap in scraps or ()
                 for side in scrap.sure}  # fmt: skip
        parts = {round_down(side / part, request.grid) for side in sides for part in (1, 2, 3)}
        evenly = {round_up(whole / part + margin, request.grid) for part in (1, 2, 3, 4, 6)}
        lengths = {round_up(widest, request.grid), *evenly, *parts}
        able = sorted((x for x in lengths if widest <= x <= request.usable), reverse=True)
        return able if len(able) <= most else [
            able[i * (len(able) - 1) // (most - 1)] for i in range(most)
        ]  # fmt: skip


def _kind(sets: Sequence[StripSet]) -> tuple[Fraction, ...]:
    return tuple(sorted(one.length for one in sets))


def settle(
    request: Request,
    known: Mapping[str, Print],
    columns: Sequence[Column],
    given: Given | None = None,
    thorough: bool = False,
) -> tuple[tuple[StripSet, ...], Ledger]:
    """Strip sets of the lengths that suit the scraps best, and the ledger of their strips."""
    settling = Settling(request, known, given)
    best = settling.best(columns, thorough)
    bound = Fraction(0) if given else least_lacking(request, settling.box, columns)
    return best.sets, replace(settling.placed(best), least_short=bound)
