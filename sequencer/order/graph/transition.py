"""The transition graph: every print a node, every possible pair of neighbours an edge."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sequencer import doors
from sequencer.colour.meeting import meet, palettes_of
from sequencer.colour.names import plain_name
from sequencer.colour.verdicts import DISTINCT, jump_threshold, verdicts
from sequencer.errors import SequenceError
from sequencer.models import Print

if TYPE_CHECKING:
    import networkx as nx

MOST_PRINTS = 2000
"""Two million pairs: about a minute and 1.5 GB."""


def transition_graph(prints: Sequence[Print]) -> nx.Graph[str]:
    """What it costs to lay any two prints side by side.

    Nodes are the prints' ids, in the order given, with ``value`` (L* of the mean), ``lab``,
    ``name``, ``colour`` (a plain word) and ``uncertainty`` (ΔE00). Edges carry ``cost`` (the
    blend), ``delta_e`` (ΔE00 of the means), ``value_step`` (L*, absolute), ``shared`` (0 to 1),
    ``verdict``, ``apart`` (strip units between the strips, a lower bound where it is large), and
    the cost's parts ``hand_over``, ``unshared`` and ``means`` (strip units; the fourth part is
    ``value_step``). The graph carries ``jump``, the cost from which this set calls
    a step a jump, and ``distinct``, the cost below which two prints are near duplicates. Where
    neighbours must stay apart, pairs with the verdict ``blurs`` are to be avoided as well: prints
    with many colours in common may be dearer than ``distinct`` and yet read as one strip.

    Raises:
        UsageError: what is no list of prints.
        SequenceError: two prints bear one id, a colour is not a finite number, or there are more
            than MOST_PRINTS prints.
    """
    import networkx as nx

    prints = doors.prints(prints)
    _check(prints)
    graph: nx.Graph[str] = nx.Graph(distinct=DISTINCT)
    for one in prints:
        graph.add_node(one.id, **_node(one))
    first, second = np.triu_indices(len(prints), 1)
    meetings = meet(palettes_of(prints), first, second)
    jump = jump_threshold(_tree_costs(len(prints), meetings.cost))
    graph.graph["jump"] = jump
    words = verdicts(meetings, jump)
    ids = [one.id for one in prints]
    columns = (
        meetings.cost, meetings.delta_e, meetings.value, meetings.shared,
        meetings.hand_over, meetings.unshared, meetings.means, meetings.apart,
    )  # fmt: skip
    rows = zip(first.tolist(), second.tolist(), words, *(c.tolist() for c in columns), strict=True)
    graph.add_edges_from(
        (ids[a], ids[b], {"cost": cost, "delta_e": delta_e, "value_step": step, "shared": shared,
                           "verdict": word, "hand_over": hand, "unshared": un, "means": means,
                           "apart": apart})
        for a, b, word, cost, delta_e, step, shared, hand, un, means, apart in rows
    )  # fmt: skip
    return graph


def _node(one: Print) -> dict[str, Any]:
    return {
        "value": float(one.value),
        "lab": tuple(float(part) for part in one.mean_lab),
        "name": one.name,
        "colour": plain_name(one.mean_lab),
        "uncertainty": float(one.uncertainty),
    }


def _tree_costs(count: int, costs: np.ndarray[Any, np.dtype[np.floating]]) -> np.ndarray[Any, Any]:
    """Costs of the minimum spanning tree's edges (Prim 1957), on the dense matrix."""
    if count < 2:
        return np.zeros(0)
    matrix = np.zeros((count, count))
    matrix[np.triu_indices(count, 1)] = costs
    matrix += matrix.T
    reach = matrix[0].copy()
    reach[0] = np.inf
    outside = np.ones(count, dtype=bool)
    outside[0] = False
    taken = []
    while outside.any():
        nearest = int(np.where(outside, reach, np.inf).argmin())
        taken.append(reach[nearest])
        outside[nearest] = False
        reach = np.minimum(reach, matrix[nearest])
    return np.array(taken)


def _check(prints: Sequence[Print]) -> None:
    if len(prints) > MOST_PRINTS:
        raise SequenceError(
            f"{len(prints)} prints make {len(prints) * (len(prints) - 1) // 2:,} pairs, too many "
            f"to compare at once: order at most {MOST_PRINTS:,} prints together"
        )
    seen: set[str] = set()
    for one in prints:
        if one.id in seen:
            raise SequenceError(f"two prints are called {one.id}: give each its own id")
        seen.add(one.id)
        _check_figures(one)


def _check_figures(one: Print) -> None:
    try:
        figures = [*one.mean_lab, *(x for c in one.palette for x in (*c.lab, c.share))]
        usable = bool(np.isfinite(figures).all())
    except TypeError:
        usable = False
    if not usable:
        raise SequenceError(f"{one.id} has a colour that is not a number: read its photo again")
    shares = [c.share for c in one.palette]
    if shares and (min(shares) < 0 or sum(shares) <= 0):
        raise SequenceError(f"{one.id} has shares that add up to nothing: read its photo again")
    if not (np.isfinite(one.uncertainty) and one.uncertainty >= 0):
        raise SequenceError(
            f"{one.id} has an uncertainty of {one.uncertainty}: read its photo again"
        )
