"""How neighbours meet, whole: contrast, what would bridge each jump, which colours go over."""

from __future__ import annotations

from collections.abc import Sequence as List
from dataclasses import replace
from typing import TYPE_CHECKING

from sequencer.models import ContrastReport, Print, Sequence

if TYPE_CHECKING:
    import networkx as nx


def contrast(
    prints: List[Print], sequence: Sequence, graph: nx.Graph[str] | None = None
) -> ContrastReport:
    """Each neighbouring pair in sewing order, sentences for the worst, bridges, colours handed on.

    ``graph``, the transition graph of these prints, saves making it again.

    Raises:
        SequenceError: the sequence names a print that is not among ``prints``.
    """
    from sequencer.contrasts import contrast as report
    from sequencer.order import transition_graph
    from sequencer.order.words.bridges import bridges
    from sequencer.order.words.hand_over import hand_over

    graph = transition_graph(prints) if graph is None else graph
    found = report(prints, sequence, graph)
    by_id = {one.id: one for one in prints}
    return replace(
        found,
        bridges=bridges(graph, replace(sequence, neighbours=found.pairs), prints),
        hand_over=tuple(hand_over(by_id[pair.a], by_id[pair.b]) for pair in found.pairs),
    )
