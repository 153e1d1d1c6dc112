"""How neighbours meet, whole: contrast, what would bridge each jump, which colours go over."""

from __future__ import annotations

from collections.abc import Sequence as List
from dataclasses import replace
from typing import TYPE_CHECKING

from sequencer import doors
from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Json, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx


def contrast(
    prints: List[Print], sequence: Sequence, graph: nx.Graph[str] | None = None,
    whole: bool = True,
) -> ContrastReport:
    """Each neighbouring pair in sewing order, sentences for the worst, bridges, colours handed on.

    ``graph``, the transition graph of these prints, saves making it again. Without ``whole``
    bridges and colours handed on are left out: then it takes a millisecond, while cloth is moved.

    Raises:
        UsageError: what is no list of prints and no sequence.
        SequenceError: the sequence names a print that is not among ``prints``, or ``graph`` is one
            of other prints.
    """
    import networkx as nx

    from sequencer.contrasts import contrast as report
    from sequencer.order import transition_graph
    from sequencer.order.words.bridges import bridges
    from sequencer.order.words.hand_over import hand_overs

    prints, sequence = doors.prints(prints), doors.sequence("sequence", sequence)
    graph = transition_graph(prints) if graph is None else doors.one(
        "graph", graph, nx.Graph, "the transition graph of these prints")
    missing = [one.id for one in prints if one.id not in graph]
    if missing:
        raise SequenceError(f"The graph does not hold {missing[0]}: make it of the same prints.")
    found = report(prints, sequence, graph)
    if not whole:
        return found
    by_id = {one.id: one for one in prints}
    return replace(
        found,
        bridges=bridges(graph, replace(sequence, neighbours=found.pairs), prints),
        hand_over=tuple(hand_overs([(by_id[pair.a], by_id[pair.b]) for pair in found.pairs])),
    )


def meeting(graph: nx.Graph[str], a: Print, b: Print) -> Json:
    """Two prints side by side, straight from their graph, whether they meet or not.

    A neighbour's object (cost, verdict, shared …) and ``hand_over``, the colours in both.

    Raises:
        SequenceError: the graph does not know how these two meet.
    """
    from sequencer.order import report_sequence
    from sequencer.order.words.hand_over import hand_over

    pair = report_sequence(graph, [a.id, b.id], loop=False).neighbours[0]
    return {**pair.to_json(), "hand_over": hand_over(a, b)}
