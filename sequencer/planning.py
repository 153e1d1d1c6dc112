"""Prints in order → plan: as wished, as kept, sewn on, with its ways out and at another size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sequencer.errors import PlanError, UsageError
from sequencer.inches import parse_length, with_units
from sequencer.keys import told
from sequencer.models import Plan, Print, Sequence, plain
from sequencer.ordering.sequence import ALWAYS, order, sequenced
from sequencer.piece import Piece
from sequencer.summary import typed

if TYPE_CHECKING:
    from sequencer.plan.answers import WayOut as WayOut
    from sequencer.plan.scaling import Scaled


def plan_columns(piece: Piece, wishes: Mapping[str, Any] | None = None) -> tuple[Piece, Plan]:
    """Plan columns, strips and steps; without wishes those of last time count. Not saved here.

    The wish ``largest_piece`` asks for the largest the scraps can give, ``best_at`` (a size) for
    the best one of that size; without a size the best that the scraps can give is looked for.
    Wishes are kept as asked: the same prints give the same plan.
    """
    piece, sequence = sequenced(piece)
    wanted = wished(piece, wishes)
    plan = _planned_as_wished(list(piece.prints), sequence, wanted)
    kept = _without_files(wanted, plan)
    return replace(piece, plan_wishes=kept, plan=plan.to_json(), sewn={}), plan


def wished(piece: Piece, wishes: Mapping[str, Any] | None) -> dict[str, Any]:
    """What is wished now, by ids, in the units of last time; without wishes those of last time."""
    own = {key: piece.plan_wishes[key] for key in ("units",) if key in piece.plan_wishes}
    return _by_id(piece, piece.plan_wishes if wishes is None else {**own, **wishes})


def _planned_as_wished(
    prints: list[Print], sequence: Sequence, wanted: Mapping[str, Any]
) -> Plan:
    """The largest, the best of a size, exactly as asked, or else the best of these scraps."""
    from sequencer.plan.answers import best_at, best_piece, largest_piece
    from sequencer.plan.planner import plan_columns as plan_it

    wishes = {k: v for k, v in wanted.items() if k not in {"largest_piece", "best_at"}}
    strip = wishes.pop("strip", None)
    given = {} if strip in (None, "auto") else {"strip": strip}
    if wanted.get("largest_piece"):
        return largest_piece(prints, sequence, **given, **wishes)
    if best := wanted.get("best_at"):
        return best_at(prints, sequence, best, **given, **wishes)
    if strip == "auto" and wishes.get("size"):
        return best_at(prints, sequence, wishes.pop("size"), **wishes)
    free = not any(wishes.get(key) for key in ("size", "columns", "offsets"))
    known = {one.id for one in prints if one.scraps or one.cuttable_in}
    if free and known & set(sequence.order) and not isinstance(strip, dict):
        try:
            return best_piece(prints, sequence, **given, **wishes)
        except PlanError:  # nothing can be cut: the plain plan says what lacks
            pass
    return plan_it(prints, sequence, prove=True, **given, **wishes)


def planned(piece: Piece) -> tuple[Piece, Plan]:
    """The plan kept with the piece, as it was shown; planned now where there is none yet.

    Raises:
        PlanError: what is kept is not a whole plan.
    """
    if piece.plan is None:
        return plan_columns(piece)
    from sequencer.plan import plan_from_json

    return piece, plan_from_json(piece.plan)


def _by_id(piece: Piece, wishes: Mapping[str, Any]) -> dict[str, Any]:
    """The wishes with prints' ids where their names were typed."""
    wanted = dict(wishes)
    for key in ("border_print", "binding_print"):
        if wanted.get(key):
            wanted[key] = piece.id_of(wanted[key])
    if wanted.get("directional"):
        wanted["directional"] = [piece.id_of(one) for one in wanted["directional"]]
    return wanted


def ways_out(piece: Piece, plan: Plan, folder: Path | None = None) -> tuple[WayOut, ...]:
    """Where scraps fall short: the ways out, best first, each with what it costs.

    Their commands name the piece's ``folder``.
    """
    if not any(need.short_by for need in plan.fabric) or plan.options.get("sewn"):
        return ()
    from sequencer.order import transition_graph
    from sequencer.plan.answers import ways_out as find

    graph = transition_graph(list(piece.prints))
    costs = {(a, b): float(cost) for a, b, cost in graph.edges(data="cost")}
    both = {**costs, **{(b, a): cost for (a, b), cost in costs.items()}}
    called = piece.labels
    return tuple(
        replace(way, folder=typed(folder), text=told(way.text, called),
                lacking=told(way.lacking, called))
        for way in find(plan, list(piece.prints), both)
    )  # fmt: skip


def take_way_out(piece: Piece, number: int) -> tuple[Piece, Plan]:
    """The plan after one of its ways out, and the wishes that fix it. Not saved here.

    Raises:
        UsageError: there is no such way.
    """
    from sequencer.keeping.wishes import PlanWishes as Kept

    piece, plan = planned(piece)
    ways = ways_out(piece, plan)
    if not 1 <= number <= len(ways):
        raise UsageError(
            f"There is no way out number {number}: "
            + (f"{len(ways)} are offered, see passalong plan FOLDER --ways-out." if ways else
               "nothing lacks, or nothing helps.")
        )  # fmt: skip
    way = ways[number - 1]
    if way.seq != plan.prints:
        kept = {key: piece.order_wishes[key] for key in ALWAYS if key in piece.order_wishes}
        piece, _ = order(piece, {**kept, "sequence": list(way.seq)})
    wishes = {
        key: value for key, value in way.plan.options["asked"].items()
        if key in Kept.__struct_fields__ and value not in (None, (), [], False)
    }  # fmt: skip
    return replace(piece, plan_wishes=wishes, plan=way.plan.to_json()), way.plan


def sew_on(
    piece: Piece, columns: list[int], left: str | None = None, use_up: bool = False
) -> tuple[Piece, Plan]:
    """Columns that are cut and sewn stay; the rest is planned from what is left. Not saved here.

    ``columns``: numbers from 1. ``left``: what is left of the strip set cut last, as measured.
    """
    from sequencer.plan.answers import go_on

    piece, plan = planned(piece)
    units = str(plan.options["units"])
    rest = None if left is None else parse_length(with_units(left, units))
    fresh = go_on(plan, list(piece.prints), columns, rest, use_up)
    sewn = {"columns": list(fresh.options["sewn"]["columns"]), "left": left}
    return replace(piece, plan=fresh.to_json(), sewn=sewn), fresh


def _without_files(wishes: dict[str, Any], plan: Plan) -> dict[str, Any]:
    """Wishes with a curve file's points in its place, since the file may move, and with widths
    that were fitted, or listed in sequence, by print: a moved cloth keeps its own.
    """
    asked = plan.options["asked"]
    kept = {**wishes, "curve": plain(asked["curve"])} if isinstance(
        asked["curve"], Mapping) else dict(wishes)
    if not {"largest_piece", "best_at"} & set(wishes) and wishes.get("strip") != "auto":
        kept |= {key: plain(asked[key]) for key in ("strip", "fitted")
                 if isinstance(asked.get(key), Mapping)}  # fmt: skip
    return kept


def scale(piece: Piece, size: str) -> Scaled:
    """The same design with its centre at another size: what survives, and three plain answers."""
    from sequencer.plan.scaling import scale as scale_it

    piece, plan = planned(piece)
    return scale_it(plan, list(piece.prints), size)
