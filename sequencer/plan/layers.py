"""How many layers of cloth lie where, for the chosen pressing.

A patch is one layer. A seam pressed open adds one layer within an allowance on either side of
it; pressed to one side it adds two on that side. The needle that sews two columns together goes
through the layers of both. At a strip as wide as the allowance, pressed open, every patch has
three layers everywhere and a column seam six.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from sequencer.models import Column
from sequencer.plan.request import Request


def count_layers(request: Request, columns: Sequence[Column]) -> dict[str, int]:
    """Layers a column seam goes through: most, and typical (the median along all column seams).

    ``panel_max``: most layers anywhere in the sewn top, column allowances pressed open.
    """
    scale = math.lcm(*(w.denominator for w in (request.seam, *request.strips.values())))
    strips = [int(request.strips[key] * scale) for key in request.ids]
    seam = int(request.seam * scale)
    profiles: dict[tuple[int, str], _Profile] = {}
    along: Counter[int] = Counter()
    pairs = Counter(
        ((left.offset, _press(request, i)), (right.offset, _press(request, i + 1)))
        for i, (left, right) in enumerate(pairwise(columns))
    )
    for (left, right), times in pairs.items():
        for layers, length in _profile(profiles, strips, seam, *left).plus(
            _profile(profiles, strips, seam, *right)
        ).items():
            along[layers] += length * times
    single = max(_profile(profiles, strips, seam, columns[0].offset, _press(request, 0)).levels)
    most = max(along, default=0)
    narrow = min((column.finished_width for column in columns), default=Fraction(0))
    across = 1 if len(columns) == 1 else 3 if narrow < 2 * request.seam else 2
    return {
        "column_seam_max": most,
        "column_seam_typical": _median(along),
        "panel_max": single * across,
    }


def _press(request: Request, column: int) -> str:
    if request.press == "open":
        return "open"
    return "down" if column % 2 else "up"


def _median(along: Counter[int]) -> int:
    half, passed = sum(along.values()) / 2, 0
    for layers in sorted(along):
        passed += along[layers]
        if passed >= half:
            return layers
    return 0


class _Profile:
    """Layers down one repeat of a column: ``levels[i]`` from ``places[i]`` to the next place."""

    def __init__(self, places: list[int], levels: list[int], end: int) -> None:
        self.places, self.levels, self.end = places, levels, end

    def plus(self, other: _Profile) -> Counter[int]:
        """Length (of one repeat) at each sum of layers, the two lying face to face."""
        cuts = sorted({*self.places, *other.places})
        lengths: Counter[int] = Counter()
        for here, there in zip(cuts, [*cuts[1:], self.end], strict=True):
            lengths[self.at(here) + other.at(here)] += there - here
        return lengths

    def at(self, place: int) -> int:
        return self.levels[bisect_right(self.places, place) - 1]


def _profile(
    known: dict[tuple[int, str], _Profile], strips: list[int], seam: int, offset: int, press: str
) -> _Profile:
    if (offset, press) not in known:
        known[offset, press] = _measure(strips[offset:] + strips[:offset], seam, press)
    return known[offset, press]


def _measure(strips: list[int], seam: int, press: str) -> _Profile:
    """Patch by patch; the strips repeat, so the first has a seam above it too."""
    below, above = {"open": (1, 1), "up": (0, 2), "down": (2, 0)}[press]
    top, marks = 0, {0: 0}
    spans: list[tuple[int, int, int]] = []
    for width in strips:
        spans.append((top, top + seam, below))
        spans.append((top + width - seam, top + width, above))
        marks[top] = 0
        top += width
    places = sorted({place for start, end, _ in spans for place in (start, end)} - {top})
    levels = dict.fromkeys(places, 1)
    for start, end, extra in spans:
        for place in places:
            if start <= place < end:
                levels[place] += extra
    return _Profile(places, [levels[place] for place in places], top)
