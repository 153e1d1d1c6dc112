"""Three plain answers about a design at another size, each with its figures and its reason.

Where a limit is a custom or our own judgement it says so: none of these verdicts is a law.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from sequencer.inches import on_grid, round_down, round_up, show_ruled
from sequencer.models import Json, Plan, plain
from sequencer.plan.scaling.likeness import Likeness

ALIKE, RELATED = 0.35, 0.8
"""Share of the old picture's contrast by which the new one may miss it (our judgement)."""
FINE_SHARE, COARSE_SHARE = 0.2, 0.35
"""Expected miss of seams at column joins, in strip widths (our judgement)."""
THICK = 6
"""Layers under a column seam from which bulk needs care (common practice, no source)."""
NAMED = 4
"""Prints named in a sentence before the rest are counted."""
DEARER = 1.5
"""Work for a square inch may rise by this factor before it is named (our judgement)."""


@dataclass(frozen=True)
class Answer:
    """``question`` in plain words, ``verdict`` yes, partly or no, ``reason`` in one sentence."""

    question: str
    verdict: str
    reason: str
    figures: Mapping[str, Any] = field(default_factory=dict)
    rules: tuple[Mapping[str, Any], ...] = ()

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "question": self.question,
            "verdict": self.verdict,
            "reason": self.reason,
            "figures": plain(self.figures),
            "rules": [plain(rule) for rule in self.rules],
        }


def figures(plan: Plan) -> dict[str, Any]:
    """What the hours and the cloth depend on, to stand side by side with another plan's."""
    area = plan.centre[0] * plan.centre[1]
    cloth = sum((s.width * s.length for need in plan.fabric for s in need.strips), Fraction(0))
    strips = list(plan.finished_strip.values())
    return {
        "centre": list(plan.centre),
        "bordered": list(plan.bordered),
        "prints": len(plan.prints),
        "repeats": plan.repeats,
        "rows": plan.rows,
        "columns": len(plan.columns),
        "narrowest_strip": min(strips),
        "widest_strip": max(strips),
        "narrowest_column": min(column.finished_width for column in plan.columns),
        "cuts": plan.seams["cuts"],
        "seams": plan.seams["count"],
        "seams_opened": plan.seams["opened"],
        "seam_length": plan.seams["length"],
        "joins": sum(need.joins for need in plan.fabric),
        "cloth": cloth,
        "area": area,
        "per_square_inch": {
            "cuts": _ratio(plan.seams["cuts"], area),
            "seams": _ratio(plan.seams["count"], area),
            "seam_length": _ratio(plan.seams["length"], area),
            "cloth": _ratio(cloth, area),
        },
        "layers_max": plan.layers["column_seam_max"],
        "expected_miss": plan.options["precision"]["pinned_share"],
        "short": [need.print for need in plan.fabric if need.short_by > 0],
    }


def _ratio(part: Any, whole: Fraction) -> float:
    return round(float(part / whole), 4)


def _show(length: Fraction, units: str) -> str:
    """A length on the ruler's lines, or with ≈."""
    return f"{show_ruled(length, units)} {units}"


def looks_the_same(likeness: Likeness, units: str = "in") -> Answer:
    """From the picture difference at viewing distance."""
    share = likeness.share
    away = Fraction(round(likeness.distance * 2.54), 1) * 50 / 127 if units == "cm" else Fraction(
        round(likeness.distance))  # fmt: skip
    verdict = "yes" if share <= ALIKE else "partly" if share <= RELATED else "no"
    words = {
        "yes": "the same picture",
        "partly": "the same design, seen to be another size",
        "no": "a different picture from the same prints",
    }
    return Answer(
        "Does it still look the same?",
        verdict,
        f"From {_show(away, units)} away it is {words[verdict]}: it misses the old one by "
        f"{share:.0%} of that one's own contrast.",
        {
            "mean_delta_e": likeness.mean, "p95_delta_e": likeness.p95,
            "share_of_contrast": share, "viewing_distance": likeness.distance,
            "limits": {"yes": ALIKE, "partly": RELATED},
        },
    )  # fmt: skip


def can_be_sewn(plan: Plan, names: Mapping[str, str] | None = None) -> Answer:
    """Rule by rule: smallest widths, ruler, layers, sewing tolerance, scraps.

    ``names``: the prints' own, by id.
    """
    rules = [_widths(plan), _ruler(plan), _layers(plan), _tolerance(plan),
             _scraps(plan, names or {})]  # fmt: skip
    verdicts = [rule["verdict"] for rule in rules]
    worst = "no" if "no" in verdicts else "partly" if "partly" in verdicts else "yes"
    said = [rule["text"] for rule in rules if rule["verdict"] == worst and worst != "yes"]
    reason = {
        "yes": "Every rule is kept.", "partly": "With care: ", "no": "Not as it stands: "
    }[worst] + " ".join(said)  # fmt: skip
    return Answer("Can it be sewn?", worst, reason, rules=tuple(rules))


def _rule(name: str, verdict: str, figure: Any, limit: Any, text: str) -> dict[str, Any]:
    return {"rule": name, "verdict": verdict, "figure": figure, "limit": limit, "text": text}


def _units(plan: Plan) -> str:
    return str(plan.options.get("units", "in"))


def _widths(plan: Plan) -> dict[str, Any]:
    least = min([*plan.finished_strip.values(), *(c.finished_width for c in plan.columns)])
    units = _units(plan)
    fine = least >= plan.seam
    return _rule(
        "smallest finished width", "yes" if fine else "no", least, plan.seam,
        f"The narrowest strip or column finishes {_show(least, units)}, "
        + ("no narrower than" if fine else "narrower than")
        + f" the seam allowance of {_show(plan.seam, units)}.",
    )  # fmt: skip


def _ruler(plan: Plan) -> dict[str, Any]:
    grid = Fraction(plan.options["grid"])
    widths = [*plan.finished_strip.values(), *(c.finished_width for c in plan.columns)]
    off = sorted({w + 2 * plan.seam for w in widths if not on_grid(w + 2 * plan.seam, grid)})
    units = _units(plan)
    if not off:
        text = f"Every cut width lies on a {_show(grid, units)} ruler."
        return _rule("on the ruler", "yes", 0, 0, text)
    step = grid * plan.repeats
    near = [round_down(plan.centre[1], step), round_up(plan.centre[1], step)]
    text = (
        f"{len(off)} cut {'width lies' if len(off) == 1 else 'widths lie'} between the ruler's "
        f"{_show(grid, units)} marks ({', '.join(_show(w, units) for w in off[:3])}): "
        f"cut by a paper template, or make it {' or '.join(_show(h, units) for h in near)} "
        "high."
    )
    return _rule("on the ruler", "partly", len(off), 0, text)


def _layers(plan: Plan) -> dict[str, Any]:
    most = plan.layers["column_seam_max"]
    thick = most > THICK
    return _rule(
        "layers", "partly" if thick else "yes", most, THICK,
        f"Column seams go through up to {most} layers"
        + (": press open, trim allowances, sew slowly." if thick else
           "; at six, trim allowances and finger-press." if most == THICK else "."),
    )  # fmt: skip


def _tolerance(plan: Plan) -> dict[str, Any]:
    share = float(plan.options["precision"]["pinned_share"])
    verdict = "yes" if share <= FINE_SHARE else "partly"
    return _rule(
        "sewing tolerance", verdict, share, FINE_SHARE,
        f"Expect seams to miss each other by up to {share:.0%} of a strip where every repeat is "
        "pinned" + ("." if verdict == "yes" else
                    ", which shows" if share <= COARSE_SHARE else ", which blurs the steps")
        + ("" if verdict == "yes" else ": pin more seams, or take wider strips."),
    )  # fmt: skip


def _scraps(plan: Plan, names: Mapping[str, str]) -> dict[str, Any]:
    short = {need.print: need.short_by for need in plan.fabric if need.short_by > 0}
    unknown = [need.print for need in plan.fabric if need.have_length is None]
    units = _units(plan)
    if short:
        worst = sorted(short, key=lambda key: (-short[key], key))
        grid = Fraction(plan.options["grid"])
        named = ", ".join(
            f"{names.get(key) or key} by {_show(round_up(short[key], grid), units)}"
            for key in worst[:NAMED]
        )
        named += f" and {len(worst) - NAMED} more" if len(worst) > NAMED else ""
        return _rule("scraps", "no", len(short), 0, f"Too little cloth: {named} of strip.")
    text = (
        f"{len(unknown)} scraps have no size: measure them against the cutting list."
        if unknown else "The scraps are long enough."
    )  # fmt: skip
    return _rule("scraps", "partly" if unknown else "yes", 0, 0, text)


def worth_it(before: Plan, after: Plan, look: str = "yes", sewn: str = "yes") -> Answer:
    """Cost against size: work and cloth for a square inch, new over old.

    ``look``, ``sewn``: the verdicts of the other two answers. What cannot be sewn as it stands, or
    is another picture, is worth it partly at best.
    """
    old, new = figures(before), figures(after)
    factor = {
        key: round(new["per_square_inch"][key] / old["per_square_inch"][key], 2)
        for key in old["per_square_inch"]
    }
    area = float(new["area"] / old["area"])
    work = max(factor["cuts"], factor["seams"])
    verdict = "yes" if work <= DEARER else "partly" if work <= 2 * DEARER else "no"
    share = new["seams"] / old["seams"]
    doubt = "Only once it can be sewn: " if sewn == "no" else (
        "As a piece of its own, not as the same design: " if look == "no" else "")  # fmt: skip
    if doubt and verdict == "yes":
        verdict = "partly"
    return Answer(
        "Is it worth it?",
        verdict,
        f"{doubt}{area:.0%} of the area for {share:.0%} of the seams ({new['seams']} against "
        f"{old['seams']}), {new['cuts'] / old['cuts']:.0%} of the cuts and "
        f"{float(new['cloth'] / old['cloth']):.0%} of the cloth: a square inch takes "
        f"{_times(factor['seams'])} the seams and {_times(factor['cloth'])} the cloth.",
        {"area": round(area, 4), "per_square_inch": factor, "limits": {"yes": DEARER,
         "partly": 2 * DEARER}},
    )  # fmt: skip


def _times(factor: float) -> str:
    return f"{factor:.2f} times" if factor < 1 else f"{factor:.1f} times"
