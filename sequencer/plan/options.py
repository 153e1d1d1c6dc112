"""Choices of a plan, as they were settled and as they were asked: kept with it to ask again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sequencer.errors import UsageError
from sequencer.models import Plan, plain
from sequencer.plan.asked import PlanWishes, Request
from sequencer.plan.curve import Curve, read_curve


def curve_wished(wishes: PlanWishes) -> Curve:
    """The curve that the wishes name."""
    return read_curve(
        wishes.curve, wishes.curve_height, wishes.curve_count, wishes.curve_phase
    )


def options_of(
    request: Request, curve: Curve | None, asked: Mapping[str, Any], precision: Mapping[str, float]
) -> dict[str, Any]:
    """Choices as they were settled, and as they were asked (for ``replan``)."""
    return {
        "units": request.units,
        "grid": request.grid,
        "smallest": request.smallest,
        "largest": request.largest,
        "steps": list(request.steps),
        "symmetric": request.symmetric,
        "sets": "tall" if request.tall else "repeat",
        "squaring": request.squaring,
        "straighten": request.straighten,
        "spare": request.spare,
        "joins": request.joins,
        "usable": request.usable,
        "join": request.join,
        "curve": None if curve is None else curve.to_json(),
        "precision": dict(precision),
        "asked": plain(asked),
    }


def asked_curve(shape: Curve) -> dict[str, Any]:
    """The curve's arguments without its file: a name, or the points themselves."""
    if shape.rows:
        return {"curve": shape.to_json(), "curve_height": None, "curve_count": None}
    drawn = {"name": shape.name, "points": [list(point) for point in shape.points]}
    return {
        "curve": drawn if shape.points else shape.name,
        "curve_height": shape.height,
        "curve_count": None if shape.points else shape.count,
        "curve_phase": shape.phase,
    }


def asked_strips(request: Request, wishes: PlanWishes) -> dict[str, Any]:
    """Widths by print: those listed in sequence, or found to fit, must not move with the order."""
    own = {key: f"{width} in" for key, width in request.strips.items()}
    wanted = wishes.strip if wishes.strip is None else str(wishes.strip)
    if wanted == "fit" or (wanted is None and wishes.size is not None):
        return {"fitted": own if len(set(own.values())) > 1 else None}
    in_sequence = isinstance(wishes.strip, (list, tuple)) or (
        isinstance(wishes.strip, str) and "," in wishes.strip and "=" not in wishes.strip)
    return {"strip": own} if in_sequence else {}


def asked_again(plan: Plan, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The plan's arguments with some changed.

    Raises:
        UsageError: an argument that ``plan_columns`` does not have.
    """
    asked = {**plan.options["asked"], **changes}
    unknown = sorted(set(changes) - set(plan.options["asked"]))
    if unknown:
        raise UsageError(f"A plan has no {', '.join(unknown)} to change.")
    if "curve" in changes:
        asked = {**asked, "curve_height": None, "curve_count": None, "curve_phase": 0.0, **changes}
    return asked
