"""Lengths as a ruler shows them, in one unit throughout."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import round_up, show_inches, show_ruled

NBSP = "\u00a0"
"""A line never breaks between a number, its fraction and its unit."""

_TOGETHER = re.compile(r"(?<=\d) (?=\d+/\d|(?:in|cm)\b)")


@dataclass(frozen=True)
class Measure:
    """Prints lengths in ``units``: ``in`` or ``cm``. A rounded length is marked with ≈."""

    units: str

    def bare(self, length: Fraction) -> str:
        """Without the unit, for a table whose heading names it: ``2 1/2``, ``6.35``, ``≈ 0.24``."""
        return show_ruled(length, self.units).replace(" ", NBSP)

    def of(self, length: Fraction) -> str:
        """With the unit: ``2 1/2 in``, ``6.35 cm``."""
        return f"{self.bare(length)}{NBSP}{self.units}"

    def size(self, sides: tuple[Fraction, Fraction]) -> str:
        """Width by height: ``8 × 10 in``."""
        return f"{self.bare(sides[0])} × {self.bare(sides[1])}{NBSP}{self.units}"

    def long(self, length: Fraction) -> str:
        """A run of sewing or fabric in yards or metres, to a tenth."""
        if self.units == "cm":
            return f"{float(length * 254 / 10000):.1f} m"
        return f"{float(length / 36):.1f} yd"

    def off_the_bolt(self, length: Fraction) -> str:
        """A length of fabric to buy: eighths of a yard, or whole centimetres."""
        if self.units == "cm":
            return f"{math.ceil(length * 254 / 100)} cm"
        return f"{show_inches(round_up(length / 36))} yd"

    @property
    def note(self) -> str:
        """What the reader must know about these figures."""
        if self.units == "cm":
            return "Lengths in centimetres, each rounded to a tenth of a millimetre."
        return "Lengths in inches; ≈ marks a length between the ruler's lines."


def kept_together(text: str) -> str:
    """The text with no line break between a number, its fraction and its unit."""
    return _TOGETHER.sub(NBSP, text)
