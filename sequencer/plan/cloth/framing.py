"""Which print frames the panel when none is asked for: one that does not melt into its edge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from sequencer.colour import ciede2000
from sequencer.models import Column, Print
from sequencer.plan.asked import Request

MELTS = 10.0
"""ΔE00 below which a border and a patch beside it run into one another (our judgement)."""
TO_BUY, TO_MEASURE = 0.2, 0.1
"""Share of the edge that may melt sooner than that the border must be bought, or that scraps must
be measured first (our judgement)."""
Held = Callable[[str], bool | None]
"""Whether a print's scraps give border and binding beside its strips; None where not known."""


def frame_print(
    request: Request, columns: Sequence[Column], known: Mapping[str, Print], held: Held
) -> str:
    """The print beside which least of the edge melts, weighed against cloth that must be bought;
    of equals the darkest, which frames quietly.
    """
    edge = _edge(request, columns)
    length = sum(edge.values(), Fraction(0))
    keys = list(known)

    def melting(key: str) -> float:
        here = known[key].mean_lab
        share = sum(
            part for other, part in edge.items()
            if other == key or float(ciede2000(here, known[other].mean_lab)) < MELTS
        )  # fmt: skip
        return round(float(share / length), 1)

    melts = {key: melting(key) for key in keys}
    best: tuple[float, str] | None = None
    for key in sorted(keys, key=lambda one: (melts[one], round(known[one].value, 3))):
        if best is not None and melts[key] >= best[0]:
            break
        found = held(key)
        price = melts[key] + (0.0 if found else TO_MEASURE if found is None else TO_BUY)
        if best is None or price < best[0] - 1e-9:
            best = price, key
    assert best is not None
    return best[1]


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
