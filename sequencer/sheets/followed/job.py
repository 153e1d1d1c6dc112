"""What every page is made from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from sequencer.keys import commonest, unnamed
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
from sequencer.sheets.followed.addresses import Addresses
from sequencer.sheets.followed.trail import Trail
from sequencer.sheets.paper.fonts import LONGEST_NAME, printable
from sequencer.sheets.paper.layout import frame_width
from sequencer.sheets.paper.measure import Measure, kept_together
from sequencer.sheets.paper.pictures import Gallery


@dataclass(frozen=True)
class Job:
    """The plan with all that the pages show beside it. ``keys``: a letter for each print.

    ``sewn``: columns, from 1, that are cut and sewn already. ``lost``: letters of the names that
    no typeface here can draw.
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
    addresses: Addresses = field(default_factory=Addresses)
    sewn: frozenset[int] = frozenset()
    date: str = ""
    lost: str = ""

    @property
    def width(self) -> float:
        """Between the margins, points."""
        return frame_width(self.paper)

    @property
    def upright(self) -> tuple[str, ...]:
        """Directional prints, in sequence: they keep their own up and down."""
        asked = self.plan.options.get("asked") or {}
        kept = set(asked.get("directional") or ())
        return tuple(ident for ident in self.plan.prints if ident in kept)

    @property
    def outside(self) -> tuple[Fraction, Fraction]:
        """The finished piece, binding included: that shows outside the seam it is sewn with."""
        binding = self.plan.binding
        if binding and binding.get("outside"):
            wide, high = binding["outside"]
            return Fraction(wide), Fraction(high)
        return self.plan.bordered

    def name(self, ident: str) -> str:
        """A print's name in printable letters; its commonest colour where nobody named it, its id
        where the name is empty.
        """
        known = self.prints.get(ident)
        named = printable(known.name, LONGEST_NAME) if known else ""
        return self._by_colour(ident) or named or printable(ident, LONGEST_NAME)

    def unnamed(self, ident: str) -> bool:
        """Whether nobody named the print: it goes by its photograph and a number."""
        known = self.prints.get(ident)
        return known is not None and ident in self.keys and unnamed(known)

    def _by_colour(self, ident: str) -> str:
        """What an unnamed print goes by beside its letter: its commonest colour."""
        return commonest(self.prints[ident]) if self.unnamed(ident) else ""

    def key(self, ident: str) -> str:
        """A print's letter; a print that is not in the sequence goes by its name."""
        return self.keys.get(ident) or self.name(ident)

    def keyed(self, ident: str) -> str:
        """Letter and name, marked up: ``<b>A</b> Pale sand``."""
        name = marked(self.name(ident))
        return f"<b>{self.keys[ident]}</b> {name}" if ident in self.keys else name

    def told(self, item: Instruction | PlanWarning) -> str:
        """A sentence of the plan for these sheets, its lengths in their units."""
        return self.sentence(item.said(self.measure.units))

    def sentence(self, text: str) -> str:
        """A sentence with names in it, in printable letters.

        Names are set one by one (isolates of Unicode Standard Annex 9), so that no length after a
        name from right to left moves to its other side.
        """
        names = {self.prints[ident].name for ident in self.plan.prints if ident in self.prints}
        for name in sorted(names, key=len, reverse=True):
            if not name.isascii():
                text = text.replace(name, printable(name))
        for ident in self.plan.prints:
            if colour := self._by_colour(ident):
                key = self.keys[ident]  # which the plan's own words begin with
                text = re.sub(rf"(?<![\w-])(?:{key} )?{re.escape(ident)}(?![\w-])",
                              f"{key} {colour}", text)  # fmt: skip
        return kept_together(printable(text))

    def meeting(self, a: str, b: str) -> Neighbours | None:
        """How print ``a`` meets print ``b``, either way round, where that is known."""
        pairs = self.report.pairs if self.report else self.seq.neighbours if self.seq else ()
        return next((pair for pair in pairs if {pair.a, pair.b} == {a, b}), None)


def marked(text: str) -> str:
    """Text safe to stand in a paragraph's markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
