"""Lengths as a ruler shows them, in one unit throughout."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import show_cm, show_inches

_RULER = {1, 2, 4, 8, 16, 32}
_THIRDS = {3, 6, 12}
"""Not on a ruler, but read more surely as 3 1/6 than as a long decimal."""


@dataclass(frozen=True)
class Measure:
    """Prints lengths in ``units``: ``in`` or ``cm``. A rounded length is marked with ≈."""

    units: str

    def bare(self, length: Fraction) -> str:
        """Without the unit, for a table whose heading names it: ``2 1/2``, ``6.35``, ``≈ 0.24``."""
        if self.units == "cm":
            return show_cm(length)
        if length.denominator in _RULER | _THIRDS:
            return show_inches(length)
        hundredths = round(length * 100)
        return f"≈ {hundredths / 100:.2f}"

    def of(self, length: Fraction) -> str:
        """With the unit: ``2 1/2 in``, ``6.35 cm``."""
        return f"{self.bare(length)} {self.units}"

    def size(self, sides: tuple[Fraction, Fraction]) -> str:
        """Width by height: ``8 × 10 in``."""
        return f"{self.bare(sides[0])} × {self.bare(sides[1])} {self.units}"

    def long(self, length: Fraction) -> str:
        """A run of sewing or fabric in yards or metres, to a tenth."""
        if self.units == "cm":
            return f"{float(length * 254 / 10000):.1f} m"
        return f"{float(length / 36):.1f} yd"

    @property
    def note(self) -> str:
        """What the reader must know about these figures."""
        if self.units == "cm":
            return "Lengths in centimetres, each rounded to a tenth of a millimetre."
        return "Lengths in inches; ≈ marks a length between the ruler's lines."
