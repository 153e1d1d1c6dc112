"""Where everything lies in the picture, in whole pixels.

A band is pushed up by whole rows, so every strip is a whole number of pixels high. At the scales
that :func:`whole_ppi` finds, that is exact; at others each strip is rounded by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer import doors
from sequencer.models import Plan


@dataclass(frozen=True)
class Geometry:
    """Pixels of the picture. ``centre``: x, y, width, height of what is pieced.

    ``lefts``: left edges of the columns within the centre, and the last one's right edge.
    ``strip``: height of each print's patches. ``offsets``: prints by which columns are pushed up.
    """

    ppi: float
    width: int
    height: int
    centre: tuple[int, int, int, int]
    lefts: tuple[int, ...]
    strip: Mapping[str, int]
    offsets: tuple[int, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain form."""
        return {
            "ppi": self.ppi,
            "width": self.width,
            "height": self.height,
            "centre": list(self.centre),
            "lefts": list(self.lefts),
            "strip": dict(self.strip),
            "offsets": list(self.offsets),
        }


def geometry(plan: Plan, ppi: float) -> Geometry:
    """The picture's layout at ``ppi`` pixels an inch.

    Raises:
        UsageError: a scale that is not a positive number.
    """
    check_ppi(ppi)
    strip = {key: max(1, round(float(plan.finished_strip[key]) * ppi)) for key in plan.prints}
    lefts = marks((column.finished_width for column in plan.columns), ppi)
    rim = round(float(frame_width(plan)) * ppi)
    width, height = max(1, lefts[-1]), sum(strip.values()) * plan.repeats
    return Geometry(
        float(ppi), width + 2 * rim, height + 2 * rim, (rim, rim, width, height),
        (*lefts[:-1], width), strip, tuple(column.offset for column in plan.columns),
    )  # fmt: skip


def frame_width(plan: Plan) -> Fraction:
    """Inches of borders and binding on each side."""
    return covered(plan) + sum((Fraction(one["width"]) for one in borders(plan)), Fraction(0))


def borders(plan: Plan) -> list[Mapping[str, Any]]:
    """The plan's borders from the inside out, as a list (empty without)."""
    if not plan.border:
        return []
    return list(plan.border.get("borders") or [plan.border])


def covered(plan: Plan) -> Fraction:
    """Inches of the front that the binding covers beyond the bordered size, 0 without."""
    if not plan.binding:
        return Fraction(0)
    return Fraction(plan.binding.get("covers", plan.seam))


def marks(lengths: Iterable[Fraction], ppi: float) -> list[int]:
    """Pixel edges of stretches laid end to end, each rounded from its exact place."""
    found, total = [0], Fraction(0)
    for length in lengths:
        total += length
        found.append(round(float(total) * ppi))
    return found


def whole_ppi(plan: Plan) -> Fraction:
    """Fewest pixels an inch at which every strip, column, border and binding is whole pixels.

    So are they at its multiples.
    """
    lengths = [
        *plan.finished_strip.values(),
        *(column.finished_width for column in plan.columns),
        *(Fraction(border["width"]) for border in borders(plan)),
        covered(plan),
    ]
    below = math.lcm(*(length.denominator for length in lengths))
    return Fraction(below, math.gcd(*(int(length * below) for length in lengths)))


def page_ppi(plan: Plan, ppi: float) -> float:
    """The scale nearest to ``ppi`` at which all is whole pixels, a few pixels an inch at least.

    Lengths that no sensible scale makes whole are rounded at ``ppi`` itself.
    """
    check_ppi(ppi)
    unit = whole_ppi(plan)
    found = float(max(1, round(ppi / unit)) * unit)
    return found if found <= 2 * max(ppi, 32) else float(ppi)


def check_ppi(ppi: float) -> None:
    """UsageError unless it is a positive number."""
    doors.above_zero("ppi", ppi, "pixels an inch")
