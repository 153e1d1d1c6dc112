"""How long strip sets should be: what the scraps can serve.

One long set is sewn quickest but asks for long strips, which small scraps only give by joining,
at a loss. Several shorter sets use up such scraps, at the price of more seams and more squaring.
Lengths that suit some scrap are tried, and the one kept that leaves least to be bought, then
costs fewest seams.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from sequencer.inches import round_down, round_up
from sequencer.models import Column
from sequencer.plan.asked import Request
from sequencer.plan.cloth.fabric import Scraps
from sequencer.plan.sewing import set_lengths

MOST_TRIED = 8
MOST_PACKED = 2
"""Lengths guessed at, and the best of them packed for certain."""
Merit = tuple[int, int]
"""Length lacking over all prints; seams (strip seams and joins). Less is better."""


def best_set_length(request: Request, columns: Sequence[Column], scraps: Scraps) -> Fraction:
    """Longest strip set allowed so that the scraps fall short least, then with fewest seams.

    As asked where a length is given; where nothing is lacking and nothing joined at the usual
    length, that one.
    """
    first = scraps.longest_set(columns)
    if request.set_length is not None or not any(scraps.lanes.values()):
        return first
    trial = _Trial(request, columns, scraps)
    usual, joins = trial.of(first)
    if not usual[0] and not joins:
        return first
    guesses = {length: trial.guess(length) for length in _lengths(request, columns, scraps, first)}
    likely = sorted(guesses, key=lambda length: (guesses[length], -length))[:MOST_PACKED]
    merits = {first: usual, **{length: trial.of(length)[0] for length in likely}}
    return min(merits, key=lambda length: (merits[length], -length))


def _lengths(
    request: Request, columns: Sequence[Column], scraps: Scraps, first: Fraction
) -> list[Fraction]:
    """What scraps give whole, in halves and thirds, and all columns in one to four sets."""
    lanes = {lanes[0] for lanes in scraps.lanes.values() if lanes}
    widths = [column.cut_width for column in columns]
    whole = sum(widths, Fraction(0)) * (1 if request.tall else request.repeats)
    found = {round_down(lane / part, request.grid) for lane in lanes for part in (1, 2, 3)}
    found |= {round_up(whole / part + request.squaring, request.grid) for part in (1, 2, 3, 4)}
    least = max(max(widths) + request.squaring, 4 * max(map(request.cut, request.strips.values())))
    able = sorted((x for x in found - {first} if least <= x <= request.usable), reverse=True)
    return able[:: max(1, math.ceil(len(able) / MOST_TRIED))]


class _Trial:
    """Shares out the scraps for sets of some length, in whole numbers for speed."""

    def __init__(self, request: Request, columns: Sequence[Column], scraps: Scraps) -> None:
        self.request, self.columns, self.scraps = request, columns, scraps
        self.parts = 1 if request.tall else request.repeats
        self.copies = request.repeats if request.tall else 1
        cuts = [int(column.cut_width * scraps.unit) for column in columns]
        groups = [cuts] if request.press == "open" else [cuts[::2], cuts[1::2]]
        self.groups = [sorted(group * self.parts, reverse=True) for group in groups if group]
        self.squaring = int(request.squaring * scraps.unit)
        self.grid = int(request.grid * scraps.unit)
        counted = Counter(scraps.terms(key) for key in scraps.sized)
        like = {scraps.terms(key): key for key in scraps.sized}
        self.alike = [(like[terms], count) for terms, count in counted.items()]

    def of(self, longest: Fraction) -> tuple[Merit, int]:
        """The merit of the sets packed no longer than this, and the joins among its seams."""
        return self._merit(set_lengths(self.request, self.columns, longest, self.scraps.unit))

    def guess(self, longest: Fraction) -> Merit:
        """The same for sets filled without regard to which prints they start with."""
        return self._merit([x for group in self.groups for x in self._sets(group, longest)])[0]

    def _merit(self, lengths: Sequence[int]) -> tuple[Merit, int]:
        wanted = [length for length in lengths for _ in range(self.copies)]
        shares = [(self.scraps.try_out(key, wanted), count) for key, count in self.alike]
        joins = sum(share.joins * count for share, count in shares)
        seams = len(lengths) * len(self.request.ids) * self.copies + joins
        return (sum(share.beyond * count for share, count in shares), seams), joins

    def _sets(self, widths: Sequence[int], longest: Fraction) -> list[int]:
        """Lengths of the sets that first-fit decreasing makes of these segments."""
        room = int(longest * self.scraps.unit) - self.squaring
        left: list[int] = []
        used: list[int] = []
        for width in widths:
            place = next((i for i, free in enumerate(left) if free >= width), None)
            if place is None:
                left.append(max(room, width))
                used.append(0)
                place = len(left) - 1
            left[place] -= width
            used[place] += width
        return [-(-(one + self.squaring) // self.grid) * self.grid for one in used]
