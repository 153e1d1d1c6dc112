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

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from sequencer.plan.cloth.bound import Bound, Order, lower_bound
from sequencer.plan.cloth.lanes import Way

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


class _Lane:
    """A lane and what is left of it."""

    __slots__ = ("left", "number", "scrap")

    def __init__(self, scrap: int, number: int, length: int) -> None:
        self.scrap, self.number, self.left = scrap, number, length

    def take(self, length: int) -> Piece:
        self.left -= length
        return Piece(self.scrap, self.number, length)


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
        lanes = [
            _Lane(scrap, number, length)
            for scrap, way in enumerate(ways) if way
            for number, length in enumerate(way.lanes)
        ]  # fmt: skip
        lengths = self.order.lengths
        made: Made = self._fill_lanes(lanes) if fullest else {}
        for i in turn:
            if i not in made:
                whole = _best_fit(lanes, lengths[i])
                if whole:
                    made[i] = whole
                elif as_they_come:
                    made[i] = self._joined(lanes, lengths[i])
        for i in turn:
            if i not in made:
                made[i] = self._joined(lanes, lengths[i])
        return Cutting(ways, tuple(made[i] for i in range(len(lengths))), self.bound)

    def _fill_lanes(self, lanes: Sequence[_Lane]) -> Made:
        """Each lane, the longest first, as full of whole strips as can be (minimum bin slack:
        Gupta and Ho, Production Planning & Control 10 (1999) 598).
        """
        waiting: dict[int, list[int]] = {}
        for i in self.down:
            waiting.setdefault(self.order.lengths[i], []).append(i)
        made: Made = {}
        for lane in sorted(lanes, key=lambda one: (-one.left, one.scrap, one.number)):
            kinds = [kind for kind, left in waiting.items() if left]
            if not kinds:
                break
            counts = [len(waiting[kind]) for kind in kinds]
            for kind, count in zip(kinds, _most_full(lane.left, kinds, counts), strict=True):
                for _ in range(count):
                    made[waiting[kind].pop(0)] = (lane.take(kind),)
        return made

    def _joined(self, lanes: Sequence[_Lane], length: int) -> tuple[Piece, ...]:
        """Pieces of the longest remnants, the last the shortest that still reaches."""
        order = self.order
        usable = sorted(
            (lane for lane in lanes if lane.left >= order.shortest),
            key=lambda lane: (-lane.left, lane.scrap, lane.number),
        ) if self.joins else []  # fmt: skip
        need = length
        for count, lane in enumerate(usable[: order.most_pieces]):
            enough = [one for one in usable[count:] if one.left >= need]
            if count and enough:
                return self._share(usable[:count], enough[-1], need)
            need += order.loss - lane.left
        return (Piece(ABSENT, 0, length),)

    def _share(self, first: Sequence[_Lane], last: _Lane, need: int) -> tuple[Piece, ...]:
        """All of the first lanes and ``need`` of the last, never less than can be joined."""
        shortest = self.order.shortest
        end = max(need, shortest)
        back = min(end - need, max(0, first[-1].left - shortest))
        pieces = [lane.take(lane.left - (back if lane is first[-1] else 0)) for lane in first]
        return (*pieces, last.take(end))


def _best_fit(lanes: Sequence[_Lane], length: int) -> tuple[Piece, ...]:
    """The strip cut whole from the lane it leaves least of, if there is one."""
    fits = [lane for lane in lanes if lane.left >= length]
    if not fits:
        return ()
    return (min(fits, key=lambda lane: (lane.left, lane.scrap, lane.number)).take(length),)


def lanes_left(cutting: Cutting) -> Counter[tuple[int, int]]:
    """What remains of every lane, by (scrap, lane)."""
    left: Counter[tuple[int, int]] = Counter()
    for scrap, way in enumerate(cutting.ways):
        for number, length in enumerate(way.lanes if way else ()):
            left[scrap, number] = length
    for piece in (p for strip in cutting.strips for p in strip if p.scrap != ABSENT):
        left[piece.scrap, piece.lane] -= piece.length
    return left

