"""What can be wished of a plan: one frozen record, as loosely as it was typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from pathlib import Path
from typing import Any

from sequencer.errors import UsageError
from sequencer.inches import with_units
from sequencer.plan.asked.loose import Length

LENGTHS = frozenset({
    "size", "strip", "columns", "seam", "border", "binding", "smallest", "largest", "grid",
    "set_length", "squaring", "usable", "backing", "pieces", "tolerance", "straighten", "spare",
    "left", "fitted",
})  # fmt: skip
"""Wishes that are lengths: bare numbers among them are in the piece's units."""


@dataclass(frozen=True)
class PlanWishes:
    """Keywords of :func:`~sequencer.plan.planner.plan_columns`, with their defaults.

    Widths are finished widths; cut widths are two allowances more. Bare numbers are in ``units``,
    a Fraction is in inches.

    Attributes:
        size: centre without border, ``"8x10"``, (width, height), or ``"A4"`` (ISO 216, upright;
            best with ``units="cm"``); None for a small wall piece.
        strip: one finished strip, a list in sequence, ``{id: width}``, or ``"fit"`` for one or
            two ruler widths that fill the height. None: ``"fit"`` if there is a size, else 1/4 in
            (7 mm with ``units="cm"``), or the seam allowance where that is wider.
        fitted: ``{id: width}`` that ``"fit"`` found before: each print keeps its width in any
            order, while they fill the height.
        repeats: runs through all prints; None: as ``size`` asks, 3 without a size.
        curve: wave, hill, valley, zigzag, flame, slope, a CSV, JSON or PNG file, points, or
            ``{"rows": […], "base": 0}``, heights in rows that are never stretched.
        columns, offsets: explicit finished widths and offsets; either alone leaves the other to
            the curve (widths) or to equal widths (offsets).
        seam: allowance, default 1/4 in or 7 mm; no strip or column may be narrower.
        method: ``loop`` (sew the set's ends together, open each ring) or ``flat``.
        press: ``open``, or ``nested`` (two sets pressed opposite ways).
        border: finished width or several from the inside out, 0 for none (default 1 in, 25 mm).
        binding: cut width of its strips, 0 for none.
        curve_height, curve_count, curve_phase: rows, repeats across the width, shift in repeats.
        steps: rows by which neighbours may differ, from 0, 1, 2.
        smallest, largest: column widths. symmetric: mirror about the middle. price: cost of a
            column against slivers, in squared rows × smallest columns.
        grid: the ruler (default 1/8 in or 1 mm; finer if the lengths given ask for it).
        sets: ``tall`` (one set holds all repeats), ``repeat`` (one repeat, stacked), or ``auto``
            (tall for loop, repeat for flat).
        set_length: longest strip set; default what the scraps serve best, at most ``usable``.
        squaring: taken off each strip set (default 1/2 in). usable: fabric width (default 40 in).
        join: ``diagonal`` or ``straight`` end-to-end joins.
        corners: of the border, ``butted`` or ``mitred``.
        border_print, binding_print: default a print that does not melt into the edge; binding as
            the border.
        backing: extra on each side (default 2 in for minis, 4 in).
        directional: ids of prints with an up and a down.
        pieces: for some prints, the pieces of each of their strips (sets in order, each set top
            to bottom), to be joined where more than one; default as the scraps allow.
        tolerance: sewing error of a seam (default 1/32 in); seed: of its simulation.
        prove: cut the scraps with more effort (see sequencer/plan/cloth/laying/cutting.py).
        joins: of strips end to end, ``any``, ``few`` (no strip of more than two pieces) or
            ``none``.
        straighten: taken off each side of a scrap before strips are cut (default 1/8 in, 3 mm).
        spare: length of each strip set to square it again (default 1/4 in, 6 mm).
    """

    size: str | Sequence[Length] | None = None
    strip: Length | Sequence[Length] | Mapping[str, Length] | None = None
    repeats: int | None = None
    curve: Any = "wave"
    columns: str | Sequence[Length] | None = None
    offsets: str | Sequence[int] | None = None
    seam: Length | None = None
    method: str = "loop"
    press: str = "open"
    border: Length | Sequence[Length] | None = None
    binding: Length | None = None
    units: str = "in"
    curve_height: float | None = None
    curve_count: float | None = None
    curve_phase: float = 0.0
    steps: Sequence[int] = (1,)
    smallest: Length | None = None
    largest: Length | None = None
    symmetric: bool = False
    price: float = 0.1
    grid: Length | None = None
    sets: str = "auto"
    set_length: Length | None = None
    squaring: Length | None = None
    usable: Length | None = None
    join: str = "diagonal"
    border_print: str | None = None
    binding_print: str | None = None
    corners: str = "butted"
    backing: Length | None = None
    directional: Sequence[str] = ()
    pieces: Mapping[str, Sequence[Sequence[Length]]] | None = None
    tolerance: Length | None = None
    seed: int = 0
    prove: bool = False
    joins: str = "any"
    straighten: Length | None = None
    spare: Length | None = None
    fitted: Mapping[str, Length] | None = None

    @classmethod
    def names(cls) -> frozenset[str]:
        """Every wish there is."""
        return frozenset(one.name for one in fields(cls))

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> PlanWishes:
        """The wishes given, the others at their defaults.

        Raises:
            UsageError: a wish that no plan has.
        """
        unknown = sorted(set(given) - cls.names())
        if unknown:
            raise UsageError(f"A plan has no {', '.join(unknown)} to choose.")
        units = given.get("units")
        units = units if isinstance(units, str) and units else "in"
        typed = {name: with_units(value, units) if name in LENGTHS else value
                 for name, value in given.items()}  # fmt: skip
        return cls(**typed)

    def plain(self) -> dict[str, Any]:
        """By name, JSON-plain: a path as its text, exact lengths with their unit, inches."""
        return {one.name: _told(getattr(self, one.name)) for one in fields(self)}


def _told(value: Any) -> Any:
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, Fraction):
        return f"{value} in"
    if isinstance(value, Mapping):
        return {key: _told(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_told(item) for item in value]
    return value
