"""Which print frames the panel when none is asked for: one that does not melt into its edge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from sequencer.colour import ciede2000
from sequencer.models import Column, FabricNeed, Print
from sequencer.plan.asked import Request
from sequencer.plan.cloth.scraps import cloth_area

MELTS = 10.0
"""ΔE00 below which a border and a patch beside it run into one another (our judgement)."""
BREADTH = Fraction(4)
"""Inches of cloth across the edge that border and binding take, about (our judgement)."""


def frame_print(
    request: Request,
    columns: Sequence[Column],
    known: Mapping[str, Print],
    fabric: Sequence[FabricNeed],
) -> str:
    """Of all prints the one beside which least of the edge melts, then one whose scraps hold the
    border beside its strips, then the darkest, which frames quietly.
    """
    edge = _edge(request, columns)
    length = sum(edge.values(), Fraction(0))
    used = {
        need.print: sum((s.width * s.length for s in need.strips), Fraction(0)) for need in fabric
    }

    def rank(key: str) -> tuple[float, int, float, int]:
        here = known[key].mean_lab
        melting = sum(
            part for other, part in edge.items()
            if other == key or float(ciede2000(here, known[other].mean_lab)) < MELTS
        )  # fmt: skip
        area = cloth_area(known[key])
        wanted = used.get(key, Fraction(0)) + length * BREADTH
        cloth = 1 if area is None else 0 if area >= wanted else 2
        return round(float(melting / length), 1), cloth, round(known[key].value, 3), keys.index(key)

    keys = list(known)
    return min(keys, key=rank)


def _edge(request: Request, columns: Sequence[Column]) -> dict[str, Fraction]:
    """Length of the panel's edge that each print lies along."""
    ids, n = request.ids, len(request.ids)
    edge = dict.fromkeys(ids, Fraction(0))
    for column in columns:
        edge[ids[column.offset % n]] += column.finished_width
        edge[ids[(column.offset - 1) % n]] += column.finished_width
    for key in ids:
        edge[key] += 2 * request.repeats * request.strips[key]
    return edge
