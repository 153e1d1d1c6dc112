"""How much cloth to buy: strips across the bolt, pre-cut strips, fat quarters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from sequencer.errors import PlanError
from sequencer.inches import round_up
from sequencer.plan.asked import METRIC, MM, Request

PRECUT = Fraction(5, 2)
"""Width of a pre-cut strip, as long as the fabric is wide (common practice, no source)."""
FAT_QUARTER = (Fraction(35, 2), Fraction(20))
"""Usable part of 18 x 22 in (common practice, no source)."""
FAT_QUARTER_METRIC = (480 * MM, 520 * MM)
"""Usable part of 50 x 55 cm (common practice, no source)."""


def strips_across(total: Fraction, usable: Fraction, loss: Fraction = Fraction(0)) -> int:
    """How many strips of ``usable`` length make ``total`` when each join costs ``loss``.

    Raises:
        PlanError: a join costs as much as a strip gives.
    """
    if usable <= loss:
        raise PlanError(f"Fabric {usable} in wide cannot be joined at a loss of {loss} in.")
    return max(1, math.ceil((total - loss) / (usable - loss)))


def bought(needed: Fraction, request: Request) -> Fraction:
    """Length of cloth to buy: up to 1/8 yd (4 1/2 in), in metric to 10 cm."""
    return round_up(needed, request.customs.bolt)


def lanes(lengths: Sequence[Fraction], lane: Fraction, loss: Fraction) -> int:
    """Lanes of cloth that hold the lengths, short ones sharing a lane, long ones joined.

    First-fit decreasing (Johnson 1973; at most 11/9 of the fewest plus 6/9, Dosa 2007).
    """
    unit = math.lcm(*(item.denominator for item in (lane, loss, *lengths)))
    whole, lost = int(lane * unit), int(loss * unit)
    count = 0
    free: list[int] = []
    for length in sorted((int(length * unit) for length in lengths), reverse=True):
        place = next((i for i, left in enumerate(free) if left >= length), None)
        if place is not None:
            free[place] -= length
            continue
        strips = 1 if length <= whole else strips_across(Fraction(length), lane * unit, loss * unit)
        count += strips
        free.append(strips * (whole - lost) + lost - length)
    return count


def cloth_for(request: Request, width: Fraction, lengths: Sequence[Fraction]) -> Fraction:
    """Length off the bolt for strips ``width`` wide (cut) of these lengths."""
    loss = width if request.join == "diagonal" else 2 * request.seam
    return bought(lanes(lengths, request.usable, loss) * width, request)


def precut_count(request: Request, width: Fraction, lengths: Sequence[Fraction]) -> int | None:
    """Pre-cut strips that hold strips ``width`` wide of these lengths; None if too narrow."""
    across = 1 if width == PRECUT else math.floor(PRECUT / width)
    return _pieces(request, width, lengths, across, request.usable)


def quarter_count(request: Request, width: Fraction, lengths: Sequence[Fraction]) -> int | None:
    """Fat quarters (in metric: 50 x 55 cm) that hold them, cut along the longer side."""
    high, wide = FAT_QUARTER_METRIC if request.customs is METRIC else FAT_QUARTER
    return _pieces(request, width, lengths, math.floor(high / width), wide)


def _pieces(
    request: Request, width: Fraction, lengths: Sequence[Fraction], across: int, along: Fraction
) -> int | None:
    loss = width if request.join == "diagonal" else 2 * request.seam
    if not across or along <= loss:
        return None
    return math.ceil(lanes(lengths, along, loss) / across)
