"""Where in its scrap each piece is cut: lanes side by side, pieces one after the other.

In a block the lanes that are used farthest come first, so that every cut can be made edge to
edge and what is left over stays in few large pieces.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from sequencer.models import ScrapCut, ScrapUse
from sequencer.plan.cloth.laying.lanes import Block, Way
from sequencer.plan.cloth.scraps import Scrap, Size

Rectangle = tuple[Fraction, Fraction, Fraction, Fraction]
"""x, y, extent along x, extent along y."""


@dataclass(frozen=True)
class Named:
    """A piece to be cut from a lane, and the name it gets."""

    length: Fraction
    makes: str


class Layout:
    """The cuts in one scrap, in order, and what they leave.

    ``unit``: parts of an inch that the way counts in. ``lanes``: pieces by lane of the way.
    """

    def __init__(
        self,
        way: Way | None,
        usable: Size,
        width: Fraction,
        unit: int,
        lanes: Mapping[int, Sequence[Named]],
    ) -> None:
        self.usable, self.width, self.unit = usable, width, unit
        self.cuts: list[ScrapCut] = []
        self.left: list[Rectangle] = []
        free: Rectangle = (Fraction(0), Fraction(0), *usable)
        first = 0
        for block in way.blocks if way else ():
            mine = {n: lanes[n] for n in range(first, first + block.count) if lanes.get(n)}
            first += block.count
            if mine:
                free = self._cut_block(block, list(mine.values()), free)
        self._keep(free)

    def _cut_block(
        self, block: Block, lanes: list[Sequence[Named]], free: Rectangle
    ) -> Rectangle:
        """Cut the lanes off the free rectangle's near edge; what is still free after them."""
        x, y, wide, high = free
        ordered = sorted(lanes, key=lambda lane: [-piece.length for piece in by_length(lane)])
        ordered.sort(key=lambda lane: -_used(lane))
        length = wide if block.along == "long" else high
        at = Fraction(0)
        for used, run in groupby(ordered, key=_used):
            group = list(run)
            for lane in group:
                along = Fraction(0)
                for piece in by_length(lane):
                    corner = (x + along, y + at) if block.along == "long" else (x + at, y + along)
                    self.cuts.append(
                        ScrapCut(corner, block.along, self.width, piece.length, piece.makes)
                    )
                    along += piece.length
                at += self.width
            breadth, rest = len(group) * self.width, length - used
            start = at - breadth
            self._keep((x + used, y + start, rest, breadth) if block.along == "long"
                       else (x + start, y + used, breadth, rest))  # fmt: skip
        if block.along == "long":
            return x, y + at, wide, high - at
        return x + at, y, wide - at, high

    def _keep(self, rest: Rectangle) -> None:
        if rest[2] > 0 and rest[3] > 0:
            self.left.append(rest)

    def use(self, scrap: Scrap, straighten: Fraction) -> ScrapUse:
        """The record for the plan; ``at_least`` is what the cuts and straightening need."""
        far, least = needed_of(self.cuts, straighten)
        return ScrapUse(
            scrap=scrap.number,
            size=scrap.size,
            usable=self.usable,
            at_least=least,
            cuts=tuple(self.cuts),
            left=tuple(self.left),
            sure=far[0] <= scrap.sure[0] and far[1] <= scrap.sure[1],
        )


def needed_of(cuts: Sequence[ScrapCut], straighten: Fraction) -> tuple[Size, Size]:
    """How far the cuts reach, and the smallest scrap that they fit."""
    reach = [_reach(cut) for cut in cuts]
    far = [max((one[i] for one in reach), default=Fraction(0)) for i in (0, 1)]
    least = [side + 2 * straighten if side else side for side in far]
    return (far[0], far[1]), (least[0], least[1])


def by_length(lane: Sequence[Named]) -> list[Named]:
    """The lane's pieces, longest first."""
    return sorted(lane, key=lambda piece: -piece.length)


def places(cuts: Sequence[ScrapCut]) -> Iterator[tuple[str, ScrapCut]]:
    """Each cut by the name it makes."""
    return ((cut.makes, cut) for cut in cuts)


def _used(lane: Sequence[Named]) -> Fraction:
    return sum((piece.length for piece in lane), Fraction(0))


def _reach(cut: ScrapCut) -> tuple[Fraction, Fraction]:
    x, y = cut.at
    across, along = cut.width, cut.length
    return (x + along, y + across) if cut.along == "long" else (x + across, y + along)
