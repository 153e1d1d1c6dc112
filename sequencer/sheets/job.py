"""What every page is made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sequencer.models import (
    ContrastReport,
    Instruction,
    Json,
    Neighbours,
    Plan,
    PlanWarning,
    Print,
    Sequence,
)
from sequencer.sheets.fonts import LONGEST_NAME, printable
from sequencer.sheets.layout import frame_width
from sequencer.sheets.measure import Measure, kept_together
from sequencer.sheets.pictures import Gallery
from sequencer.sheets.trail import Trail


@dataclass(frozen=True)
class Job:
    """The plan with all that the pages show beside it. ``keys``: a letter for each print.

    ``lost``: letters of the names that no typeface here can draw.
    """

    plan: Plan
    prints: Mapping[str, Print]
    keys: Mapping[str, str]
    measure: Measure
    paper: str
    title: str
    seq: Sequence | None
    report: ContrastReport | None
    bridges: tuple[Json, ...]
    trail: Trail | None
    gallery: Gallery
    lost: str = ""

    @property
    def width(self) -> float:
        """Between the margins, points."""
        return frame_width(self.paper)

    def name(self, ident: str) -> str:
        """A print's name in printable letters; its id where the name is empty."""
        known = self.prints.get(ident)
        named = printable(known.name, LONGEST_NAME) if known else ""
        return named or printable(ident, LONGEST_NAME)

    def key(self, ident: str) -> str:
        """A print's letter; a print that is not in the sequence goes by its name."""
        return self.keys.get(ident) or self.name(ident)

    def keyed(self, ident: str) -> str:
        """Letter and name, marked up: ``<b>A</b> Pale sand``."""
        name = marked(self.name(ident))
        return f"<b>{self.keys[ident]}</b> {name}" if ident in self.keys else name

    def told(self, item: Instruction | PlanWarning) -> str:
        """A sentence of the plan for these sheets, its lengths in their units.

        Names are set one by one (isolates of Unicode Standard Annex 9), so that no length after a
        name from right to left moves to its other side.
        """
        said = item.said(self.measure.units)
        for ident in self.plan.prints:
            name = self.prints[ident].name if ident in self.prints else ""
            if not name.isascii():
                said = said.replace(name, printable(name))
        return kept_together(printable(said))

    def meeting(self, a: str, b: str) -> Neighbours | None:
        """How print ``a`` meets print ``b``, either way round, where that is known."""
        pairs = self.report.pairs if self.report else self.seq.neighbours if self.seq else ()
        return next((pair for pair in pairs if {pair.a, pair.b} == {a, b}), None)


def marked(text: str) -> str:
    """Text safe to stand in a paragraph's markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
