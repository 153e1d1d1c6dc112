"""One thing moved in the plan that hangs on the wall: what moves with it, and what stays.

The plan as it is settled is the ground; a page never asks for a panel from nothing. Width and
repeats stay where strips grow; strips stay by print where cloth is moved; a size that is typed is
filled with as many repeats as now, or else with as many as fit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError
from sequencer.inches import MM_PER_INCH, parse_length, parse_size, round_near, with_units
from sequencer.keeping.wishes import PlanWishes as KeptWishes
from sequencer.models import Plan, Print
from sequencer.plan.asked.customs import INCHES, METRIC
from sequencer.plan.asked.wishes import PlanWishes
from sequencer.plan.planner import plan_columns, sketch

MM = 1 / MM_PER_INCH
_SHAPING = frozenset({"curve", "curve_height", "curve_count", "curve_phase", "steps", "symmetric",
                      "smallest", "largest", "grid"})  # fmt: skip
"""Wishes that draw the columns anew."""


@dataclass(frozen=True)
class Move:
    """What was moved: ``wishes`` of the plan by name (None: as custom sets it), the line drawn as
    ``rows`` with the print at the left edge's ``base``, or the ``order`` of the prints.
    """

    wishes: Mapping[str, Any]
    rows: Sequence[float] | None = None
    base: int = 0
    order: Sequence[str] | None = None


def tried(plan: Plan, prints: Sequence[Print], move: Move, prove: bool = False) -> Plan:
    """The plan after the move. ``prove``: with its scraps cut thoroughly.

    Raises:
        UsageError: a wish that cannot be understood.
        PlanError: a panel that cannot be cut or sewn, with what would be possible.
    """
    return _first_possible(
        plan, move, lambda order, asked: plan_columns(prints, order, **{**asked, "prove": prove})
    )


def sketched(plan: Plan, prints: Sequence[Print], move: Move) -> Plan:
    """The same as far as a picture shows it, quick enough to follow a finger; no cloth is cut.

    Raises:
        UsageError, PlanError: as for :func:`tried`.
    """
    return _first_possible(
        plan, move, lambda order, asked: sketch(prints, order, PlanWishes.of(asked))
    )


def _first_possible(
    plan: Plan, move: Move, work: Callable[[tuple[str, ...], Mapping[str, Any]], Plan]
) -> Plan:
    order = tuple(move.order or plan.prints)
    error: PlanError | None = None
    for asked in _requests(plan, order, move):
        try:
            return work(order, asked)
        except PlanError as found:
            error = error or found
    assert error is not None
    raise error


def wishes_of(plan: Plan) -> dict[str, Any]:
    """The wishes that fix this plan, as a piece keeps them."""
    return {
        key: value for key, value in plan.options["asked"].items()
        if key in KeptWishes.__struct_fields__ and value not in (None, (), [], False)
    }  # fmt: skip


def _requests(plan: Plan, order: tuple[str, ...], move: Move) -> list[dict[str, Any]]:
    """What to ask the planner for, the likeliest first."""
    units = str(move.wishes.get("units") or plan.options["units"])
    wishes = {key: with_units(value, units) if key in ("size", "strip", "seam") else value
              for key, value in move.wishes.items()}  # fmt: skip
    asked = {**plan.options["asked"], "pieces": None, "set_length": None, **_edges(plan),
             **_line(move)}  # fmt: skip
    if _SHAPING & set(wishes) or move.rows is not None:
        asked |= {"columns": None, "offsets": None}
    if "curve" in wishes:
        asked |= {"curve_height": None, "curve_count": None, "curve_phase": 0.0}
    if units != plan.options["units"]:
        asked |= {"grid": None, "smallest": None, "seam": None, "border": None, "binding": None}
    asked |= {key: value for key, value in wishes.items() if value is not None}
    asked |= {key: _default(key) for key, value in wishes.items() if value is None}
    strips = _strips(plan, order, wishes.get("strip"), units, asked.get("seam"))
    repeats = int(asked.get("repeats") or plan.repeats)
    width, height = plan.centre[0], sum(strips.values(), Fraction(0)) * repeats
    if units != plan.options["units"] and units == "cm":
        width = round_near(width, 5 * MM)
    if wishes.get("size"):
        wide, high = parse_size(str(wishes["size"]))
        if wide != plan.centre[0]:
            asked |= {"columns": None, "offsets": None}
        if high != height:
            free = {**asked, "size": (wide, high), "strip": None}
            return [{**free, "repeats": repeats}, {**free, "repeats": None}]
        width = wide
    return [{**asked, "size": (width, height), "strip": strips, "repeats": repeats}]


def _edges(plan: Plan) -> dict[str, Any]:
    """Border and binding keep their prints: the frame does not change under her hand."""
    edges = {"border_print": plan.border, "binding_print": plan.binding}
    return {key: str(edge["print"]) for key, edge in edges.items() if edge}


def _line(move: Move) -> dict[str, Any]:
    """The curve that was drawn: heights in rows, as they are."""
    if move.rows is None:
        return {}
    drawn = {"rows": [float(row) for row in move.rows], "base": move.base}
    return {"curve": drawn, "curve_height": None, "curve_count": None, "curve_phase": 0.0}


def _default(key: str) -> Any:
    return {"curve": "wave", "curve_phase": 0.0, "steps": (1,), "sets": "auto", "joins": "any",
            "method": "loop", "press": "open", "join": "diagonal", "corners": "butted",
            "units": "in", "symmetric": False, "directional": ()}.get(key)  # fmt: skip


def _strips(
    plan: Plan, order: tuple[str, ...], strip: Any, units: str, seam: Any
) -> dict[str, Fraction]:
    """Each print's finished strip: as moved, else as it was, else as most others are."""
    usual = Counter(plan.finished_strip.values()).most_common(1)[0][0]
    if isinstance(strip, Mapping):
        moved = {key: parse_length(value) for key, value in strip.items()}
    elif strip is not None:
        moved = dict.fromkeys(order, parse_length(strip))
    else:
        moved = {}
    custom = (METRIC if units == "cm" else INCHES).seam
    least = custom if seam is None else parse_length(seam)
    grid = MM if units == "cm" and units != plan.options["units"] else None
    strips = {key: moved.get(key, plan.finished_strip.get(key, usual)) for key in order}
    return {key: max(least, width if grid is None else round_near(width, grid))
            for key, width in strips.items()}  # fmt: skip
