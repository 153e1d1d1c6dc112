"""What the scraps are: their sizes, and how much of each can surely be cut."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from sequencer.inches import EIGHTH, round_down
from sequencer.models import Print
from sequencer.plan.asked import Request

Size = tuple[Fraction, Fraction]
DOUBT = Fraction(3, 100)
"""A side measured in a photograph may be this much shorter (our measurement; typed sides are
taken at their word)."""


@dataclass(frozen=True)
class Scrap:
    """One scrap: ``size``, and what straightening leaves of it, (long, short) in inches.

    ``sure``: usable even if the photo measured it too large; ``full``: usable as measured.
    ``upright``: the side that the print's figures stand along, where it has an up and a down.
    """

    number: int
    size: Size
    sure: Size
    full: Size
    upright: str | None


def scraps_of(item: Print, request: Request) -> tuple[Scrap, ...] | None:
    """The print's scraps, numbered as in its list; None where no size is known.

    What is usable is rounded down to the ruler (a photograph measures no finer than 1/8 in, or the
    metric ruler); a ragged scrap is the rectangle it holds.
    """
    if not item.scraps and item.cuttable_in is None:
        return None
    sizes = item.scraps or (item.cuttable_in,)
    measured = request.grid if request.units == "cm" else max(request.grid, EIGHTH)
    grid, doubt = (request.grid, Fraction(0)) if item.scraps else (measured, DOUBT)
    directional = item.id in request.directional
    return tuple(
        _scrap(number, size, grid, doubt, 2 * request.straighten, directional)
        for number, size in enumerate(sizes)
        if size is not None
    )


@lru_cache(maxsize=4096)
def _scrap(
    number: int,
    given: tuple[Fraction | float, Fraction | float],
    grid: Fraction,
    doubt: Fraction,
    straight: Fraction,
    directional: bool,
) -> Scrap:
    first, second = (max(Fraction(0), Fraction(str(side))) for side in given)
    if doubt:
        first, second = round_down(first, grid), round_down(second, grid)
    size = max(first, second), min(first, second)

    def usable(share: Fraction) -> Size:
        one, other = (max(Fraction(0), round_down(side * share - straight, grid)) for side in size)
        return one, other

    upright = ("short" if first < second else "long") if directional else None
    return Scrap(number, size, usable(1 - doubt), usable(Fraction(1)), upright)


def cloth_area(one: Print) -> Fraction | None:
    """Square inches of the print's scraps; None without sizes."""
    sizes = one.scraps or ((one.cuttable_in,) if one.cuttable_in else ())
    if not sizes:
        return None
    exact = [[Fraction(str(side)) for side in size] for size in sizes]
    return sum((long * short for long, short in exact), Fraction(0))
