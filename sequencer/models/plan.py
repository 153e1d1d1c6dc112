"""The plan: the panel, exact, with its steps and what is told about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from sequencer.models.cutting import Column, EdgeUse, FabricNeed, SetTable
from sequencer.models.plainly import Json, maybe, plain


@dataclass(frozen=True)
class PlanWarning:
    """Something the maker should know: a stable ``code`` and a plain ``text``.

    ``text`` is in the plan's units, ``text_in`` and ``text_cm`` in either; empty where no length
    is told.
    """

    code: str
    text: str
    text_in: str = ""
    text_cm: str = ""

    def said(self, units: str) -> str:
        """The text with its lengths in these units, ``in`` or ``cm``."""
        return (self.text_cm if units == "cm" else self.text_in) or self.text

    def to_json(self) -> Json:
        """The contract's object."""
        return {"code": self.code, **_texts(self)}


@dataclass(frozen=True)
class Instruction:
    """One thing to do at the machine, in words, made from executable steps.

    ``kind``: the ``op`` of those steps. ``text``: what to do, in the plan's units; ``text_in`` and
    ``text_cm`` in either. ``steps``: which of Plan.steps it covers, as (first, past the last).
    """

    kind: str
    text: str
    steps: tuple[int, int]
    text_in: str = ""
    text_cm: str = ""

    def said(self, units: str) -> str:
        """The text with its lengths in these units, ``in`` or ``cm``."""
        return (self.text_cm if units == "cm" else self.text_in) or self.text

    def to_json(self) -> Json:
        """Plain form."""
        return {"kind": self.kind, **_texts(self), "steps": list(self.steps)}


@dataclass(frozen=True)
class Plan:
    """The panel, exact. In column c, row r (0 at the top) shows prints[(r + offset_c) mod n].

    ``steps`` is the sewing itself, executable; each is ``{"op": …}`` with lengths as Fractions.
    ``border``, ``binding``, ``backing`` and ``batting`` are plain mappings with Fraction lengths
    (see sequencer/plan/cloth/finishing.py), None where the piece has none. ``fit_rms_rows``: how
    far the columns stray from the curve, root mean square in rows; None without a curve.
    ``edges``: what of border and binding is cut from the scraps; the rest is bought.
    """

    prints: tuple[str, ...]
    seam: Fraction
    repeats: int
    rows: int
    finished_strip: Mapping[str, Fraction]
    columns: tuple[Column, ...]
    centre: tuple[Fraction, Fraction]
    bordered: tuple[Fraction, Fraction]
    fabric: tuple[FabricNeed, ...]
    layers: Mapping[str, Any]
    seams: Mapping[str, Any]
    border: Mapping[str, Any] | None
    binding: Mapping[str, Any] | None
    backing: Mapping[str, Any] | None
    batting: Mapping[str, Any] | None
    steps: tuple[Mapping[str, Any], ...]
    warnings: tuple[PlanWarning, ...] = ()
    fit_rms_rows: float | None = None
    instructions: tuple[Instruction, ...] = ()
    method: str = "loop"
    press: str = "open"
    curve: str = "wave"
    options: Mapping[str, Any] = field(default_factory=dict)
    sets: tuple[SetTable, ...] = ()
    search: Mapping[str, Any] = field(default_factory=dict)
    edges: tuple[EdgeUse, ...] = ()

    def patch_print(self, row: int, column: int) -> str:
        """The print shown at this row (0 at the top) of this column (0 at the left)."""
        return self.prints[(row + self.columns[column].offset) % len(self.prints)]

    def to_json(self) -> Json:
        """Document ``passalong.plan/1``."""
        return {
            "schema": "passalong.plan/1",
            "prints": list(self.prints),
            "seam": str(self.seam),
            "repeats": self.repeats,
            "rows": self.rows,
            "finished_strip": {key: str(width) for key, width in self.finished_strip.items()},
            "columns": [column.to_json() for column in self.columns],
            "finished": {
                "centre": [str(side) for side in self.centre],
                "bordered": [str(side) for side in self.bordered],
            },
            "fabric": [need.to_json() for need in self.fabric],
            "layers": plain(self.layers),
            "seams": plain(self.seams),
            "border": plain(self.border),
            "binding": plain(self.binding),
            "backing": plain(self.backing),
            "batting": plain(self.batting),
            "steps": [plain(step) for step in self.steps],
            "warnings": [warning.to_json() for warning in self.warnings],
            "fit": {"rms_rows": maybe(self.fit_rms_rows)},
            "instructions": [item.to_json() for item in self.instructions],
            "method": self.method,
            "press": self.press,
            "curve": self.curve,
            "options": plain(self.options),
            "sets": [one.to_json() for one in self.sets],
            "search": plain(self.search),
            "edges": [one.to_json() for one in self.edges],
        }


def _texts(item: PlanWarning | Instruction) -> Json:
    """The sentence, and its other forms where it tells a length."""
    if item.text_in == item.text_cm:
        return {"text": item.text}
    return {"text": item.text, "text_in": item.text_in, "text_cm": item.text_cm}
