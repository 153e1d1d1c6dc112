"""How the prints of a piece go together, what an order of them costs, and the best there is.

What was found is kept while the prints' colours stay, for cloth that is moved by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sequencer.kept import Kept
from sequencer.models import ContrastReport, Json
from sequencer.models import Sequence as Ordered
from sequencer.opened.changes import doubts_of
from sequencer.opened.shown.ordered import neighbours_json, price_words
from sequencer.ordering import sequence as ordering
from sequencer.piece import Piece

if TYPE_CHECKING:
    import networkx as nx


class Orders:
    """Graphs and best orders of the pieces asked for last."""

    def __init__(self) -> None:
        self._graphs: Kept[nx.Graph] = Kept(3)
        self._best: Kept[Ordered] = Kept(40)

    def graph(self, piece: Piece) -> nx.Graph:
        """How the prints of the piece go together: the same while their colours are."""
        return self._graphs.get(_colours(piece), lambda: ordering.graph_of(piece))

    def report(self, piece: Piece, found: Ordered) -> ContrastReport:
        """How the prints of an order meet."""
        from sequencer.ordering.reporting import contrast

        return contrast(list(piece.prints), found, self.graph(piece))

    def price(self, piece: Piece, order: Sequence[str]) -> Json:
        """What an order costs against the best of the same prints, while cloth is moved.

        Raises:
            SequenceError: it names a print that is not there, or one twice.
        """
        from sequencer.order import score_sequence
        from sequencer.ordering.reporting import contrast

        graph = self.graph(piece)
        loop, aim = _loop_and_aim(piece)
        best = self.best(piece, order)
        scored = score_sequence(graph, list(order), loop=loop, aim=aim, best=best, moves=0)
        laid = _as_laid(best, scored)
        if piece.sequence is not None:
            laid = replace(laid, neighbours=doubts_of(piece.sequence, laid))
        report = contrast(list(piece.prints), laid, graph, whole=False)
        return {
            "percent": round(scored.percent, 2), "price": price_words(laid),
            "words": scored.words, "neighbours": neighbours_json(piece, laid, report),
        }  # fmt: skip

    def best(self, piece: Piece, order: Sequence[str]) -> Ordered | None:
        """The best order of the same prints; None where these are none."""
        from sequencer.order import find_sequence

        loop, aim = _loop_and_aim(piece)
        graph = self.graph(piece)
        if len(set(order)) < 2 or not all(one in graph for one in order):
            return None
        chosen = graph.subgraph(order)
        key = (_colours(piece), frozenset(order), loop, aim)
        return self._best.get(key, lambda: find_sequence(chosen, loop=loop, aim=aim))


def _loop_and_aim(piece: Piece) -> tuple[bool, str]:
    return bool(piece.order_wishes.get("loop", True)), str(piece.order_wishes.get("aim") or "even")


def _colours(piece: Piece) -> tuple[object, ...]:
    """What the graph of a piece is made of."""
    return tuple((one.id, one.mean_lab, one.palette, one.spread) for one in piece.prints)


def _as_laid(best: Ordered | None, scored: Any) -> Ordered:
    """A scored order as a sequence, to look at how its prints meet."""
    assert best is not None
    return replace(best, order=scored.order, total=scored.total, worst=scored.worst,
                   neighbours=scored.neighbours, best=best.order, percent=scored.percent)
