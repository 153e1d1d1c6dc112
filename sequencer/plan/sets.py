"""Which segment comes from which strip set, and in which order they are cut.

Pressed open, any set serves any column. To nest, even and odd columns come from sets pressed
opposite ways. Each group of sets starts with the print that leaves most columns unshifted, so
that the fewest seams are opened. Segments are cut wide ones first: a slip of the cutter then
costs a piece from which narrower ones can still be cut.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import round_up
from sequencer.models import Column
from sequencer.plan.request import Request


@dataclass(frozen=True)
class Segment:
    """A slice for ``column``, its ``part`` among those stacked, cut before the set is looped?"""

    column: int
    part: int
    width: Fraction
    shift: int


@dataclass(frozen=True)
class StripSet:
    """``order``: prints top to bottom. ``top``: index of its first print in the sequence.

    ``length``: what each strip is cut to; squaring and all segments come out of it.
    """

    name: str
    top: int
    press: str
    order: tuple[str, ...]
    length: Fraction
    segments: tuple[Segment, ...]


def plan_sets(request: Request, columns: Sequence[Column], longest: Fraction) -> list[StripSet]:
    """Strip sets no longer than ``longest`` (unless one segment alone needs more).

    First-fit decreasing (Johnson 1973, at most 11/9 of the fewest sets plus 4).
    """
    sets = []
    for letter, press, members in _groups(request, columns):
        top = _top(columns, members)
        bins = _pack(request, columns, members, top, longest)
        for number, segments in enumerate(bins, 1):
            name = letter if len(bins) == 1 else f"{letter}{number}"
            sets.append(_strip_set(request, name, press, top, segments))
    return sets


def _groups(
    request: Request, columns: Sequence[Column]
) -> list[tuple[str, str, list[int]]]:
    everything = list(range(len(columns)))
    if request.press == "open":
        return [("A", "open", everything)]
    groups = [("A", "up", everything[::2]), ("B", "down", everything[1::2])]
    return [group for group in groups if group[2]]


def _top(columns: Sequence[Column], members: Sequence[int]) -> int:
    counts = Counter(columns[member].offset for member in members)
    return min(counts, key=lambda offset: (-counts[offset], offset))


def _pack(
    request: Request,
    columns: Sequence[Column],
    members: Sequence[int],
    top: int,
    longest: Fraction,
) -> list[list[Segment]]:
    parts = 1 if request.tall else request.repeats
    n = len(request.ids)
    segments = [
        Segment(member, part, columns[member].cut_width, (columns[member].offset - top) % n)
        for member in sorted(members, key=lambda m: (-columns[m].cut_width, m))
        for part in range(parts)
    ]
    room = longest - request.squaring
    bins: list[list[Segment]] = []
    left: list[Fraction] = []
    for segment in segments:
        place = next((i for i, free in enumerate(left) if free >= segment.width), None)
        if place is None:
            bins.append([])
            left.append(max(room, segment.width))
            place = len(bins) - 1
        bins[place].append(segment)
        left[place] -= segment.width
    return bins


def _strip_set(
    request: Request, name: str, press: str, top: int, segments: Sequence[Segment]
) -> StripSet:
    once = request.ids[top:] + request.ids[:top]
    used = request.squaring + sum((s.width for s in segments), Fraction(0))
    if request.method == "loop":
        segments = sorted(segments, key=lambda s: (s.shift > 0, -s.width, s.column, s.part))
    return StripSet(
        name=name,
        top=top,
        press=press,
        order=once * (request.repeats if request.tall else 1),
        length=round_up(used, request.grid),
        segments=tuple(segments),
    )
