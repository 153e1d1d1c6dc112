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
from sequencer.colour.names import plain_name, shade
from sequencer.colour.spaces import Floats
from sequencer.colour.verdicts import CLEAR, HELPS, JUMP_CEILING, verdicts
from sequencer.colour.vision import KINDS, simulate_lab
from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Json, Lab, Neighbours, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx

Costs = Mapping[frozenset[str], float]

WORST_PAIRS = 3
LOOKS_LIGHTER = 5.0
_TOLD_SHARE = 0.1
_TOLD_VALUE = 12.0  # L* from which a step in value is worth a word

_EYES = {
    "protan": "red-blind (protan)",
    "deutan": "green-blind (deutan)",
    "tritan": "blue-blind (tritan)",
}


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
            *_pair_sentences(by_id, sequence, pairs, graph),
            *_lighter_sentences(by_id, lighter),
            *_vision_sentences(by_id, pairs, vision),
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


# ── sentences ─────────────────────────────────────────────────────────────────────────────


def _pair_sentences(
    by_id: Mapping[str, Print],
    sequence: Sequence,
    pairs: tuple[Neighbours, ...],
    graph: nx.Graph[str] | None,
) -> list[str]:
    blurs = sorted((p for p in pairs if p.verdict == "blurs"), key=lambda p: p.delta_e or 0.0)
    jumps = sorted((p for p in pairs if p.verdict == "jumps"), key=lambda p: -p.cost)
    worst = [*blurs[:WORST_PAIRS], *jumps[:WORST_PAIRS]]
    box = [name for name in sequence.left_out if name in by_id]
    costs = _costs_to_the_box(by_id, worst, box, graph)
    return [
        (_blur_sentence if pair.verdict == "blurs" else _jump_sentence)(by_id, box, costs, pair)
        for pair in worst
    ]


def _costs_to_the_box(
    by_id: Mapping[str, Print],
    pairs: list[Neighbours],
    box: list[str],
    graph: nx.Graph[str] | None,
) -> Costs:
    """What each side of these pairs would cost beside each print still in the box."""
    ends = list(dict.fromkeys(end for pair in pairs for end in (pair.a, pair.b)))
    wanted = [(end, name) for end in ends for name in box]
    if graph is not None:
        known = {frozenset(ends): graph.get_edge_data(*ends) for ends in wanted}
        return {ends: float(edge["cost"]) for ends, edge in known.items() if edge is not None}
    if not wanted:
        return {}
    cast = {name: k for k, name in enumerate([*ends, *box])}
    run = meet(
        palettes_of([by_id[name] for name in cast]),
        np.array([cast[end] for end, _ in wanted], dtype=np.intp),
        np.array([cast[name] for _, name in wanted], dtype=np.intp),
    )
    return {frozenset(ends): float(cost) for ends, cost in zip(wanted, run.cost, strict=True)}


def _apart(
    by_id: Mapping[str, Print], box: list[str], a: Print, b: Print, units: float
) -> list[str]:
    """The prints of the box whose means differ from both a and b by these strip units."""
    if not box:
        return []
    labs = np.array([by_id[name].mean_lab for name in box])[:, None]
    nearest = strip_units(labs, np.array([a.mean_lab, b.mean_lab])[None]).min(axis=1).tolist()
    return [name for name, near in zip(box, nearest, strict=True) if near >= units]


def _least_step(a: Print, b: Print, box: list[str], costs: Costs) -> tuple[float, str] | None:
    """The print whose larger step to either side is least, and that step; ties by place."""
    steps = [
        (max(costs[frozenset((a.id, x))], costs[frozenset((x, b.id))]), k)
        for k, x in enumerate(box)
        if frozenset((a.id, x)) in costs and frozenset((x, b.id)) in costs
    ]
    if not steps:
        return None
    step, place = min(steps)
    return step, box[place]


def _blur_sentence(
    by_id: Mapping[str, Print], box: list[str], costs: Costs, pair: Neighbours
) -> str:
    a, b = by_id[pair.a], by_id[pair.b]
    found = _least_step(a, b, _apart(by_id, box, a, b, CLEAR), costs)
    told = f"From across the room “{a.name}” and “{b.name}” will read as one strip: "
    told += f"{_closeness(a, b)}. "
    if found is None or found[0] >= JUMP_CEILING:
        return told + "Put a lighter or darker print between them, or leave one of them out."
    return told + f"Put “{by_id[found[1]].name}” between them, or leave one of them out."


def _closeness(a: Print, b: Print) -> str:
    lighter = a if a.value > b.value else b
    step = abs(a.value - b.value)
    if step < 1:
        return "their colours are close and in value there is nothing between them"
    return f"their colours are close and “{lighter.name}” is lighter by only {step:.0f} of 100"


def _jump_sentence(
    by_id: Mapping[str, Print], box: list[str], costs: Costs, pair: Neighbours
) -> str:
    a, b = by_id[pair.a], by_id[pair.b]
    found = _least_step(a, b, _apart(by_id, box, a, b, BLURS), costs)
    told = f"“{a.name}” to “{b.name}” is a jump: {_breach(a, b, pair)}. "
    if found is None or found[0] > HELPS * pair.cost:
        return told + "A print that holds a colour of each would bridge it."
    return told + f"“{by_id[found[1]].name}”, still in the box, would bridge it."


def _breach(a: Print, b: Print, pair: Neighbours) -> str:
    """Why it jumps, in colours she can see: the largest of each, what is shared, the value."""
    main = [one.palette[0].lab if one.palette else one.mean_lab for one in (a, b)]
    told = f"{plain_name(main[0])} meets {shade(*main)}"
    held = pair.shared or 0.0
    if held >= _TOLD_SHARE:
        told += f" with {held:.0%} of their colour shared"
    step = abs(a.value - b.value)
    if step < _TOLD_VALUE:
        return told
    lighter = a if a.value > b.value else b
    return f"{told}, and “{lighter.name}” is lighter by {step:.0f} of 100"


def _lighter_sentences(by_id: Mapping[str, Print], lighter: Mapping[str, float]) -> list[str]:
    if not lighter:
        return []
    name, more = max(lighter.items(), key=lambda item: item[1])
    return [
        f"“{by_id[name].name}” is a strong colour and looks about {more:.0f} lighter than its "
        f"value of {by_id[name].value:.0f}: trust the value view there, not the first glance."
    ]


def _vision_sentences(
    by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...], vision: Json
) -> list[str]:
    """Pairs that part for normal eyes and blur for others; the kinds in one sentence a pair."""
    lost: dict[tuple[str, str], list[str]] = {}
    for kind in KINDS:
        for pair, seen in zip(pairs, vision[kind], strict=True):
            if seen["blurs"] and pair.verdict != "blurs":
                lost.setdefault((pair.a, pair.b), []).append(kind)
    return [
        f"To {' and '.join(_EYES[kind] for kind in kinds)} eyes “{by_id[a].name}” and "
        f"“{by_id[b].name}” run together: a larger step in value would part them."
        for (a, b), kinds in list(lost.items())[:WORST_PAIRS]
    ]
