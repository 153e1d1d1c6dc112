"""Where the joins of a strip come to lie in the panel, and moving them to where they do no harm.

A strip set is squared at one end and then cut into segments, so a place along the strip belongs
to the squaring, to one column, or to what is left over. A join between two columns is cut apart
by the knife and sewn into a seam; in a narrow column it makes three layers more where there is
least room. Joins are therefore moved, within what the scraps' strips allow, out of the panel,
else into the widest column that holds them clear of its seams.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, permutations

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

    def badness(self, join: Join) -> tuple[int, Fraction]:
        """Sorts joins: least harm first, then the widest column."""
        width = max((self.width(column) for column in join.columns), default=Fraction(0))
        return join.kind, -width

    def width(self, column: int) -> Fraction:
        """Cut width of the column's segment in this set."""
        at = self.columns.index(column)
        return self.marks[at + 1] - self.marks[at]


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
    places = range(len(lengths))
    orders = permutations(places) if len(lengths) <= 4 else [tuple(places)]
    best: tuple[list[tuple[int, Fraction]], list[Join]] | None = None
    merit: list[tuple[int, Fraction]] = []
    for order in orders:
        most = [lengths[i] + spare[i] for i in order]
        cut, joins = _settle(most, how, segments, total)
        found = sorted((segments.badness(join) for join in joins), reverse=True)
        if best is None or found < merit:
            best, merit = (list(zip(order, cut, strict=True)), joins), found
    assert best is not None
    return best


def _settle(
    most: Sequence[Fraction], how: Joining, segments: Segments, total: Fraction
) -> tuple[list[Fraction], list[Join]]:
    """Lengths of the pieces in this order, each join where it does least harm."""
    cut, joins, start = [], [], Fraction(0)
    for at in range(len(most) - 1):
        later = most[at + 1 :]
        # the overlap ends where this piece ends; the others must still reach the total
        reach_after = sum(later, Fraction(0)) - how.loss * (len(later) - 1)
        least_end = max(start + how.shortest, total - reach_after + how.loss)
        still = (how.shortest - how.loss) * len(later)
        most_end = min(start + most[at], max(least_end, total - still))
        end, join = _best_end(least_end, most_end, how, segments)
        cut.append(end - start)
        joins.append(join)
        start = end - how.loss
    cut.append(max(total - start, min(how.shortest, most[-1])))
    return cut, joins


def _best_end(
    low: Fraction, high: Fraction, how: Joining, segments: Segments
) -> tuple[Fraction, Join]:
    """Where the piece should end: both limits, and ruler marks between them that may matter."""
    marks = {low, max(low, high)}
    first, last = math.ceil(low / how.grid), math.floor(high / how.grid)
    marks.update(step * how.grid for step in range(first, last + 1))
    found = [
        (segments.badness(join), end, join)
        for end in marks
        for join in [segments.judge(end - how.loss - how.reach, end + how.reach)]
    ]
    _, end, join = min(found, key=lambda item: (item[0], -item[1]))
    return end, join
