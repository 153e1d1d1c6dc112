"""The room's road: what was asked → columns → strip sets → steps → :class:`Plan`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sequencer import doors
from sequencer.models import Column, FabricNeed, Plan, Print, ScrapUse
from sequencer.models import Sequence as Ordered
from sequencer.plan.asked import Length, PlanWishes, Request, choose, read_pieces, understand
from sequencer.plan.cloth import (
    Finishing,
    Handing,
    Ledger,
    Wanted,
    cut_edges,
    fabric_needs,
    finish,
    frame_print,
    pick_print,
    set_tables,
    settle,
    with_edges,
)
from sequencer.plan.columns import follow
from sequencer.plan.curve import Curve, Points
from sequencer.plan.options import (
    asked_again,
    asked_curve,
    asked_strips,
    curve_wished,
    options_of,
)
from sequencer.plan.sewing import (
    StripSet,
    count_layers,
    count_seams,
    sewing_steps,
    simulate_precision,
)
from sequencer.plan.words import plan_warnings, say_steps


def plan_columns(
    prints: Sequence[Print],
    seq: Ordered | Sequence[str],
    size: str | Sequence[Length] | None = None,
    strip: Length | Sequence[Length] | Mapping[str, Length] | None = None,
    repeats: int | None = None,
    curve: str | Path | Curve | Points | Mapping[str, Any] | None = "wave",
    **wishes: Any,
) -> Plan:
    """Plan a stepped, curved panel: exact columns, strips, sewing steps and finishing.

    ``seq``: a Sequence or ids in order, 2 or more. Sizes of ``prints`` may be known or not. Every
    other wish is a field of :class:`~sequencer.plan.asked.PlanWishes`, told there. In column c,
    row r (0 at the top) shows ``order[(r + offset_c) mod n]``.

    Raises:
        UsageError: a wish that cannot be understood, or what is no list of prints and no sequence.
        PlanError: a panel that cannot be cut or sewn, with what would be possible.
    """
    prints = doors.prints(prints)
    asked = {"size": size, "strip": strip, "repeats": repeats, "curve": curve, **wishes}
    return plan_wished(prints, seq, PlanWishes.of(asked))


def plan_wished(
    prints: Sequence[Print], seq: Ordered | Sequence[str], wishes: PlanWishes
) -> Plan:
    """:func:`plan_columns` for wishes in one record."""
    request = understand(prints, seq, wishes)
    shape = curve_wished(wishes)
    followed = follow(request, shape)
    known = {item.id: item for item in prints}
    given = read_pieces(wishes.pieces, request.ids)
    harder = doors.flag("prove", wishes.prove)
    sets, ledger = settle(request, known, followed.columns, given, harder)
    fabric = fabric_needs(request, ledger)
    finished = finish_panel(request, wishes, followed.columns, known, ledger.uses)
    sewing = sewing_steps(
        request, followed.columns, sets, Handing(ledger), finished.borders, finished.binding
    )
    fresh = around(request, wishes, followed.columns, sets, sewing, finished, known, fabric, seq)
    asked = wishes.plain() | asked_curve(shape) | asked_strips(request, wishes)
    return Plan(
        prints=request.ids,
        seam=request.seam,
        repeats=request.repeats,
        rows=request.rows,
        finished_strip=dict(request.strips),
        columns=followed.columns,
        centre=(request.width, request.height),
        fabric=fabric,
        steps=sewing,
        fit_rms_rows=followed.rms_rows,
        method=request.method,
        press=request.press,
        curve="given" if followed.curve is None else followed.curve.name,
        sets=set_tables(sets, ledger, request.squaring),
        search=_search(ledger),
        **{
            **fresh,
            "warnings": (*followed.warnings, *fresh["warnings"]),
            "options": options_of(request, followed.curve, asked, fresh["options"]["precision"]),
        },
    )


def sketch(prints: Sequence[Print], seq: Ordered | Sequence[str], wishes: PlanWishes) -> Plan:
    """What a picture of the plan needs, in a hundredth of the time: no scraps cut, no steps told.

    The same columns, strips and edges as :func:`plan_wished` finds, but for a border or binding
    print that nobody wished: the first print stands for it.
    """
    request, shape = understand(prints, seq, wishes), curve_wished(wishes)
    followed = follow(request, shape)
    framed = replace(wishes, border_print=wishes.border_print or request.ids[0])
    known = {item.id: item for item in prints}
    finished = finish_panel(request, framed, followed.columns, known, {})
    return Plan(
        prints=request.ids, seam=request.seam, repeats=request.repeats, rows=request.rows,
        finished_strip=dict(request.strips), columns=followed.columns,
        centre=(request.width, request.height), bordered=finished.bordered, fabric=(), layers={},
        seams={}, border=finished.border, binding=finished.binding, backing=None, batting=None,
        steps=(), warnings=followed.warnings, fit_rms_rows=followed.rms_rows,
        method=request.method, press=request.press,
        curve="given" if followed.curve is None else followed.curve.name,
        options=options_of(request, followed.curve, wishes.plain() | asked_curve(shape), {}),
    )  # fmt: skip


def around(
    request: Request,
    wishes: PlanWishes,
    columns: Sequence[Column],
    sets: Sequence[StripSet],
    steps: Sequence[Mapping[str, Any]],
    finished: Finishing,
    known: Mapping[str, Print],
    fabric: Sequence[FabricNeed],
    seq: Ordered | Sequence[str] = (),
) -> dict[str, Any]:
    """What follows from columns and steps: sizes, layers, seams, words (fields of the Plan)."""
    layers = count_layers(request, columns)
    seams = count_seams(request, columns, steps, finished.borders)
    precision = simulate_precision(request, columns, sets, doors.whole("seed", wishes.seed))
    lacking = [need.print for need in fabric if need.short_by]
    return {
        "bordered": finished.bordered,
        "layers": layers,
        "seams": seams,
        "border": finished.border,
        "binding": finished.binding,
        "backing": finished.backing,
        "batting": finished.batting,
        "edges": finished.edges,
        "warnings": plan_warnings(
            request, seq, known, columns, fabric, seams, layers, precision,
            [*finished.borders, finished.binding],
        ),
        "instructions": say_steps(request, columns, sets, steps, finished, known, lacking),
        "options": {"precision": precision},
    }  # fmt: skip


def finish_panel(
    request: Request,
    wishes: PlanWishes,
    columns: Sequence[Column],
    known: Mapping[str, Print],
    uses: Mapping[str, Sequence[ScrapUse]],
) -> Finishing:
    """Border, binding, backing; of the prints asked for, or of one that frames well. Border and
    binding are cut from what the strips leave of the scraps where those hold them, else bought.
    ``uses``: what is cut from each print's scraps already.
    """
    prints = list(known.values())
    corners = choose("Corners", wishes.corners, ("butted", "mitred"))

    def finished(framing: str, edging: str) -> Finishing:
        return finish(request, wishes.border, framing, wishes.binding, edging, wishes.backing,
                      corners)  # fmt: skip

    asked, edging = (given if given is None else pick_print(given, prints)
                     for given in (wishes.border_print, wishes.binding_print))  # fmt: skip
    sizes = finished(prints[0].id, prints[0].id)
    wanted = Wanted.of(sizes.borders, None if edging else sizes.binding)

    def held(key: str) -> bool | None:
        if not known[key].scraps and known[key].cuttable_in is None:
            return None
        _, border, binding = cut_edges(request, known[key], uses.get(key, ()), wanted)
        return (border or not wanted.borders) and (binding or not wanted.binding)

    framing = asked or frame_print(request, columns, known, held)
    whole = finished(framing, edging or framing)
    return with_edges(request, whole, known[framing], known[edging or framing], uses)


def _search(ledger: Ledger) -> dict[str, Any]:
    """What may be said of the cutting: the strip that lacks (inches) beside what must lack."""
    short = sum(ledger.short.values())
    best = float(ledger.least_short)
    if not short and not ledger.joins:
        return {"status": "proved", "what": "no strip lacks and none is joined; no other cutting "
                "of these columns can do better", "best_possible": best}  # fmt: skip
    tried = (
        f"compared: {ledger.tried} lengths of strip set for these columns, all sets of one length "
        "but the last; of these the one whose scraps lack least, then with fewest joins"
    )
    if short:
        known = "; no length of set and no cutting lacks less, fewer joins were not ruled out"
        return {
            "status": "proved" if short == ledger.least_short else "bounded",
            "what": tried + (known if short == ledger.least_short else "; not compared: other "
                             "columns, sets of several lengths"),
            "best_possible": best, "gap": round(float(short) - best, 4),
        }  # fmt: skip
    return {
        "status": "tried",
        "what": f"{tried}; nothing lacks, and how few joins there could be is not bounded",
        "best_possible": None,
    }


def replan(
    plan: Plan, prints: Sequence[Print], seq: Ordered | Sequence[str] | None = None, **changes: Any
) -> Plan:
    """The same plan with some arguments of :func:`plan_columns` changed.

    Raises:
        UsageError: an argument that ``plan_columns`` does not have.
    """
    asked = asked_again(plan, changes)
    return plan_columns(prints, plan.prints if seq is None else seq, **asked)
