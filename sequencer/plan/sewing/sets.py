"""Which segment comes from which strip set, and in which order they are cut.

Pressed open, any set serves any column. To nest, even and odd columns come from sets pressed
opposite ways. Each group of sets starts with the print that leaves most columns unshifted, so
that the fewest seams are opened. Segments are cut wide ones first: a slip of the cutter then
costs a piece from which narrower ones can still be cut.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import round_up
from sequencer.models import Column
from sequencer.plan.asked import Request


@dataclass(frozen=True)
class Segment:
    """A slice for ``column``, its ``part`` among those stacked, cut before the set is looped?"""

    column: int
    part: int
    width: Fraction
    shift: int


@dataclass(frozen=True)
class StripSet:
    """``name``: its number, since letters stand for prints. ``order``: prints top to bottom.

    ``top``: index of its first print in the sequence.

    ``length``: what each strip is cut to; squaring, all segments and what is to spare come out of
    it. ``done``: how many segments are cut; ``lost``: length that went wrong after them.
    """

    name: str
    top: int
    press: str
    order: tuple[str, ...]
    length: Fraction
    segments: tuple[Segment, ...]
    done: int = 0
    lost: Fraction = Fraction(0)

    def spare(self, squaring: Fraction) -> Fraction:
        """What squaring and the segments leave."""
        used = sum((segment.width for segment in self.segments), Fraction(0))
        return self.length - squaring - self.lost - used


def plan_sets(request: Request, columns: Sequence[Column], longest: Fraction) -> list[StripSet]:
    """Strip sets no longer than ``longest`` (unless one segment alone needs more).

    First-fit decreasing (Johnson 1973; at most 11/9 of the fewest sets plus 6/9, Dosa 2007). Where
    a group needs several sets each starts with another print if more columns then need no shift.
    """
    sets: list[StripSet] = []
    for press, members in _groups(request, columns):
        for top, segments in _pack(request, columns, members, longest):
            sets.append(_strip_set(request, str(len(sets) + 1), press, top, segments))
    return sets


def _groups(request: Request, columns: Sequence[Column]) -> list[tuple[str, list[int]]]:
    """Pressing and columns of each group."""
    everything = list(range(len(columns)))
    if request.press == "open":
        return [("open", everything)]
    groups = [("up", everything[::2]), ("down", everything[1::2])]
    return [group for group in groups if group[1]]


def _pack(
    request: Request, columns: Sequence[Column], members: Sequence[int], longest: Fraction
) -> list[tuple[int, list[Segment]]]:
    """(top, segments) of each set."""
    counts = Counter(columns[member].offset for member in members)
    tops = sorted(counts, key=lambda offset: (-counts[offset], offset))
    members = sorted(members, key=lambda m: (-columns[m].cut_width, m))
    packer = _Packer(request, columns, members, longest)
    plain = packer.first_fit(tops[0])
    if len(plain) == 1 or len(tops) == 1:
        return plain
    return packer.many_tops(tops[: len(plain)]) or plain


class _Packer:
    """Segments into sets no longer than ``longest``; sizes in whole parts of an inch, for speed."""

    def __init__(
        self, request: Request, columns: Sequence[Column], members: Sequence[int], longest: Fraction
    ) -> None:
        self.request, self.columns, self.members = request, columns, members
        room = longest - request.squaring - request.spare
        widths = {member: columns[member].cut_width for member in members}
        unit = math.lcm(room.denominator, *(width.denominator for width in widths.values()))
        self.room = int(room * unit)
        self.sizes = {member: int(width * unit) for member, width in widths.items()}
        self.parts = 1 if request.tall else request.repeats

    def segments(self, member: int, top: int) -> list[Segment]:
        column = self.columns[member]
        shift = (column.offset - top) % len(self.request.ids)
        return [Segment(member, part, column.cut_width, shift) for part in range(self.parts)]

    def first_fit(self, top: int) -> list[tuple[int, list[Segment]]]:
        bins: list[tuple[int, list[Segment]]] = []
        left: list[int] = []
        for member in self.members:
            size = self.sizes[member]
            for segment in self.segments(member, top):
                place = next((i for i, free in enumerate(left) if free >= size), None)
                if place is None:
                    bins.append((top, []))
                    left.append(max(self.room, size))
                    place = len(bins) - 1
                bins[place][1].append(segment)
                left[place] -= size
        return bins

    def many_tops(self, tops: Sequence[int]) -> list[tuple[int, list[Segment]]] | None:
        """Each set with a top of its own, columns that need no shift first; None if they don't
        fit.
        """
        bins: list[tuple[int, list[Segment]]] = [(top, []) for top in tops]
        left = [self.room] * len(tops)
        for matched in (True, False):
            for member in self.members:
                offset = self.columns[member].offset
                if (offset in tops) != matched:
                    continue
                size = self.sizes[member] * self.parts
                fits = [i for i, free in enumerate(left) if free >= size]
                if not fits:
                    return None
                place = min(fits, key=lambda i: (tops[i] != offset, i))
                bins[place][1].extend(self.segments(member, tops[place]))
                left[place] -= size
        return [item for item in bins if item[1]]


def _strip_set(
    request: Request, name: str, press: str, top: int, segments: Sequence[Segment]
) -> StripSet:
    once = request.ids[top:] + request.ids[:top]
    used = request.squaring + request.spare + sum((s.width for s in segments), Fraction(0))
    loop = request.method == "loop"  # unshifted columns are cut before the set becomes a tube
    segments = sorted(segments, key=lambda s: (loop and s.shift > 0, -s.width, s.column, s.part))
    return StripSet(
        name=name,
        top=top,
        press=press,
        order=once * (request.repeats if request.tall else 1),
        length=round_up(used, request.grid),
        segments=tuple(segments),
    )
