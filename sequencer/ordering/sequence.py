"""The road's middle: prints → graph → sequence with its confidence and advice → contrast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Sequence
from sequencer.piece import Piece

if TYPE_CHECKING:
    import networkx as nx

ALWAYS = ("loop", "aim", "seconds")


def order(piece: Piece, wishes: Mapping[str, Any] | None = None) -> tuple[Piece, Sequence]:
    """Find the best sequence; without wishes those of last time count. Not saved here.

    The wish ``sequence`` lays the prints out as its ids say and scores that against the best.

    Raises:
        SequenceError: fewer than two prints, or the wishes cannot be met.
        PieceError: a wish names a print that is not there.
    """
    wanted = _by_id(piece, piece.order_wishes if wishes is None else wishes)
    if len(piece.prints) < 2:
        held = piece.prints[0].id if piece.prints else "none at all"
        raise SequenceError(f"only one print ({held}): nothing to order. Add more photos.")
    found = _laid_out(piece, wanted) if wanted.get("sequence") else _found(piece, wanted)
    return replace(piece, sequence=found, order_wishes=wanted, plan=None), found


def sequenced(piece: Piece) -> tuple[Piece, Sequence]:
    """The piece with its sequence, found by last time's wishes where it has none yet."""
    return (piece, piece.sequence) if piece.sequence else order(piece)


def score(piece: Piece, wishes: Mapping[str, Any]) -> Sequence:
    """Her own order (the wish ``sequence``) against the best one; the piece stays as it is."""
    found = order(piece, wishes)[1]
    return replace(found, notes=(*found.notes, "Only scored: the piece keeps its own sequence. "
                                 "Add --keep to sew this one."))


def contrast(piece: Piece) -> ContrastReport:
    """How the neighbours meet, in sewing order, and what would bridge each jump."""
    from sequencer.ordering.reporting import contrast as report

    piece, sequence = sequenced(piece)
    return report(list(piece.prints), sequence, _graph(piece))


def _graph(piece: Piece) -> nx.Graph:
    from sequencer.order import transition_graph

    return transition_graph(list(piece.prints))


def _found(piece: Piece, wanted: Mapping[str, Any]) -> Sequence:
    from sequencer.order import find_sequence
    from sequencer.order.words.compared import describe_alternative
    from sequencer.ordering.enough import enough_cloth

    graph = _graph(piece)
    asked = {key: value for key, value in wanted.items() if value is not None}
    cloth = enough_cloth(piece, wanted) if asked.pop("enough", False) else None
    if cloth:
        asked["exclude"] = [*(asked.get("exclude") or ()), *cloth.short]
    found = find_sequence(graph, prints=piece.prints, **asked)
    if cloth:
        found = replace(found, notes=(*found.notes, cloth.note()))
    prints = list(piece.prints)
    others = tuple(
        replace(other, note=describe_alternative(found, other, prints) or other.note)
        for other in found.alternatives
    )
    return _advised(graph, replace(found, alternatives=others), piece)


def _laid_out(piece: Piece, wanted: Mapping[str, Any]) -> Sequence:
    """Her own order as a sequence: bounded by the best one, its best moves told."""
    from sequencer.order import score_sequence

    extra = sorted(key for key, value in wanted.items()
                   if key not in (*ALWAYS, "sequence") and value not in (None, [], (), 0))
    if extra:
        raise SequenceError(
            f"your own order is scored as it lies; leave out {', '.join(extra)}, "
            "or leave out the sequence to search with these wishes."
        )
    graph = _graph(piece)
    chosen = {key: wanted[key] for key in ALWAYS if key in wanted}
    scored = score_sequence(graph, list(wanted["sequence"]), **chosen)
    best = scored.best
    proved = best.status == "optimal" and scored.total <= best.total
    laid = replace(
        best,
        order=scored.order,
        total=scored.total,
        worst=scored.worst,
        status="optimal" if proved else "bounded",
        gap=max(0.0, 1 - best.lower_bound / scored.total) if scored.total > 0 else 0.0,
        neighbours=scored.neighbours,
        left_out=tuple(one.id for one in piece.prints if one.id not in scored.order),
        best=best.order,
        percent=scored.percent,
        moves=tuple(move.to_json() for move in scored.moves),
        notes=(),
    )
    return _advised(graph, _with_doubts(graph, laid, piece) if proved else laid, piece)


def _with_doubts(graph: nx.Graph, found: Sequence, piece: Piece) -> Sequence:
    from sequencer.order.confidence import confidence, with_confidence

    kept = confidence(graph, found, list(piece.prints))
    return replace(with_confidence(found, kept), confidence=kept.to_json())


def _advised(graph: nx.Graph, found: Sequence, piece: Piece) -> Sequence:
    from sequencer.order.words.advice import advise

    return replace(found, notes=(*found.notes, *advise(graph, found, list(piece.prints))))


def _by_id(piece: Piece, wishes: Mapping[str, Any]) -> dict[str, Any]:
    """The wishes with prints' ids where their names were typed."""
    wanted = dict(wishes)
    for key in ("first", "last"):
        if wanted.get(key):
            wanted[key] = piece.id_of(wanted[key])
    for key in ("include", "exclude", "sequence"):
        if wanted.get(key):
            wanted[key] = [piece.id_of(one) for one in wanted[key]]
    for key in ("together", "apart", "before"):
        if wanted.get(key):
            wanted[key] = [(piece.id_of(a), piece.id_of(b)) for a, b in wanted[key]]
    return wanted
