"""The lanes of a print's scraps filled with its strips, in a few ways; the best filling counts."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterator, Sequence

from sequencer.plan.cloth.laying.bound import Order, lower_bound
from sequencer.plan.cloth.laying.cuttings import ABSENT, Cutting, Mix, Piece

MOST_PATTERNS = 200
"""Fillings of one lane that are looked at."""
MOST_KINDS = 4
"""Lengths of which one strip is left to the last, in turn."""
Lane = tuple[int, int, int]
"""Length left, scrap, number of the lane."""


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


class Bench:
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
