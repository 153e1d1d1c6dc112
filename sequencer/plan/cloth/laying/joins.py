"""Where the joins of a strip come to lie in the panel, and moving them to where they do no harm.

A strip set is squared at one end and then cut into segments, so a place along the strip belongs
to the squaring, to one column, or to what is left over. A join between two columns is cut apart
by the knife and sewn into a seam; in a narrow column it makes three layers more where there is
least room. Joins are therefore moved, within what the scraps' strips allow, out of the panel,
else into the widest column that holds them clear of its seams.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise, permutations

from sequencer.plan.sewing import StripSet

OUTSIDE, CLEAR, NEAR_SEAM, IN_SEAM = 0, 1, 2, 3
WHERE = ("outside the panel", "clear of seams", "at a column seam", "across a column seam")


@dataclass(frozen=True)
class Join:
    """A join ``start`` to ``end`` inches from the squared end; the columns it shows in (from 0).

    ``kind``: an index into WHERE, from harmless to harmful.
    """

    start: Fraction
    end: Fraction
    columns: tuple[int, ...]
    kind: int


class Segments:
    """The segments of a set along its strips: squaring, columns in cutting order, left-over."""

    def __init__(self, one: StripSet, squaring: Fraction, seam: Fraction) -> None:
        self.seam = seam
        self.marks = list(accumulate((s.width for s in one.segments), initial=squaring))
        if one.lost:  # what is squared off again lies before the segments still to be cut
            self.marks[one.done + 1 :] = [mark + one.lost for mark in self.marks[one.done + 1 :]]
        self.columns = [segment.column for segment in one.segments]

    def judge(self, start: Fraction, end: Fraction) -> Join:
        """What a join from ``start`` to ``end`` meets."""
        marks = self.marks
        if end <= marks[0] or start >= marks[-1]:
            return Join(start, end, (), OUTSIDE)
        met = [i for i in range(len(self.columns)) if marks[i] < end and marks[i + 1] > start]
        columns = tuple(self.columns[i] for i in met)
        first, last = marks[met[0]], marks[met[0] + 1]
        if len(met) > 1 or start < first or end > last:
            return Join(start, end, columns, IN_SEAM)
        clear = start >= first + self.seam and end <= last - self.seam
        return Join(start, end, columns, CLEAR if clear else NEAR_SEAM)


@dataclass(frozen=True)
class Joining:
    """How ends are joined. ``reach``: how far the join's cloth lies beyond its overlap.

    ``loss``: length a join costs, the overlap of two ends. ``shortest``: piece worth joining.
    ``grid``: the ruler.
    """

    loss: Fraction
    reach: Fraction
    shortest: Fraction
    grid: Fraction


def place_joins(
    lengths: Sequence[Fraction], spare: Sequence[Fraction], how: Joining, segments: Segments,
    total: Fraction,
) -> tuple[list[tuple[int, Fraction]], list[Join]]:
    """Order of the pieces, their lengths, and the joins, least harmful first found.

    ``lengths``: of the pieces now, reaching at least ``total`` when joined. ``spare``: what each
    could be longer. Every order of up to four pieces is tried; within an order the joins are
    settled from the squared end on.
    """
    bench = _Bench(lengths, spare, how, segments, total)
    places = range(len(lengths))
    orders = permutations(places) if len(lengths) <= 4 else [tuple(places)]
    found = [(*bench.settle(order), order) for order in orders]
    _, ends, order = min(found, key=lambda one: one[0])
    cut, joins, start = [], [], Fraction(0)
    for at, end in zip(order, ends, strict=True):
        stop = Fraction(end, bench.unit)
        cut.append((at, stop - start))
        if len(cut) < len(order):
            joins.append(segments.judge(stop - how.loss - how.reach, stop + how.reach))
        start = stop - how.loss
    return cut, joins


Harm = tuple[int, int]
"""Kind of a join, then the width of its column, negative: the widest does least harm."""


class _Bench:
    """One strip's pieces and its set's segments in whole parts of an inch."""

    def __init__(
        self, lengths: Sequence[Fraction], spare: Sequence[Fraction], how: Joining,
        segments: Segments, total: Fraction,
    ) -> None:  # fmt: skip
        all_ = (*lengths, *spare, how.loss, how.reach, how.shortest, how.grid, segments.seam,
                *segments.marks, total)  # fmt: skip
        self.unit = math.lcm(*(one.denominator for one in all_))
        whole = [int(one * self.unit) for one in all_]
        n = len(lengths)
        self.most = [a + b for a, b in zip(whole[:n], whole[n : 2 * n], strict=True)]
        self.loss, self.reach, self.shortest, self.grid, self.seam = whole[2 * n : 2 * n + 5]
        *self.marks, self.total = whole[2 * n + 5 :]
        self.widths = [b - a for a, b in pairwise(self.marks)]

    def settle(self, order: Sequence[int]) -> tuple[list[Harm], list[int]]:
        """The joins' harm, worst first, and where the pieces end, in this order."""
        most = [self.most[at] for at in order]
        harms, ends, start = [], [], 0
        for at in range(len(most) - 1):
            later = most[at + 1 :]
            # the overlap ends where this piece ends; the others must still reach the total
            reach_after = sum(later) - self.loss * (len(later) - 1)
            least_end = max(start + self.shortest, self.total - reach_after + self.loss)
            still = (self.shortest - self.loss) * len(later)
            most_end = min(start + most[at], max(least_end, self.total - still))
            harm, end = self._best_end(least_end, most_end)
            harms.append(harm)
            ends.append(end)
            start = end - self.loss
        ends.append(max(self.total, start + min(self.shortest, most[-1])))
        return sorted(harms, reverse=True), ends

    def _best_end(self, low: int, high: int) -> tuple[Harm, int]:
        """Where the piece should end: both limits, and ruler marks between that may matter."""
        first = -(-low // self.grid) * self.grid
        ends = {low, max(low, high), *range(first, high + 1, self.grid)}
        harm, end = min((self._harm(end), -end) for end in ends)
        return harm, -end

    def _harm(self, end: int) -> Harm:
        """What a piece that ends here does, as :meth:`Segments.judge` tells it."""
        start, stop, marks = end - self.loss - self.reach, end + self.reach, self.marks
        if stop <= marks[0] or start >= marks[-1]:
            return OUTSIDE, 0
        first = max(0, bisect_right(marks, start) - 1)
        last = min(len(self.widths), bisect_left(marks, stop)) - 1
        wide = -max(self.widths[first : last + 1])
        if first != last or start < marks[first] or stop > marks[first + 1]:
            return IN_SEAM, wide
        clear = start >= marks[first] + self.seam and stop <= marks[first + 1] - self.seam
        return (CLEAR if clear else NEAR_SEAM), wide
