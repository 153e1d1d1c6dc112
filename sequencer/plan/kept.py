"""A plan read back from its JSON, exact, so that what was planned is what is drawn and printed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.errors import PlanError
from sequencer.models import (
    Column,
    EdgeUse,
    FabricNeed,
    Instruction,
    Plan,
    PlanWarning,
    Point,
    ScrapCut,
    ScrapUse,
    SetStrip,
    SetTable,
    StripCut,
)

_EXACT = re.compile(r"-?\d+(/[1-9]\d*)?")
_WORDS = frozenset({
    "op", "print", "makes", "takes", "leaves", "set", "prints", "asked", "text", "name", "order",
    "units", "what", "status", "where", "curve", "limits",
})  # fmt: skip
"""Keys whose texts are words, even where they look like numbers."""


def plan_from_json(document: Mapping[str, Any]) -> Plan:
    """The plan that ``Plan.to_json`` told; the round trip changes nothing.

    Raises:
        PlanError: not such a document, or one whose parts do not fit together.
    """
    try:
        plan = _plan(document)
        whole = plan.rows == len(plan.prints) * plan.repeats and all(
            key in plan.finished_strip for key in plan.prints
        )
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError) as error:
        raise PlanError(
            f"The plan kept with this piece cannot be read ({type(error).__name__}: {error}). "
            "Plan it again: passalong plan FOLDER."
        ) from None
    if document.get("schema") != "passalong.plan/1" or not whole or not plan.columns:
        raise PlanError("The plan kept with this piece is not whole. Plan it again: passalong "
                        "plan FOLDER.")  # fmt: skip
    return plan


def exact_again(value: Any, key: str = "") -> Any:
    """Nested JSON with its fractions exact again; words stay words."""
    if isinstance(value, Mapping):
        return {k: v if k in _WORDS else exact_again(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [exact_again(item, key) for item in value]
    if isinstance(value, str) and _EXACT.fullmatch(value):
        return Fraction(value)
    return value


def _plan(document: Mapping[str, Any]) -> Plan:
    return Plan(
        prints=tuple(map(str, document["prints"])),
        seam=Fraction(document["seam"]),
        repeats=int(document["repeats"]),
        rows=int(document["rows"]),
        finished_strip={k: Fraction(v) for k, v in document["finished_strip"].items()},
        columns=tuple(
            Column(Fraction(c["cut_width"]), Fraction(c["finished_width"]), int(c["offset"]))
            for c in document["columns"]
        ),
        centre=_point(document["finished"]["centre"]),
        bordered=_point(document["finished"]["bordered"]),
        fabric=tuple(map(_need, document["fabric"])),
        layers=exact_again(document["layers"]),
        seams=exact_again(document["seams"]),
        border=exact_again(document["border"]),
        binding=exact_again(document["binding"]),
        backing=exact_again(document["backing"]),
        batting=exact_again(document["batting"]),
        steps=tuple(exact_again(step) for step in document["steps"]),
        warnings=tuple(
            PlanWarning(w["code"], w["text"], w.get("text_in", w["text"]),
                        w.get("text_cm", w["text"]))
            for w in document["warnings"]
        ),
        fit_rms_rows=document["fit"]["rms_rows"],
        instructions=tuple(map(_instruction, document["instructions"])),
        method=document["method"],
        press=document["press"],
        curve=document["curve"],
        options=exact_again(document["options"]),
        sets=tuple(map(_set, document["sets"])),
        search=exact_again(document["search"]),
        edges=tuple(EdgeUse(one["print"], _use(one)) for one in document.get("edges", ())),
    )  # fmt: skip


def _point(pair: Sequence[Any]) -> Point:
    first, second = (Fraction(part) for part in pair)
    return first, second


def _need(need: Mapping[str, Any]) -> FabricNeed:
    def maybe(key: str) -> Fraction | None:
        return None if need[key] is None else Fraction(need[key])

    return FabricNeed(
        need["print"],
        tuple(StripCut(Fraction(s["width"]), Fraction(s["length"])) for s in need["strips"]),
        Fraction(need["needed_length"]),
        maybe("have_length"),
        Fraction(need["short_by"]),
        int(need["joins"]),
        maybe("cloth"),
        need["precut_strips"],
        need["fat_quarters"],
        tuple(map(_use, need["scraps"])),
        None if need["piece"] is None else _point(need["piece"]),
    )


def _use(use: Mapping[str, Any]) -> ScrapUse:
    cuts = tuple(
        ScrapCut(_point(c["at"]), c["along"], Fraction(c["width"]), Fraction(c["length"]),
                 c["makes"])
        for c in use["cuts"]
    )  # fmt: skip
    left = tuple((Fraction(x), Fraction(y), Fraction(w), Fraction(h)) for x, y, w, h in use["left"])
    return ScrapUse(int(use["scrap"]), _point(use["size"]), _point(use["usable"]),
                    _point(use["at_least"]), cuts, left, bool(use["sure"]))  # fmt: skip


def _instruction(item: Mapping[str, Any]) -> Instruction:
    first, past = item["steps"]
    text = item["text"]
    return Instruction(item["kind"], text, (int(first), int(past)), item.get("text_in", text),
                       item.get("text_cm", text))  # fmt: skip


def _set(one: Mapping[str, Any]) -> SetTable:
    strips = tuple(
        SetStrip(
            int(s["strip"]), s["print"],
            tuple((p["makes"], p["scrap"], Fraction(p["length"])) for p in s["pieces"]),
            tuple(exact_again(join) for join in s["joins"]),
        )
        for s in one["strips"]
    )  # fmt: skip
    return SetTable(one["set"], one["press"], Fraction(one["length"]), Fraction(one["squaring"]),
                    Fraction(one["spare"]), tuple(one["columns"]), strips)  # fmt: skip
