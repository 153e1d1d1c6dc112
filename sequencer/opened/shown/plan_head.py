"""What a page shows of a plan: everything but the sewing."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from sequencer.inches import show_length, show_ruled
from sequencer.keys import told
from sequencer.models import FabricNeed, Json, Plan, plain
from sequencer.piece import Piece
from sequencer.plan.columns import page_line
from sequencer.summary import outside


def plan_head(piece: Piece, plan: Plan) -> Json:
    """The plan with its lengths in its own units, its words and its warnings."""
    units, called = str(plan.options.get("units") or "in"), piece.labels

    def shown(length: Fraction) -> str:
        return show_ruled(Fraction(length), units)

    return {
        "units": units,
        "prints": list(plan.prints),
        "method": plan.method,
        "press": plan.press,
        "repeats": plan.repeats,
        "rows": plan.rows,
        "seam": shown(plan.seam),
        "strip": {key: shown(width) for key, width in plan.finished_strip.items()},
        "columns": [{"offset": one.offset, "finished": shown(one.finished_width),
                     "cut": shown(one.cut_width)} for one in plan.columns],
        "centre": [shown(side) for side in plan.centre],
        "bordered": [shown(side) for side in plan.bordered],
        "outside": [shown(side) for side in outside(plan)],
        "words": _words(plan, units),
        "wishes": plain(dict(piece.plan_wishes)),
        "line": page_line(plan),
        "edges": [[one.get("print"), str(one.get("width", one.get("cut_width"))),
                   one.get("corners")] for one in _edges(plan)],
        "fabric": [_fabric(need, units, called) for need in plan.fabric],
        "search": plain(plan.search),
        "warnings": [{"code": one.code, "text": told(one.said(units), called)}
                     for one in plan.warnings],
    }  # fmt: skip


def _edges(plan: Plan) -> list[Mapping[str, Any]]:
    """Borders from the inside out, then the binding, as far as there are any."""
    borders = plan.border.get("borders") or [plan.border] if plan.border else []
    return [*borders, *([plan.binding] if plan.binding else [])]


def _words(plan: Plan, units: str) -> Json:
    """Size, columns and strips in words."""
    wide, high = (show_length(side, units) for side in outside(plan))
    widths = {one.finished_width for one in plan.columns}
    strips = set(plan.finished_strip.values())
    return {
        "size": f"{wide} wide, {high} high",
        "columns": f"{len(plan.columns)} columns, {_span(widths, units)} wide",
        "strips": f"strips {_span(strips, units)} finished",
        "rows": f"{plan.rows} rows: {len(plan.prints)} prints"
        + ("" if plan.repeats == 1 else f", {plan.repeats} times"),
    }  # fmt: skip


def _span(lengths: set[Fraction], units: str) -> str:
    least, most = min(lengths), max(lengths)
    longest = show_length(most, units)
    return longest if least == most else f"{show_ruled(least, units)} to {longest}"


def _fabric(need: FabricNeed, units: str, called: Mapping[str, str]) -> Json:
    kept = need.to_json()
    name = called.get(need.print, need.print)
    if need.have_length is None:
        words = f"{name}: no size is known"
        if need.piece:
            sides = " × ".join(show_length(side, units) for side in need.piece)
            words += f"; it takes a piece of {sides}"
    elif need.short_by > 0:
        words = f"{name} lacks {show_length(need.short_by, units)} of strip"
    else:
        words = f"{name} is long enough"
    keys = ("print", "short_by", "have_length", "needed_length", "joins", "scraps", "piece",
            "strips")
    return {**{key: kept[key] for key in keys}, "words": words}
