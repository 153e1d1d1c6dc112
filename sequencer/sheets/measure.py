"""Lengths as a ruler shows them, in one unit throughout."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from sequencer.inches import parse_length, round_up, show_cm, show_inches

NBSP = "\u00a0"
"""A line never breaks between a number, its fraction and its unit."""
_RULER = {1, 2, 4, 8, 16, 32}
_THIRDS = {3, 6, 12}
"""Not on a ruler, but read more surely as 3 1/6 than as a long decimal."""

_NUMBER = r"(?<![\w./])(\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_INCHES = re.compile(
    _NUMBER
    + r" (in)(?=$|[.,;:)]| \(| (?:wide|long|across|high|deep|thick|finished|larger|square|seams?"
    r"|x|is|of|on|and|to|with|per|beyond)\b)"
)
_CENTIMETRES = re.compile(_NUMBER + r" (cm)\b")

_TOGETHER = re.compile(r"(?<=\d) (?=\d+/\d|(?:in|cm)\b)")


@dataclass(frozen=True)
class Measure:
    """Prints lengths in ``units``: ``in`` or ``cm``. A rounded length is marked with ≈."""

    units: str

    def bare(self, length: Fraction) -> str:
        """Without the unit, for a table whose heading names it: ``2 1/2``, ``6.35``, ``≈ 0.24``."""
        if self.units == "cm":
            return show_cm(length)
        if length.denominator in _RULER | _THIRDS:
            return show_inches(length).replace(" ", NBSP)
        hundredths = round(length * 100)
        return f"≈{NBSP}{hundredths / 100:.2f}"

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

    def retold(self, text: str) -> str:
        """The text with its lengths in these units, where they are told in the other.

        Lengths are taken from the plan's sentences as :func:`sequencer.inches.show_length`
        writes them; a number before the plain word "in" ("3 in each") is left alone.
        """
        pattern = _INCHES if self.units == "cm" else _CENTIMETRES
        text = pattern.sub(lambda found: self.of(parse_length(f"{found[1]} {found[2]}")), text)
        return _TOGETHER.sub(NBSP, text)

    @property
    def note(self) -> str:
        """What the reader must know about these figures."""
        if self.units == "cm":
            return "Lengths in centimetres, each rounded to a tenth of a millimetre."
        return "Lengths in inches; ≈ marks a length between the ruler's lines."
