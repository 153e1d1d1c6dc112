"""Limits of what makes sense, rulers, and the lengths that custom sets."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import MM_PER_INCH

MM = 1 / MM_PER_INCH
MOST_ROWS = 1000
MOST_COLUMNS = 1000
MOST_PATCHES = 100_000
LARGEST_SIDE = Fraction(240)
INCH_GRIDS = (Fraction(1, 8), Fraction(1, 16), Fraction(1, 32))
MM_GRIDS = (MM, MM / 2)


@dataclass(frozen=True)
class Customs:
    """Lengths that custom sets, by unit (common practice, no source; every one can be changed).

    ``seam``: allowance. ``usable``: fabric width a strip can be cut from. ``squaring``: taken off
    each strip set's end. ``bolt``: step that fabric is bought in. ``straighten``: taken off each
    side of a scrap. ``spare``: of each strip set, to square it again.
    """

    seam: Fraction
    strip: Fraction
    border: Fraction
    double_binding: Fraction
    single_binding: Fraction
    usable: Fraction
    squaring: Fraction
    bolt: Fraction
    per_side_large: Fraction
    per_side_mini: Fraction
    overlap: Fraction
    sleeve: Fraction
    tolerance: Fraction
    straighten: Fraction
    spare: Fraction


INCHES = Customs(
    seam=Fraction(1, 4), strip=Fraction(1, 4), border=Fraction(1),
    double_binding=Fraction(9, 4), single_binding=Fraction(5, 4), usable=Fraction(40),
    squaring=Fraction(1, 2), bolt=Fraction(9, 2), per_side_large=Fraction(4),
    per_side_mini=Fraction(2), overlap=Fraction(12), sleeve=Fraction(8),
    tolerance=Fraction(1, 32), straighten=Fraction(1, 8), spare=Fraction(1, 4),
)  # fmt: skip
METRIC = Customs(
    seam=7 * MM, strip=7 * MM, border=25 * MM, double_binding=60 * MM, single_binding=32 * MM,
    usable=1060 * MM, squaring=12 * MM, bolt=100 * MM, per_side_large=100 * MM,
    per_side_mini=50 * MM, overlap=310 * MM, sleeve=200 * MM,
    tolerance=MM * 4 / 5, straighten=3 * MM, spare=6 * MM,
)  # fmt: skip
