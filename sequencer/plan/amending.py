"""A plan with some of its wishes changed: what else must give way, and what stays as it is.

Height, strips and repeats hang together, and so do units and every length. Whoever changes one of
them does not want to be told that the others no longer fit: what was not named gives way, the rest
of the plan stays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.inches import on_grid, round_near, with_units
from sequencer.models import Plan
from sequencer.plan.asked import METRIC, MM, length, read_size
from sequencer.plan.asked.request import INCHES, read_strips

_SHAPE = frozenset({
    "size", "strip", "repeats", "curve", "curve_height", "curve_count", "curve_phase", "seam",
    "smallest", "largest", "steps", "symmetric", "grid", "units",
})  # fmt: skip
"""Wishes that the columns hang on: columns listed one by one, or pieces laid out, give way."""

_ON_A_RULER = ("seam", "smallest", "largest", "grid", "squaring", "usable", "tolerance",
               "straighten", "spare", "backing", "binding")  # fmt: skip
"""Lengths that custom sets by unit: in other units custom sets them anew."""


def amended(plan: Plan, seq: Sequence[str], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The plan's wishes with ``changes`` among them, for these prints in this order.

    Border and binding keep their prints, strips their widths. Where the height no longer follows
    from strips and repeats, the one that was not named is settled anew.

    Raises:
        UsageError: a length or size that cannot be understood.
    """
    asked = {**plan.options["asked"], "border_print": _edge(plan.border),
             "binding_print": _edge(plan.binding)}  # fmt: skip
    if "curve" in changes:
        asked |= {"curve_height": None, "curve_count": None, "curve_phase": 0.0}
    if _SHAPE & set(changes):
        asked |= {"columns": None, "offsets": None, "pieces": None, "set_length": None}
    if "method" in changes:
        asked["sets"] = "auto"
    new = set(seq) != set(plan.prints)
    if changes.get("units") not in (None, plan.options["units"]):
        asked |= _in_units(plan, seq, str(changes["units"]))
    elif "size" in changes:
        asked |= _of_size(plan, seq, changes)
    elif new or {"strip", "repeats"} & set(changes):
        asked |= _of_strips(plan, seq, changes)
    return {**asked, **changes}


def _edge(edge: Mapping[str, Any] | None) -> str | None:
    return None if edge is None else str(edge["print"])


def _widths(plan: Plan, seq: Sequence[str]) -> dict[str, Fraction]:
    """Each print's strip; one that is new gets the commonest width."""
    usual = Counter(plan.finished_strip.values()).most_common(1)[0][0]
    return {key: Fraction(plan.finished_strip.get(key, usual)) for key in seq}


def _plain(strips: Mapping[str, Fraction]) -> Any:
    told = {key: f"{width} in" for key, width in strips.items()}
    return next(iter(told.values())) if len(set(told.values())) == 1 else told


def _of_size(plan: Plan, seq: Sequence[str], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Another size: the strips stay if they make its height, else they are fitted anew."""
    wanted = read_size(with_units(changes["size"], str(plan.options["units"])))
    strips = _widths(plan, seq)
    if wanted is None or wanted[1] % sum(strips.values(), Fraction(0)):
        return {"strip": None if wanted is None else "fit", "repeats": None, "fitted": None}
    if set(seq) == set(plan.prints) and wanted[1] == plan.centre[1]:
        return {}
    return {"strip": _plain(strips), "repeats": None, "fitted": None}


def _of_strips(plan: Plan, seq: Sequence[str], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Other strips, repeats or prints: as wide as before, and as high as they make it."""
    strip = changes.get("strip")
    if strip == "fit":
        return {"fitted": None, "repeats": None, "size": plan.centre}
    typed = with_units(strip, str(plan.options["units"]))
    strips = None if strip is None else read_strips(tuple(seq), typed, plan.seam)
    strips = strips or _widths(plan, seq)
    repeats = changes.get("repeats") or plan.repeats
    height = sum(strips.values(), Fraction(0)) * int(repeats)
    return {"size": (plan.centre[0], height), "strip": _plain(strips), "repeats": int(repeats),
            "fitted": None}  # fmt: skip


def _in_units(plan: Plan, seq: Sequence[str], units: str) -> dict[str, Any]:
    """The same piece on the other ruler: every length to its nearest step."""
    step, least = (MM, METRIC.seam) if units == "cm" else (Fraction(1, 8), INCHES.seam)
    strips = {key: max(least, round_near(width, step)) for key, width in _widths(plan, seq).items()}
    height = sum(strips.values(), Fraction(0)) * plan.repeats
    own = dict.fromkeys(_ON_A_RULER)
    border = plan.options["asked"].get("border")
    kept = border if border is None or _fits(border, step, plan) else None
    return {**own, "size": (round_near(plan.centre[0], 5 * step), height), "repeats": plan.repeats,
            "strip": _plain(strips), "fitted": None, "border": kept}  # fmt: skip


def _fits(border: Any, step: Fraction, plan: Plan) -> bool:
    """Whether this border, as asked, is whole steps of the ruler (none at all is)."""
    parts = border if isinstance(border, (list, tuple)) else str(border).split(",")
    typed = with_units([str(part) for part in parts], str(plan.options["units"]))
    return all(on_grid(length("Border", part), step) for part in typed)
