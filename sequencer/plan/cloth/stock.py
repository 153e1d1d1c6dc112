"""What the scraps hold: their sizes, and the strips each gives when cut one way or the other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import EIGHTH, round_down
from sequencer.models import Print

Size = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Way:
    """One way to cut a scrap: ``count`` strips, each ``length`` long, ``along`` a side of it.

    ``along`` is "length" or "width". What is left beside the strips is ``beside`` wide.
    """

    count: int
    length: Fraction
    along: str
    beside: Fraction

    @property
    def total(self) -> Fraction:
        """Length of all its strips, end to end."""
        return self.count * self.length


def scraps_of(item: Print, grid: Fraction = EIGHTH) -> tuple[Size, ...] | None:
    """The print's scraps as (length, width), as typed or else as measured, rounded down.

    Sizes are rounded down to ``grid``, since no ruler finds the last sliver, nor centimetres on
    an inch ruler; a ragged scrap is the rectangle it holds. None where no size is known.
    """
    if item.scraps:
        return tuple(
            (round_down(length, grid), round_down(width, grid)) for length, width in item.scraps
        )
    if item.cuttable_in is None:
        return None
    long, short = (round_down(Fraction(str(side)), grid) for side in item.cuttable_in)
    return ((long, short),)


def ways_to_cut(size: Size, cut_width: Fraction, directional: bool = False) -> tuple[Way, ...]:
    """Strips along the scrap's length, or along its width; the way that gives most comes first.

    A directional print is cut along its length only (as the scrap was given), so that its figures
    stand upright in every strip. A scrap too narrow for one strip gives an empty tuple.
    """
    sides: Sequence[tuple[str, Fraction, Fraction]] = (
        ("length", size[0], size[1]),
        ("width", size[1], size[0]),
    )[: 1 if directional else 2]
    ways = []
    for along, length, across in sides:
        count = math.floor(across / cut_width)
        if count and length > 0:
            ways.append(Way(count, length, along, across - count * cut_width))
    return tuple(sorted(ways, key=lambda way: (-way.total, -way.length, way.along)))
