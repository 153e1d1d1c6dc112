"""Strips cut from one print's scraps and joined end to end, in two efforts.

A cutting-stock problem (Gilmore and Gomory, Operations Research 9 (1961) 849) in which a strip
may also be put together from several pieces, each join costing a known length, and in which each
scrap may be cut in several ways. Least shortage counts first, then fewest joins, then what is
left: few scraps and lanes touched, so that the left-over stays in one piece.

The quick effort fills the lanes best-fit decreasing, for the ways that the bound favours. The
thorough one goes on to change one scrap's way at a time, up to MOST_FILLED fillings. Both are
counted in work, not seconds, and work in whole numbers, so that every machine finds the same.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from sequencer.plan.cloth.laying.bound import Bound, Order, lower_bound
from sequencer.plan.cloth.laying.lanes import Way

MOST_FILLED, MOST_LOOKS = 60, 20_000
"""Mixes of ways that the thorough effort may try, and lanes times strips looked at in all."""
MOST_PATTERNS = 200
"""Fillings of one lane that are looked at."""
MOST_KINDS = 4
"""Lengths of which one strip is left to the last, in turn."""
ABSENT = -1
"""Number of the scrap that a strip comes from when no scrap holds it."""
Merit = tuple[int, int, int, int]
"""Length lacking, joins, scraps touched, lanes touched."""
Mix = tuple[Way | None, ...]
"""A way for each scrap."""
Lane = tuple[int, int, int]
"""Length left, scrap, number of the lane."""


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


@lru_cache(maxsize=8192)
def cut_quickly(order: Order) -> Cutting:
    """A good cutting at once."""
    return _Bench(order).best(_first_mixes(order), until=True)


@lru_cache(maxsize=2048)
def cut_thoroughly(order: Order) -> Cutting:
    """The best of up to MOST_FILLED fillings; never worse than the quick one."""
    best = cut_quickly(order)
    if not order.scraps or not order.lengths:
        return best
    bench, filled = _Bench(order), 0
    lanes = sum(max((len(way.lanes) for way in ways), default=0) for ways in order.scraps)
    most = min(MOST_FILLED, MOST_LOOKS // max(1, lanes * len(order.lengths)))
    better = not best.proved
    while better and filled < most:
        better = False
        for scrap, ways in enumerate(order.scraps):
            for way in ways:
                if way == best.ways[scrap] or filled >= most:
                    continue
                filled += 1
                mix = (*best.ways[:scrap], way, *best.ways[scrap + 1 :])
                found = bench.best([mix])
                if found.merit < best.merit:
                    best, better = found, True
    return best


def _first_mixes(order: Order) -> list[Mix]:
    """Each scrap the way that the bound favours; most whole strips; longest lanes; most length."""
    least = min(order.lengths, default=1)
    most = max(order.lengths, default=1)
    scores = (
        lambda way: (sum(way.lanes) + order.loss * _whole(way, least), max(way.lanes)),
        lambda way: (_whole(way, most), _whole(way, least), sum(way.lanes)),
        lambda way: (max(way.lanes), sum(way.lanes)),
        lambda way: (sum(way.lanes), max(way.lanes)),
    )
    mixes = [tuple(max(ways, key=score) if ways else None for ways in order.scraps)
             for score in scores]  # fmt: skip
    if len(order.scraps) == 1 and len(order.scraps[0]) <= 4:
        mixes += list(product(*order.scraps))
    return list(dict.fromkeys(mixes))


def _whole(way: Way, length: int) -> int:
    return sum(lane // length for lane in way.lanes)


def _most_full(room: int, kinds: Sequence[int], counts: Sequence[int]) -> tuple[int, ...]:
    """How many of each kind fill the room best; of equals, the one with the longest strips."""
    best: tuple[int, tuple[int, ...]] = (room + 1, ())
    work = MOST_PATTERNS

    def search(at: int, left: int, taken: tuple[int, ...]) -> None:
        nonlocal best, work
        work -= 1
        if at == len(kinds) or left < kinds[-1]:
            if left < best[0]:
                best = left, (*taken, *(0 for _ in kinds[at:]))
            return
        for count in range(min(counts[at], left // kinds[at]), -1, -1):
            if not best[0] or work < 0:
                return
            search(at + 1, left - count * kinds[at], (*taken, count))

    search(0, room, ())
    return best[1]


class _Lanes:
    """What is left of every lane, the fullest last; ``failed``: a length no longer to be had."""

    def __init__(self, ways: Mix) -> None:
        self.left = sorted(
            (length, scrap, number)
            for scrap, way in enumerate(ways) if way
            for number, length in enumerate(way.lanes)
        )  # fmt: skip
        self.failed: int | None = None

    def take(self, at: int, length: int) -> Piece:
        """``length`` of the lane at this place."""
        left, scrap, number = self.left.pop(at)
        insort(self.left, (left - length, scrap, number))
        return Piece(scrap, number, length)

    def best_fit(self, length: int) -> tuple[Piece, ...]:
        """The strip cut whole from the lane it leaves least of, if there is one."""
        at = bisect_left(self.left, (length,))
        return (self.take(at, length),) if at < len(self.left) else ()

    def joined(self, length: int, order: Order) -> tuple[Piece, ...]:
        """Pieces of the longest remnants, the last the shortest that still reaches; () if none."""
        if self.failed is not None and length >= self.failed:
            return ()
        usable = self.left[bisect_left(self.left, (order.shortest,)) :]
        first: list[Lane] = []
        need = length
        while usable and len(first) < order.most_pieces:
            at = bisect_left(usable, (need,))
            if first and at < len(usable):
                return self._share(first, usable[at], need, order.shortest)
            *usable, lane = usable
            first.append(lane)
            need += order.loss - lane[0]
        self.failed = length
        return ()

    def _share(
        self, first: Sequence[Lane], last: Lane, need: int, shortest: int
    ) -> tuple[Piece, ...]:
        """All of the first lanes and ``need`` of the last, never less than can be joined."""
        end = max(need, shortest)
        back = min(end - need, max(0, first[-1][0] - shortest))
        takes = [(lane, lane[0] - (back if lane is first[-1] else 0)) for lane in first]
        return tuple(self.take(bisect_left(self.left, lane), length)
                     for lane, length in (*takes, (last, end)))  # fmt: skip


Made = dict[int, tuple[Piece, ...]]


class _Bench:
    """Fills lanes with the strips of one order."""

    def __init__(self, order: Order) -> None:
        self.order, self.bound = order, lower_bound(order)
        lengths = order.lengths
        self.down = sorted(range(len(lengths)), key=lambda i: (-lengths[i], i))
        self.joins = order.most_pieces > 1

    def best(self, mixes: Sequence[Mix], until: bool = False) -> Cutting:
        """The best filling of these mixes; ``until``: stop where the bound is reached."""
        found: Cutting | None = None
        for mix in mixes:
            for one in self._fillings(mix, quick=until):
                if found is None or one.merit < found.merit:
                    found = one
                if one.proved:
                    break
            if until and found is not None and found.proved:
                break
        assert found is not None
        return found

    def _fillings(self, mix: Mix, quick: bool) -> Iterator[Cutting]:
        """Whole strips first; lane by lane; each as it comes, in one turn or in several."""
        yield self._fill(mix, self.down)
        yield self._fill(mix, self.down, fullest=True)
        for turn in self._turns()[: 1 if quick else None]:
            yield self._fill(mix, turn)
            if self.joins:
                yield self._fill(mix, turn, as_they_come=True)

    def _turns(self) -> list[list[int]]:
        """Longest first, shortest first, and with one of each length left to the last."""
        lengths = self.order.lengths
        kinds = sorted(set(lengths))
        turns = [self.down]
        if len(kinds) > 1:
            turns.append(self.down[::-1])
            for kind in kinds[:MOST_KINDS]:
                last = next(i for i in self.down if lengths[i] == kind)
                turns.append([*(i for i in self.down if i != last), last])
        return turns

    def _fill(
        self, ways: Mix, turn: Sequence[int], fullest: bool = False, as_they_come: bool = False
    ) -> Cutting:
        """Whole strips, then joined ones, then ABSENT."""
        lanes, lengths = _Lanes(ways), self.order.lengths
        made: Made = self._fill_lanes(lanes) if fullest else {}
        for i in turn:
            if i not in made:
                whole = lanes.best_fit(lengths[i])
                if whole or as_they_come:
                    made[i] = whole or self._joined(lanes, lengths[i])
        for i in turn:
            if i not in made:
                made[i] = self._joined(lanes, lengths[i])
        return Cutting(ways, tuple(made[i] for i in range(len(lengths))), self.bound)

    def _joined(self, lanes: _Lanes, length: int) -> tuple[Piece, ...]:
        made = lanes.joined(length, self.order) if self.joins else ()
        return made or (Piece(ABSENT, 0, length),)

    def _fill_lanes(self, lanes: _Lanes) -> Made:
        """Each lane, the longest first, as full of whole strips as can be (minimum bin slack:
        Gupta and Ho, Production Planning & Control 10 (1999) 598).
        """
        waiting: dict[int, list[int]] = {}
        for i in self.down:
            waiting.setdefault(self.order.lengths[i], []).append(i)
        made: Made = {}
        for lane in sorted(lanes.left, key=lambda one: (-one[0], one[1], one[2])):
            kinds = [kind for kind, left in waiting.items() if left]
            if not kinds:
                break
            counts = [len(waiting[kind]) for kind in kinds]
            for kind, count in zip(kinds, _most_full(lane[0], kinds, counts), strict=True):
                for _ in range(count):
                    at = bisect_left(lanes.left, lane)
                    made[waiting[kind].pop(0)] = (lanes.take(at, kind),)
                    lane = (lane[0] - kind, *lane[1:])
        return made


def lanes_left(cutting: Cutting) -> Counter[tuple[int, int]]:
    """What remains of every lane, by (scrap, lane)."""
    left: Counter[tuple[int, int]] = Counter()
    for scrap, way in enumerate(cutting.ways):
        for number, length in enumerate(way.lanes if way else ()):
            left[scrap, number] = length
    for piece in (p for strip in cutting.strips for p in strip if p.scrap != ABSENT):
        left[piece.scrap, piece.lane] -= piece.length
    return left

