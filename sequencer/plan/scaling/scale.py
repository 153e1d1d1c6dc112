"""The same design at another size, and three plain answers about it.

:func:`scale` plans it; :class:`Scaled` holds both plans, what survived, the figures side by side
and the answers: does it still look the same, can it be sewn, is it worth it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError, UsageError
from sequencer.inches import round_near, with_units
from sequencer.models import Json, Plan, Print, plain
from sequencer.plan.asked import Length, read_size
from sequencer.plan.planner import replan
from sequencer.plan.scaling.answers import Answer, can_be_sewn, figures, looks_the_same, worth_it
from sequencer.plan.scaling.likeness import blocks_of
from sequencer.plan.scaling.resize import Resized, curve_height, curve_miss, resize

WIDEST_BORDER = Fraction(12)
"""Borders grow with the piece up to this (our judgement)."""
WORTH_PROVING = 4
"""A shortage below this part of the cloth may be the quick cutting's own; it is looked into."""


@dataclass(frozen=True)
class Scaled:
    """A design at two sizes. ``plan`` is the new one, complete; ``survives`` what it kept."""

    before: Plan
    plan: Plan
    survives: Mapping[str, Any]
    look: Answer
    sewn: Answer
    worth: Answer

    @property
    def answers(self) -> tuple[Answer, Answer, Answer]:
        """Does it still look the same, can it be sewn, is it worth it."""
        return self.look, self.sewn, self.worth

    def to_json(self) -> Json:
        """Document ``passalong.scale/1``."""
        return {
            "schema": "passalong.scale/1",
            "before": plain(figures(self.before)),
            "after": plain(figures(self.plan)),
            "survives": plain(self.survives),
            "answers": [answer.to_json() for answer in self.answers],
            "plan": self.plan.to_json(),
        }


def scale(
    plan: Plan, prints: Sequence[Print], size: str | Sequence[Length], **changes: Any
) -> Scaled:
    """The design of ``plan`` with its centre ``size`` (``"8x10"`` or width and height).

    Rows, columns and strips scale with the size as long as each finishes at least one seam
    allowance wide; below that repeats fall away, then prints are represented by their nearest
    neighbour, and columns are fitted anew. Of what can be sewn the most similar picture wins.
    ``changes`` are arguments of ``plan_columns`` for the new piece (``border=0``, ``seam=…``).

    Raises:
        UsageError: a size that cannot be understood.
        PlanError: nothing of this design can be sewn at that size.
    """
    wanted = read_size(with_units(size, str(plan.options.get("units", "in"))))
    if wanted is None:
        raise UsageError("Scale to which size? Write width x height, like 8x10.")
    known = {item.id: item for item in prints}
    missing = [key for key in plan.prints if key not in known]
    if missing:
        raise PlanError(f"The plan names {', '.join(missing)}, but no such print was read.")
    for name in ("size", "strip", "repeats", "columns", "offsets"):
        if name in changes:
            raise UsageError(f"Scaling settles {name} itself; plan anew to choose it.")
    colours = {key: known[key].mean_lab for key in plan.prints}
    resized = resize(plan, colours, wanted)
    blocks = resized.blocks
    settled = {
        "size": wanted, "repeats": blocks.repeats, "columns": blocks.widths,
        "strip": dict(zip(blocks.order, blocks.strips, strict=True)),
        "offsets": blocks.offsets, "smallest": None, "largest": None, "pieces": None,
        **_framing(plan, blocks.order, wanted), **changes,
    }  # fmt: skip
    after = _within_scraps(plan, prints, blocks.order, settled)
    look = looks_the_same(resized.likeness, str(plan.options.get("units", "in")))
    sewn = can_be_sewn(after, {key: one.name for key, one in known.items()})
    return Scaled(
        before=plan,
        plan=after,
        survives=_survives(plan, resized, known),
        look=look,
        sewn=sewn,
        worth=worth_it(plan, after, look.verdict, sewn.verdict),
    )


def _within_scraps(
    plan: Plan, prints: Sequence[Print], order: Sequence[str], settled: Mapping[str, Any]
) -> Plan:
    """The plan, its scraps cut in the best way where the quick way does not quite suffice."""
    quick = replan(plan, prints, order, **{"prove": False, **settled})
    needed = sum((need.needed_length for need in quick.fabric), Fraction(0))
    short = sum((need.short_by for need in quick.fabric), Fraction(0))
    if "prove" in settled or not 0 < short < needed / WORTH_PROVING:
        return quick
    return replan(plan, prints, order, **{**settled, "prove": True})


def _framing(
    plan: Plan, order: Sequence[str], size: tuple[Fraction, Fraction]
) -> dict[str, Any]:
    """Borders in proportion, on the ruler, two allowances to WIDEST_BORDER; directional prints
    still there."""
    asked = plan.options["asked"]
    kept = [key for key in asked.get("directional", ()) if key in order]
    framing: dict[str, Any] = {"directional": kept, "set_length": None}
    if plan.border:
        ratio = min(size[0] / plan.centre[0], size[1] / plan.centre[1])
        grid = Fraction(plan.options["grid"])
        framing["border"] = [
            min(WIDEST_BORDER, max(2 * plan.seam, round_near(border["width"] * ratio, grid)))
            for border in plan.border["borders"]
        ]
    return framing


def _survives(plan: Plan, resized: Resized, known: Mapping[str, Print]) -> dict[str, Any]:
    blocks = resized.blocks
    merged = {key: stand for key, stand in resized.stands_for.items() if key != stand}
    rows = len(blocks.order) * blocks.repeats
    old_strips = [plan.finished_strip[key] for key in plan.prints]
    before = blocks_of(plan)
    return {
        "prints": [len(plan.prints), len(blocks.order)],
        "repeats": [plan.repeats, blocks.repeats],
        "rows": [plan.rows, rows],
        "columns": [len(plan.columns), len(blocks.widths)],
        "columns_kept": resized.columns_kept,
        "strips": [_span(old_strips), _span(blocks.strips)],
        "curve": {
            "name": plan.curve,
            "height_share": [curve_height(before), curve_height(blocks)],
            "miss_share": curve_miss(before, blocks),
        },
        "merged_prints": merged,
        "sentence": _sentence(plan, resized, merged, rows, known),
    }


def _span(widths: Sequence[Fraction]) -> list[Fraction]:
    return [min(widths), max(widths)]


def _sentence(
    plan: Plan, resized: Resized, merged: Mapping[str, str], rows: int, known: Mapping[str, Print]
) -> str:
    blocks = resized.blocks
    parts = [
        f"all {rows} rows stay" if rows == plan.rows else f"{plan.rows} rows become {rows}",
        f"all {len(plan.columns)} columns stay"
        if resized.columns_kept
        else f"{len(plan.columns)} columns become {len(blocks.widths)}, fitted anew to the curve",
    ]
    if blocks.repeats != plan.repeats:
        parts.append(f"{plan.repeats} repeats become {blocks.repeats}")
    if merged:
        groups: dict[str, list[str]] = {}
        for key, stand in merged.items():
            groups.setdefault(known[stand].name or stand, []).append(known[key].name or key)
        named = "; ".join(f"{stand} for {', '.join(keys)}" for stand, keys in groups.items())
        parts.append(f"{len(merged)} prints are left to a neighbour ({named})")
    text = "; ".join(parts)
    return text[0].upper() + text[1:] + "."
