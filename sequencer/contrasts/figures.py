"""How the neighbours of a sequence meet: colour, value, and what other eyes see.

Value is L*. Where a strong colour looks lighter than its L* (the Helmholtz-Kohlrausch effect) that
is said beside it, after Fairchild and Pirrotta, "Predicting the lightness of chromatic object
colors using CIELAB", Color Res. Appl. 16 (1991). Colour-blind neighbours are simulated after
Machado, Oliveira and Fernandes (2009), see :mod:`sequencer.colour.vision`.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as List
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sequencer.colour import ciede2000, lch, strip_units
from sequencer.colour.meeting import BLURS, meet, palettes_of
from sequencer.colour.spaces import Floats
from sequencer.colour.verdicts import JUMP_CEILING, verdicts
from sequencer.colour.vision import KINDS, simulate_lab
from sequencer.contrasts.sentences import of_lightness, of_pairs, of_vision
from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Json, Lab, Neighbours, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx

LOOKS_LIGHTER = 5.0
"""L* by which a colour looks lighter from which it is told."""


def contrast(
    prints: List[Print], sequence: Sequence, graph: nx.Graph[str] | None = None
) -> ContrastReport:
    """Each neighbouring pair in sewing order, and sentences for the worst.

    Figures that the sequence does not carry (it was found on a graph of costs alone) are worked
    out here from the prints. ``sentences`` names first pairs that blur, then jumps, worst first,
    then what value and colour vision add. ``vision`` holds, for each kind of colour-blind eyes,
    each pair's ΔE00 and whether it blurs; ``looks_lighter`` the prints that look lighter than
    their L* by more than LOOKS_LIGHTER. ``graph``, the transition graph of these prints, saves
    working out which print in the box would part or bridge the worst pairs: with it a report on
    a moved print takes milliseconds.

    Raises:
        SequenceError: the sequence names a print that is not among ``prints``.
    """
    by_id = {one.id: one for one in prints}
    missing = [name for name in sequence.order if name not in by_id]
    if missing:
        raise SequenceError(f"the sequence names {missing[0]}, which is not among the prints")
    pairs = _completed(by_id, sequence)
    values = [by_id[name].value for name in sequence.order]
    vision = _vision(by_id, pairs)
    lighter = _looks_lighter([by_id[name] for name in sequence.order])
    return ContrastReport(
        pairs=pairs,
        sentences=(
            *of_pairs(by_id, sequence, pairs, graph),
            *of_lightness(by_id, lighter),
            *of_vision(by_id, pairs, vision),
        ),
        value_range=round(max(values) - min(values), 6) if values else 0.0,
        vision=vision,
        looks_lighter=lighter,
    )


def looks_lighter_by(lab: Lab) -> float:
    """How much lighter than its L* a colour looks: L** − L* (Fairchild and Pirrotta 1991).

    L** = L* + (2.5 − 0.025 L*) (0.116 |sin((h − 90°)/2)| + 0.085) C*.
    """
    return float(_lighter_by(np.array([lab], dtype=float))[0])


def _lighter_by(labs: Floats) -> Floats:
    lightness, chroma, hue = lch(labs).T
    by_hue = 0.116 * np.abs(np.sin(np.radians((hue - 90.0) / 2))) + 0.085
    return np.asarray((2.5 - 0.025 * lightness) * by_hue * chroma)


# ── figures ───────────────────────────────────────────────────────────────────────────────


def _completed(by_id: Mapping[str, Print], sequence: Sequence) -> tuple[Neighbours, ...]:
    """The sequence's pairs with every figure filled in."""
    pairs = sequence.neighbours
    if all(pair.verdict is not None and pair.delta_e is not None for pair in pairs):
        return pairs
    prints, place = list(by_id.values()), {name: k for k, name in enumerate(by_id)}
    first = np.array([place[pair.a] for pair in pairs], dtype=np.intp)
    second = np.array([place[pair.b] for pair in pairs], dtype=np.intp)
    found = meet(palettes_of(prints), first, second)
    words = verdicts(found, JUMP_CEILING)
    return tuple(
        replace(
            pair,
            delta_e=float(found.delta_e[k]),
            value_step=float(by_id[pair.b].value - by_id[pair.a].value),
            shared=float(found.shared[k]),
            verdict=words[k],
        )
        for k, pair in enumerate(pairs)
    )


def _vision(by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...]) -> Json:
    """For each kind of eyes, each pair's ΔE00 and value step, and whether it blurs."""
    a = np.array([by_id[pair.a].mean_lab for pair in pairs]).reshape(-1, 3)
    b = np.array([by_id[pair.b].mean_lab for pair in pairs]).reshape(-1, 3)
    seen: Json = {}
    for kind in KINDS:
        left, right = simulate_lab(a, kind), simulate_lab(b, kind)
        delta_e = np.round(ciede2000(left, right), 4) if len(pairs) else np.zeros(0)
        close = np.less(np.atleast_1d(strip_units(left, right)), BLURS).tolist()
        seen[kind] = [
            {"a": pair.a, "b": pair.b, "delta_e": float(d), "blurs": bool(blur)}
            for pair, d, blur in zip(
                pairs, delta_e.tolist(), close, strict=True
            )
        ]
    return seen


def _looks_lighter(prints: List[Print]) -> dict[str, float]:
    by = np.round(_lighter_by(np.array([one.mean_lab for one in prints]).reshape(-1, 3)), 2)
    found = zip(prints, by.tolist(), strict=True)
    return {one.id: more for one, more in found if more > LOOKS_LIGHTER}
