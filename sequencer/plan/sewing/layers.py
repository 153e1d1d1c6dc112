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
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from sequencer.models import Column
from sequencer.plan.asked import Request


def count_layers(request: Request, columns: Sequence[Column]) -> dict[str, Any]:
    """Layers a column seam goes through: most, and typical (the median along all column seams).

    ``panel_max``: most layers anywhere in the sewn top, column allowances pressed open.
    ``crossings``: most layers where strip seams of both columns meet (``seam_on_seam``), where a
    strip seam meets plain cloth (``seam_on_patch``) and away from both (``between_seams``), and
    the fewest anywhere along a column seam (``thinnest``); None where there is no such place.
    ``column_seams``: for each column seam from the left, the columns it joins (from 1), its most
    and its typical layers.
    """
    bench = _Bench(request)
    sides = [bench.side(column, place) for place, column in enumerate(columns)]
    pairs = list(pairwise(sides))
    met = {pair: bench.meet(*pair) for pair in dict.fromkeys(pairs)}
    along: Counter[int] = Counter()
    for pair, times in Counter(pairs).items():
        for layers, length in met[pair].along.items():
            along[layers] += length * times
    single = max(bench.profile(*sides[0]).levels)
    narrow = min((column.finished_width for column in columns), default=Fraction(0))
    across = 1 if len(columns) == 1 else 3 if narrow < 2 * request.seam else 2
    return {
        "column_seam_max": max(along, default=0),
        "column_seam_typical": _median(along),
        "panel_max": single * across,
        "crossings": {
            **{kind: max((m.kinds[kind] for m in met.values() if m.kinds[kind]), default=None)
               for kind in ("seam_on_seam", "seam_on_patch", "between_seams")},
            "thinnest": min(along, default=None),
        },
        "column_seams": [
            {"columns": [place, place + 1], "most": met[pair].most, "typical": met[pair].typical}
            for place, pair in enumerate(pairs, 1)
        ],
    }  # fmt: skip


Side = tuple[int, str]
"""A column's top print (0 where all strips are alike) and its pressing."""


@dataclass(frozen=True)
class _Meeting:
    """Two columns face to face: length at each number of layers, and the most at each kind of
    place (0: there is none).
    """

    along: Counter[int]
    kinds: dict[str, int]
    most: int
    typical: int


class _Bench:
    """Lays columns on one another, in whole numbers."""

    def __init__(self, request: Request) -> None:
        self.request = request
        scale = math.lcm(*(w.denominator for w in (request.seam, *request.strips.values())))
        self.strips = [int(request.strips[key] * scale) for key in request.ids]
        self.seam = int(request.seam * scale)
        self.alike = len(set(self.strips)) == 1
        self.known: dict[Side, _Profile] = {}

    def side(self, column: Column, place: int) -> Side:
        return 0 if self.alike else column.offset, _press(self.request, place)

    def profile(self, offset: int, press: str) -> _Profile:
        if (offset, press) not in self.known:
            turned = self.strips[offset:] + self.strips[:offset]
            self.known[offset, press] = _measure(turned, self.seam, press)
        return self.known[offset, press]

    def meet(self, left: Side, right: Side) -> _Meeting:
        one, other = self.profile(*left), self.profile(*right)
        along = one.plus(other)
        kinds = {
            "seam_on_seam": one.most_beside(other, one.seams & other.seams),
            "seam_on_patch": one.most_beside(other, one.seams ^ other.seams),
            "between_seams": one.most_between(other),
        }
        return _Meeting(along, kinds, max(along), _median(along))


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
    """Layers down one repeat of a column: ``levels[i]`` from ``places[i]`` to the next place.

    ``seams``: where its strip seams lie; the strips repeat, so there is one at 0.
    """

    def __init__(
        self, places: list[int], levels: list[int], end: int, seams: frozenset[int]
    ) -> None:
        self.places, self.levels, self.end, self.seams = places, levels, end, seams

    def plus(self, other: _Profile) -> Counter[int]:
        """Length (of one repeat) at each sum of layers, the two lying face to face."""
        cuts = sorted({*self.places, *other.places})
        lengths: Counter[int] = Counter()
        for here, there in zip(cuts, [*cuts[1:], self.end], strict=True):
            lengths[self.at(here) + other.at(here)] += there - here
        return lengths

    def most_beside(self, other: _Profile, seams: frozenset[int]) -> int:
        """Most layers of both right above or below these seams; 0 without any."""
        beside = (y % self.end for seam in seams for y in (seam, seam - 1))
        return max((self.at(y) + other.at(y) for y in beside), default=0)

    def most_between(self, other: _Profile) -> int:
        """Most layers of both in stretches that no seam of either bounds; 0 without any."""
        cuts = sorted({*self.places, *other.places})
        seams = self.seams | other.seams | {self.end}
        return max(
            (self.at(here) + other.at(here) for here, there in pairwise([*cuts, self.end])
             if here not in seams and there not in seams),
            default=0,
        )  # fmt: skip

    def at(self, place: int) -> int:
        return self.levels[bisect_right(self.places, place) - 1]


def _measure(strips: list[int], seam: int, press: str) -> _Profile:
    """Patch by patch; the strips repeat, so the first has a seam above it too."""
    below, above = {"open": (1, 1), "up": (0, 2), "down": (2, 0)}[press]
    top, seams = 0, []
    spans: list[tuple[int, int, int]] = []
    for width in strips:
        seams.append(top)
        spans.append((top, top + seam, below))
        spans.append((top + width - seam, top + width, above))
        top += width
    places = sorted({place for start, end, _ in spans for place in (start, end)} - {top})
    levels = dict.fromkeys(places, 1)
    for start, end, extra in spans:
        for place in places:
            if start <= place < end:
                levels[place] += extra
    return _Profile(places, [levels[place] for place in places], top, frozenset(seams))
