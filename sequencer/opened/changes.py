"""What a hand on the page does to a piece: functions from piece to piece, none touches a file.

Each leaves a piece that can hang on the wall: where a sequence and a plan can be made, they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sequencer.errors import PassalongError, PieceError, PlanError, SequenceError, UsageError
from sequencer.models import Neighbours, Plan
from sequencer.models import Sequence as Ordered
from sequencer.opened.trying import Move, tried, wishes_of
from sequencer.ordering import sequence as ordering
from sequencer.piece import Piece
from sequencer.planning import plan_columns, planned

if TYPE_CHECKING:
    import networkx as nx

OTHERS = 4
"""Other good orders that are shown beside the best."""
_MANY = 30
"""Prints beyond which half as many others are looked for: each costs as much as the best."""
_TYPED = frozenset({"loop", "first", "last", "include", "exclude", "together", "apart", "before",
                    "aim", "distinct", "pick", "enough", "value_range"})  # fmt: skip

_HERS = ("units", "curve", "curve_count", "curve_phase", "seam", "press", "border", "corners",
         "border_print", "binding", "binding_print", "directional")  # fmt: skip


def laid(
    piece: Piece, order: Sequence[str], graph: nx.Graph, best: Ordered | None = None
) -> Piece:
    """Her own order; its wishes are kept for the next search, its widths go with their prints.

    ``best``: the best order of the same prints, where it is known.
    """
    kept: dict[str, Any] = {
        key: value for key, value in piece.order_wishes.items() if key in _TYPED
    }
    own: dict[str, Any] = {key: kept[key] for key in ("loop", "aim") if key in kept}
    if ordering.doubts_open(piece):
        piece = ordering.doubted(piece, graph)[0]
    before, plan = piece.sequence, _plan_of(piece)
    piece, found = ordering.order(
        piece, {**own, "sequence": list(order)}, doubts=False, graph=graph, best=best)
    if before is not None:
        found = replace(found, alternatives=before.alternatives,
                        neighbours=doubts_of(before, found))
    wishes = {**kept, "sequence": list(found.order), "exclude": list(found.left_out)}
    wishes = {key: value for key, value in wishes.items() if value != []}
    return hung(replace(piece, sequence=found, order_wishes=wishes), plan)


def doubts_of(before: Ordered, found: Ordered) -> tuple[Neighbours, ...]:
    """The meetings of an order, each as doubtful as it was in the order before."""
    doubtful = {frozenset((pair.a, pair.b)) for pair in before.neighbours if not pair.certain}
    return tuple(
        replace(pair, certain=pair.certain and frozenset((pair.a, pair.b)) not in doubtful)
        for pair in found.neighbours
    )


def ordered(piece: Piece, patch: Mapping[str, Any], graph: nx.Graph) -> Piece:
    """The best order under the wishes kept so far with these changed; None takes one back. How sure
    it is follows (:func:`sequencer.ordering.sequence.doubted`).

    Raises:
        UsageError: a wish that an order does not have.
        SequenceError: the wishes cannot be met.
    """
    unknown = sorted(set(patch) - _TYPED)
    if unknown:
        raise UsageError(f"An order has no {', '.join(unknown)} to choose.")
    kept = {key: value for key, value in piece.order_wishes.items() if key in _TYPED}
    wishes = {key: value for key, value in {**kept, **patch}.items() if value not in (None, [])}
    plan = _plan_of(piece)
    others = OTHERS if len(piece.prints) <= _MANY else OTHERS // 2
    piece = ordering.order(
        piece, {**wishes, "alternatives": others}, doubts=False, graph=graph)[0]
    wanted = {key: value for key, value in piece.order_wishes.items() if key in _TYPED}
    return hung(replace(piece, order_wishes=wanted), plan)


def named(piece: Piece, id_: str, name: str) -> Piece:
    """A print with a name of the maker's own, or with none; the plan stays and says it so."""
    from sequencer.set_right import renamed, unnamed

    before = _plan_of(piece)
    fresh = renamed(piece, {id_: name}) if name.strip() else unnamed(piece, [id_])
    if before is None or fresh.plan is not None:
        return fresh
    fresh = hung(fresh, before)
    return replace(fresh, plan={**(fresh.plan or {}), "search": before.to_json()["search"]})


def sized(piece: Piece, id_: str, sizes: Sequence[Sequence[str]]) -> Piece:
    """A print with the scraps she measured, in the piece's units; the plan is made anew.

    Raises:
        UsageError: a size cannot be read.
    """
    from sequencer.set_right import resized

    if not sizes:
        raise UsageError("A scrap has two sides: type its length and its width.")
    text = ",".join(f"{long}x{short}" for long, short in sizes)
    return pictured(resized(piece, {id_: text}))


def moved(piece: Piece, move: Move) -> Piece:
    """The plan with one thing moved; the wishes that fix it are kept.

    Raises:
        PlanError: there is no plan yet, or none like this can be sewn.
    """
    plan = _plan_of(piece)
    if plan is None:
        raise PlanError("There is no plan yet that could be changed.")
    fresh = tried(plan, piece.prints, move, prove=True)
    return replace(piece, plan=fresh.to_json(), plan_wishes=wishes_of(fresh), sewn={})


def hung(piece: Piece, before: Plan | None) -> Piece:
    """The piece with a plan for its sequence: the one before with its cloth moved, where that
    holds the same prints, else one by the wishes kept.
    """
    sequence = piece.sequence
    if sequence is None:
        return piece
    if before is not None and set(before.prints) == set(sequence.order):
        plan = tried(before, piece.prints, Move({}, order=sequence.order), prove=True)
        wishes = piece.plan_wishes
        if not isinstance(wishes.get("strip"), (str, type(None), Mapping)):
            wishes = {**wishes, "strip": wishes_of(plan)["strip"]}
        return replace(piece, plan=plan.to_json(), plan_wishes=wishes, sewn={})
    return planned_anyhow(piece)


def planned_anyhow(piece: Piece) -> Piece:
    """A plan by the wishes kept, or where they cannot be met by none but the units."""
    try:
        return plan_columns(piece)[0]
    except (PlanError, UsageError):
        units = {key: piece.plan_wishes[key] for key in ("units",) if key in piece.plan_wishes}
        return plan_columns(piece, units)[0]


def pictured(piece: Piece, before: Ordered | None = None) -> Piece:
    """The first picture without a question: an order and a plan where none are kept. What was in
    doubt in the sequence ``before`` stays so until it is tried again.

    Her own order stays, with what has come since. Where the wishes kept cannot be met any more
    (their cloth is gone), they go; where even that gives none, the piece stays without a picture.
    """
    if piece.sequence is None and len(piece.prints) > 1:
        graph = ordering.graph_of(piece)
        try:
            own = _with_new(piece, graph)
            piece = laid(piece, own, graph) if own else ordered(piece, {}, graph)
        except SequenceError:
            piece = ordered(replace(piece, order_wishes={}), {}, ordering.graph_of(piece))
        if before is not None and piece.sequence is not None:
            neighbours = doubts_of(before, piece.sequence)
            piece = replace(piece, sequence=replace(piece.sequence, neighbours=neighbours))
    if piece.sequence is None or piece.plan is not None:
        return piece
    try:
        return planned_anyhow(piece)
    except PassalongError:
        return piece


def _with_new(piece: Piece, graph: nx.Graph) -> list[str]:
    """Her own order, each print that has come since where it costs least; empty if none is kept."""
    own = list(piece.order_wishes.get("sequence") or ())
    boxed = set(piece.order_wishes.get("exclude") or ())
    closes = bool(piece.order_wishes.get("loop", True))
    for one in piece.prints if len(own) > 1 else ():
        if one.id not in own and one.id not in boxed:
            own.insert(_cheapest(graph, own, one.id, closes), one.id)
    return own if len(own) > 1 else []


def _cheapest(graph: nx.Graph, own: Sequence[str], id_: str, closes: bool) -> int:
    """The place in an order at which one print more costs least; what may not meet, most."""
    def cost(a: str, b: str) -> float:
        return float(graph[a][b]["cost"]) ** 2 if graph.has_edge(a, b) else float("inf")

    def more(place: int) -> float:
        if not closes and place == len(own):
            return cost(own[-1], id_)
        a, b = own[place - 1], own[place % len(own)]
        return cost(a, id_) + cost(id_, b) - cost(a, b)

    return min(range(1, len(own) + 1), key=more)


def bettered(piece: Piece, goal: Mapping[str, Any]) -> Piece:
    """The largest piece (``largest_piece``), or the best one (``best_at`` a size, or of any).

    What makes it hers stays: curve, seam, pressing, border, binding, units, one-way prints.

    Raises:
        PlanError: no scrap has a size, or none such can be cut.
    """
    plan = _plan_of(piece)
    own = {} if plan is None else wishes_of(plan)
    kept = {key: own[key] for key in _HERS if key in own}
    return plan_columns(piece, {**kept, **goal})[0]


def took(piece: Piece, way: Mapping[str, Any], graph: nx.Graph) -> Piece:
    """A way out that was tried: its plan, and its order where it swaps a print."""
    found = piece.sequence
    if found is None or list(found.order) != way["order"]:
        piece = laid(piece, way["order"], graph)
    return replace(piece, plan=dict(way["plan"]), plan_wishes=dict(way["wishes"]), sewn={})


def dismissed(piece: Piece, number: int) -> Piece:
    """The piece without the refused photograph of this number, from 1.

    Raises:
        PieceError: there is none.
    """
    if not 1 <= number <= len(piece.rejected):
        raise PieceError("That photograph is no longer in the list.")
    kept = (*piece.rejected[: number - 1], *piece.rejected[number:])
    return replace(piece, rejected=kept)


def _plan_of(piece: Piece) -> Plan | None:
    if piece.plan is None:
        return None
    return planned(piece)[1]
