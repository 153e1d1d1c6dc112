"""The last steps in words: borders, layers, binding and sleeve."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from sequencer.plan.cloth import Finishing
from sequencer.plan.telling import exact

FROM_SCRAPS = " from its scraps, where their drawings show it"


def say_border(
    step: Mapping[str, Any], finished: Finishing, seam: Fraction, name: Callable[[str], str]
) -> str:
    """One pair of a border's strips: cut, sewn on, pressed; ``name`` says a print."""
    number = int(step["border"]) - 1
    border = finished.borders[number]
    part = border["sides" if step["order"] == "sides" else "top_bottom"]
    where = "left and right" if step["order"] == "sides" else "top and bottom"
    which = "" if len(finished.borders) == 1 else f" {number + 1}"
    cut = (
        f"Border{which}: cut two strips of {name(step['print'])}, "
        f"{exact(step['cut_width'])} wide and {exact(part['length'])} long"
        f"{FROM_SCRAPS if border.get('from_scraps') else ''}."
    )
    if border["corners"] == "butted":
        return (
            f"{cut} Pin at the middle and the ends, ease the panel to them and sew them on "
            f"{where}. Press towards the border and trim the ends level."
        )
    ends = "" if step["order"] == "sides" else (
        " Then fold each corner so that two borders lie on one another, sew on the 45° line "
        "from the inner corner to the outer, and trim."
    )  # fmt: skip
    return (
        f"{cut} Centre them {where}, sew from corner to corner and stop "
        f"{exact(seam)} before each edge; the ends hang free.{ends}"
    )


def say_binding(finished: Finishing, seam: Fraction, name: Callable[[str], str]) -> str:
    """Layering, quilting, binding and, where wanted, a sleeve."""
    binding = finished.binding
    assert binding is not None
    backing = finished.backing
    drawn = FROM_SCRAPS if binding.get("from_scraps") else ""
    fold = (
        "fold it in half lengthwise, wrong sides together, and press"
        if binding["fold"] == "double"
        else f"press {exact(seam)} of one long edge to the wrong side"
    )
    joined = (
        f"cut {count(binding['strips'], 'strip')} {exact(binding['cut_width'])} wide"
        f"{drawn} and join them on the diagonal"
        if binding["strips"] > 1
        else f"cut one strip {exact(binding['cut_width'])} wide{drawn}"
    )
    return (
        f"Layer the top with batting and backing (both "
        f"{exact(backing['width'])} x {exact(backing['height'])}), quilt as you like "
        f"and trim level with the top. Binding of {name(binding['print'])}: {joined} "
        f"to {exact(binding['length'])}; {fold}. Sew it to the front with a "
        f"{exact(seam)} seam, turning each corner with a fold, join the ends on "
        f"the diagonal, turn it to the back and sew it down.{_sleeve(backing)}"
    )


def _sleeve(backing: Mapping[str, Any]) -> str:
    sleeve = backing.get("sleeve")
    if not sleeve:
        return ""
    return (
        f" To hang it, hem the ends of a strip {exact(sleeve['cut_width'])} wide and "
        f"{exact(sleeve['length'])} long, fold it lengthwise, wrong sides together, and "
        "baste its raw edges to the top of the back before the binding goes on, so that the "
        "binding's seam catches them; sew the fold down by hand at the very end."
    )


def count(number: int, word: str) -> str:
    """‘1 strip’, ‘2 strips’."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
