"""Bridges: what to lay between two neighbours that jump.

First the prints still in the box; if none of them helps, the colour to look for at the shop.
"""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Sequence as List
from typing import TYPE_CHECKING

import numpy as np

from sequencer.colour.meeting import BLURS, Palettes, meet
from sequencer.colour.names import plain_name
from sequencer.colour.spaces import Floats
from sequencer.colour.verdicts import HELPS
from sequencer.keys import listed
from sequencer.models import Json, Neighbours, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx

# Shares of a colour of the one, a colour of the other, and the colour half way between.
_RECIPES = ((0.5, 0.5, 0.0), (0.4, 0.4, 0.2), (0.25, 0.25, 0.5), (0.0, 0.0, 1.0))


def bridges(graph: nx.Graph[str], sequence: Sequence, prints: List[Print]) -> tuple[Json, ...]:
    """One entry for each jump of the sequence, in sewing order.

    Each holds ``a`` and ``b``, ``before`` (the jump's cost), ``print`` (the best print still in
    the box, or None), ``after`` (its two costs), and, where the box holds none or its best still
    leaves a jump, ``look_for``: ``palette``, ``value``, plain ``name``, ``after``; and ``text``,
    one sentence. A print that would blur with either side bridges nothing and is passed over.
    """
    by_id = {one.id: one for one in prints}
    return tuple(
        _bridge(graph, sequence, by_id, pair)
        for pair in sequence.neighbours
        if pair.verdict == "jumps" and pair.a in by_id and pair.b in by_id
    )


def _bridge(
    graph: nx.Graph[str], sequence: Sequence, by_id: dict[str, Print], pair: Neighbours
) -> Json:
    found = _in_the_box(graph, sequence.left_out, pair)
    entry: Json = {
        "a": pair.a, "b": pair.b, "before": round(pair.cost, 6),
        "print": None, "after": None, "look_for": None,
    }  # fmt: skip
    if found is not None:
        entry["print"], entry["after"] = found[0], [round(cost, 6) for cost in found[1]]
    if found is None or _jumps_still(graph, found[0], pair):
        entry["look_for"] = shop_for(by_id[pair.a], by_id[pair.b])
    entry["text"] = _sentence(entry, by_id)
    return entry


def _jumps_still(graph: nx.Graph[str], between: str, pair: Neighbours) -> bool:
    return "jumps" in {graph.edges[between, end].get("verdict") for end in (pair.a, pair.b)}


def _in_the_box(
    graph: nx.Graph[str], left_out: tuple[str, ...], pair: Neighbours
) -> tuple[str, tuple[float, float]] | None:
    best: tuple[float, float, str, tuple[float, float]] | None = None
    for name in left_out:
        sides = [graph.get_edge_data(name, end) for end in (pair.a, pair.b)]
        if any(side is None or side.get("verdict") == "blurs" for side in sides):
            continue
        left, right = (float(side["cost"]) for side in sides)
        if max(left, right) <= HELPS * pair.cost:
            option = (max(left, right), left + right, name, (left, right))
            best = option if best is None else min(best, option)
    return None if best is None else (best[2], best[3])


# ── the shop ──────────────────────────────────────────────────────────────────────────────


def shop_for(a: Print, b: Print) -> Json:
    """The colours of a print that would bridge a and b.

    Made of a colour of a, a colour of b and the colour half way between them, in the mixture
    whose larger step is least without blurring with either: ``palette`` (as in a print),
    ``value``, ``name`` and ``after``.
    """
    mixtures = list(_mixtures(a, b))
    wanted = Palettes.of(
        [*(labs for labs, _ in mixtures), *(_labs(one) for one in (a, b))],
        [*(shares for _, shares in mixtures), *(_shares(one) for one in (a, b))],
        np.array([shares @ labs for labs, shares in mixtures] + [a.mean_lab, b.mean_lab]),
    )
    count = len(mixtures)
    tries = np.arange(count)
    run = meet(
        wanted,
        np.concatenate([tries, tries]),
        np.concatenate([np.full(count, count), np.full(count, count + 1)]),
    )
    left, right = run.cost[:count], run.cost[count:]
    blurs = np.minimum(run.apart[:count], run.apart[count:]) < BLURS
    best = int(np.lexsort((tries, left + right, np.maximum(left, right), blurs))[0])
    labs, shares = mixtures[best]
    mean = shares @ labs
    palette = _as_palette(labs, shares)
    return {
        "palette": palette,
        "value": round(float(mean[0]), 2),
        "name": _name(palette),
        "after": [round(float(left[best]), 6), round(float(right[best]), 6)],
    }


def _mixtures(a: Print, b: Print) -> Iterator[tuple[Floats, Floats]]:
    for one in _labs(a)[:3]:
        for other in _labs(b)[:3]:
            for recipe in _RECIPES:
                shares = np.array(recipe)
                labs = np.stack([one, other, (one + other) / 2])
                yield labs[shares > 0], shares[shares > 0]


def _labs(one: Print) -> Floats:
    return np.array([colour.lab for colour in one.palette] or [one.mean_lab], dtype=float)


def _shares(one: Print) -> Floats:
    return np.array([colour.share for colour in one.palette] or [1.0], dtype=float)


def _as_palette(labs: Floats, shares: Floats) -> list[Json]:
    order = sorted(range(len(shares)), key=lambda k: -shares[k])
    return [
        {"lab": [round(float(x), 2) for x in labs[k]], "share": float(shares[k]),
         "name": plain_name(labs[k])}
        for k in order
    ]  # fmt: skip


def _name(palette: list[Json]) -> str:
    names = list(dict.fromkeys(colour["name"] for colour in palette))
    return listed(names)


def value_word(value: float) -> str:
    """light, medium or dark: the three heaps a maker sorts by (common practice, no source)."""
    return "dark" if value < 38 else "medium" if value < 68 else "light"


def _sentence(entry: Json, by_id: dict[str, Print]) -> str:
    a, b = by_id[entry["a"]].name, by_id[entry["b"]].name
    before, parts = entry["before"], []
    if entry["print"] is not None:
        left, right = entry["after"]
        parts.append(
            f"Between “{a}” and “{b}” put “{by_id[entry['print']].name}”, still in the box: a step "
            f"of {before:.0f} becomes two of {left:.0f} and {right:.0f}."
        )
    if entry["look_for"] is not None:
        wanted = entry["look_for"]
        left, right = wanted["after"]
        lead = "Better still, look" if parts else f"To bridge “{a}” and “{b}” look"
        parts.append(
            f"{lead} for a {value_word(wanted['value'])} print with {wanted['name']}: "
            f"steps of {left:.0f} and {right:.0f} instead of {before:.0f}."
        )
    return " ".join(parts)
