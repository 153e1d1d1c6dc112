"""Sentences that keep their lengths exact until a unit is chosen.

A sentence is written once with :func:`exact` lengths in it and then told in inches or in
centimetres, so that no reader has to find and convert lengths in finished text.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from sequencer.inches import show_length

MARK = "\x1f"
"""Stands on either side of a length; the ASCII unit separator, which no typed name holds."""
_READABLE = frozenset({1, 2, 3, 4, 6, 8, 12, 16, 32})
"""Parts of an inch that a ruler shows or that read more surely than a decimal."""


def exact(length: Fraction) -> str:
    """The length, to be shown later."""
    return f"{MARK}{length}{MARK}"


def tell(text: str, units: str, own: str) -> str:
    """The sentence with its lengths in ``units`` (in or cm); the plan's ``own`` units are exact.

    In the other unit an inch that no ruler shows is rounded to hundredths and marked with ≈.
    """
    parts = text.split(MARK)
    parts[1::2] = [_shown(part, units, own) for part in parts[1::2]]
    return "".join(parts)


def tell_all(text: str, own: str) -> tuple[str, str, str]:
    """The sentence in the plan's own units, in inches, and in centimetres."""
    inches, metric = tell(text, "in", own), tell(text, "cm", own)
    return metric if own == "cm" else inches, inches, metric


def clean(name: str) -> str:
    """A name that cannot be taken for a length."""
    return name.replace(MARK, "")


@lru_cache(maxsize=4096)
def _shown(part: str, units: str, own: str) -> str:
    length = Fraction(part)
    if units == own or units == "cm" or length.denominator in _READABLE:
        return show_length(length, units)
    return f"≈ {float(length):.2f} in"
