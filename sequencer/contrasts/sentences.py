"""What is said of neighbours: the pairs that meet worst, and what value and other eyes add."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from sequencer.colour import strip_units
from sequencer.colour.meeting import BLURS, meet, palettes_of
from sequencer.colour.names import plain_name, shade
from sequencer.colour.verdicts import CLEAR, HELPS, JUMP_CEILING
from sequencer.colour.vision import KINDS
from sequencer.keys import listed
from sequencer.models import Json, Neighbours, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx

Costs = Mapping[frozenset[str], float]
"""What two prints cost side by side, by their ids."""

WORST_PAIRS = 3
"""Pairs of a kind that are told."""
_TOLD_SHARE = 0.1
_TOLD_VALUE = 12.0
"""Share of colour in both, and step in L*, from which each is worth a word."""
_EYES = {
    "protan": "red-blind (protan)",
    "deutan": "green-blind (deutan)",
    "tritan": "blue-blind (tritan)",
}


def of_pairs(
    by_id: Mapping[str, Print],
    sequence: Sequence,
    pairs: tuple[Neighbours, ...],
    graph: nx.Graph[str] | None,
) -> list[str]:
    """Pairs that blur, then jumps, the worst first, each with what would part or bridge it."""
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


def of_lightness(by_id: Mapping[str, Print], lighter: Mapping[str, float]) -> list[str]:
    """The print that looks lighter than it is by most, if there is one."""
    if not lighter:
        return []
    name, more = max(lighter.items(), key=lambda item: item[1])
    return [
        f"“{by_id[name].name}” is a strong colour and looks about {more:.0f} lighter than its "
        f"value of {by_id[name].value:.0f}: trust the value view there, not the first glance."
    ]


def of_vision(
    by_id: Mapping[str, Print], pairs: tuple[Neighbours, ...], vision: Json
) -> list[str]:
    """Pairs that part for normal eyes and blur for others; the kinds in one sentence a pair."""
    lost: dict[tuple[str, str], list[str]] = {}
    for kind in KINDS:
        for pair, seen in zip(pairs, vision[kind], strict=True):
            if seen["blurs"] and pair.verdict != "blurs":
                lost.setdefault((pair.a, pair.b), []).append(kind)
    return [
        f"To {listed(_EYES[kind] for kind in kinds)} eyes “{by_id[a].name}” and "
        f"“{by_id[b].name}” run together: a larger step in value would part them."
        for (a, b), kinds in list(lost.items())[:WORST_PAIRS]
    ]
