"""The road's middle: prints → graph → sequence with its confidence and advice → contrast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sequencer.errors import SequenceError
from sequencer.models import ContrastReport, Progress, Sequence
from sequencer.piece import Piece

if TYPE_CHECKING:
    import networkx as nx

ALWAYS = ("loop", "aim", "seconds")
"""Wishes that hold for her own order as for one that is looked for."""


def order(
    piece: Piece, wishes: Mapping[str, Any] | None = None, *,
    doubts: bool = True, graph: nx.Graph | None = None, best: Sequence | None = None,
) -> tuple[Piece, Sequence]:
    """Find the best sequence; without wishes those of last time count. Not saved here.

    The strip set repeats, so the last print meets the first unless the wish ``loop`` says no.
    The wish ``sequence`` lays the prints out as its ids say and scores that against the best.
    Without ``doubts`` no confidence is worked out, nine tenths of the work: ask :func:`doubted`
    for it afterwards. ``graph``: what :func:`graph_of` gave for these prints, if it was kept;
    ``best``: the best order of the prints that the wish ``sequence`` lays, if it is known.

    Raises:
        SequenceError: fewer than two prints, or the wishes cannot be met.
        PieceError: a wish names a print that is not there.
    """
    wanted = {"loop": True, **_by_id(piece, piece.order_wishes if wishes is None else wishes)}
    asked = _laid_alone(wanted) if wishes is None else wanted
    if len(piece.prints) < 2:
        held = piece.prints[0].id if piece.prints else "none at all"
        raise SequenceError(f"only one print ({held}): nothing to order. Add more photos.")
    graph = graph_of(piece) if graph is None else graph
    if wanted.get("sequence"):
        found = _laid_out(piece, asked, graph, best)
    else:
        found = _found(piece, wanted, graph)
    found = _advised(graph, found, piece)
    found = _doubted(piece, wanted, found, graph) if doubts else found
    return replace(piece, sequence=found, order_wishes=wanted, plan=None), found


def _laid_alone(wanted: Mapping[str, Any]) -> dict[str, Any]:
    """Her own order as it is kept, without the wishes that wait beside it for a new search."""
    if not wanted.get("sequence"):
        return dict(wanted)
    return {key: value for key, value in wanted.items() if key in (*ALWAYS, "sequence")}


def sequenced(piece: Piece) -> tuple[Piece, Sequence]:
    """The piece with its sequence, found by last time's wishes where it has none yet."""
    return (piece, piece.sequence) if piece.sequence else order(piece)


def score(piece: Piece, wishes: Mapping[str, Any]) -> Sequence:
    """Her own order (the wish ``sequence``) against the best one; the piece stays as it is."""
    found = order(piece, wishes)[1]
    return replace(found, notes=(*found.notes, "Only scored: the piece keeps its own sequence. "
                                 "Add --keep to sew this one."))


def doubts_open(piece: Piece) -> bool:
    """Whether the confidence of its best order was left for later, and has not come yet."""
    found = piece.sequence
    return (found is not None and not found.confidence
            and not found.best and not piece.order_wishes.get("sequence"))  # fmt: skip


def doubted(
    piece: Piece, graph: nx.Graph | None = None, progress: Progress | None = None
) -> tuple[Piece, Sequence]:
    """The piece with its sequence and the confidence that :func:`order` left out, if it did.

    ``progress`` is called with each trial; what it raises ends the work.
    """
    piece, found = sequenced(piece)
    if not doubts_open(piece):
        return piece, found
    graph = graph_of(piece) if graph is None else graph
    found = _doubted(piece, piece.order_wishes, found, graph, progress)
    return replace(piece, sequence=found), found


def contrast(piece: Piece) -> ContrastReport:
    """How the neighbours meet, in sewing order, and what would bridge each jump."""
    from sequencer.ordering.reporting import contrast as report

    graph = graph_of(piece)
    piece, sequence = doubted(piece, graph)
    return report(list(piece.prints), sequence, graph)


def graph_of(piece: Piece) -> nx.Graph:
    """The transition graph of the piece's prints: the same while these stay as they are."""
    from sequencer.order import transition_graph

    return transition_graph(list(piece.prints))


def _found(piece: Piece, wanted: Mapping[str, Any], graph: nx.Graph) -> Sequence:
    from sequencer.order import find_sequence
    from sequencer.order.words.compared import describe_alternative
    from sequencer.ordering.enough import enough_cloth

    asked = {key: value for key, value in wanted.items() if value is not None}
    cloth = enough_cloth(piece, wanted) if asked.pop("enough", False) else None
    if cloth:
        asked["exclude"] = [*(asked.get("exclude") or ()), *cloth.short]
    found = find_sequence(graph, **asked)
    if cloth:
        found = replace(found, notes=(*found.notes, cloth.note()))
    prints = list(piece.prints)
    others = tuple(
        replace(other, note=describe_alternative(found, other, prints) or other.note)
        for other in found.alternatives
    )
    return replace(found, alternatives=others)


def _laid_out(
    piece: Piece, wanted: Mapping[str, Any], graph: nx.Graph, known: Sequence | None
) -> Sequence:
    """Her own order as a sequence: bounded by the best one, its best moves told."""
    from sequencer.order import score_sequence

    extra = sorted(key for key, value in wanted.items()
                   if key not in (*ALWAYS, "sequence") and value not in (None, [], (), 0))
    if extra:
        raise SequenceError(
            f"your own order is scored as it lies; leave out {', '.join(extra)}, "
            "or leave out the sequence to search with these wishes."
        )
    chosen = {key: wanted[key] for key in ALWAYS if key in wanted}
    scored = score_sequence(graph, list(wanted["sequence"]), best=known, **chosen)
    best = scored.best
    # aim worst: a cheaper sum with a larger step is worse, and the gap is in both figures
    gentle = scored.aim != "worst" or scored.worst <= best.worst
    proved = best.status == "optimal" and scored.total <= best.total and gentle
    gaps = [1 - best.lower_bound / scored.total if scored.total > 0 else 0.0]
    if scored.aim == "worst" and scored.worst > 0:
        gaps.append(1 - best.worst * (1 - best.gap) / scored.worst)
    return replace(
        best,
        order=scored.order,
        total=scored.total,
        worst=scored.worst,
        status="optimal" if proved else "bounded",
        gap=max(0.0, *gaps),
        neighbours=scored.neighbours,
        left_out=tuple(one.id for one in piece.prints if one.id not in scored.order),
        best=best.order,
        percent=scored.percent,
        moves=tuple(move.to_json() for move in scored.moves),
        notes=(),
    )


def _doubted(
    piece: Piece, wanted: Mapping[str, Any], found: Sequence, graph: nx.Graph,
    progress: Progress | None = None,
) -> Sequence:
    """With its confidence; her own order has none unless it is the best."""
    from sequencer.order import doubts
    from sequencer.order.words.advice import unsure

    if found.best and found.status != "optimal":
        return found
    prints = list(piece.prints)
    asked = None if wanted.get("sequence") else wanted
    found = doubts(graph, found, prints, asked, progress)
    remark = unsure(found, {one.id: one for one in prints})
    fresh = remark and remark not in found.notes
    return replace(found, notes=(*found.notes, remark)) if fresh else found


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
