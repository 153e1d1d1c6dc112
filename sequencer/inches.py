"""Exact lengths: read what people write, keep fractions of an inch, print what rulers show.

Every length in the program is a :class:`fractions.Fraction` of an inch until something is
drawn. One inch is exactly 25.4 mm (International yard and pound agreement, 1959; also ISO 31-1).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from sequencer.errors import UsageError

MM_PER_INCH = Fraction(254, 10)
EIGHTH = Fraction(1, 8)
LONGEST = Fraction(100_000)
"""No length in this trade comes near this many inches; longer ones are typing slips."""

_READABLE = frozenset({1, 2, 3, 4, 6, 8, 12, 16, 32})
_UNITS: dict[str, Fraction] = {
    "": Fraction(1),
    "in": Fraction(1),
    '"': Fraction(1),
    "″": Fraction(1),
    "mm": 1 / MM_PER_INCH,
    "cm": 10 / MM_PER_INCH,
    "yd": Fraction(36),
}
_BARE = re.compile(r"^(?!\s*[a-zA-Z]+\d*\s*$).*[\d½¼¾⅛⅜⅝⅞]\s*$")
"""Ends in a number: no unit is named, and it is no word or paper size."""
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_LENGTH = re.compile(
    r"(?P<sign>-?)\s*(?:(?P<whole>\d+)[\s-]+(?P<num>\d+)/(?P<den>\d+)"
    r"|(?P<num2>\d+)/(?P<den2>\d+)"
    r"|(?P<dec>\d+(?:[.,]\d+)?|[.,]\d+))"
    r"\s*(?P<unit>in|mm|cm|yd|\"|″)?"
)


def parse_length(text: str | int | float | Fraction) -> Fraction:
    """Read a length in inches from ``1/4``, ``2 1/2``, ``2.5``, ``6 mm``, ``0.75cm``, ``2½``.

    A plain number counts as inches. Decimals are taken as written (``0.1`` is 1/10).

    Raises:
        UsageError: the text is no length, divides by zero, or is absurdly long.
    """
    if isinstance(text, (int, Fraction)):
        return _checked(Fraction(text), str(text))
    raw = repr(text) if isinstance(text, float) else str(text)
    clean = raw.strip().lower()
    for sign, fraction in _VULGAR.items():
        clean = clean.replace(sign, f" {fraction}")
    found = _LENGTH.fullmatch(clean.strip())
    if found is None:
        raise UsageError(
            f"'{raw}' is not a length. Write it like 1/4, 2 1/2, 2.5, 6 mm or 1.5 cm."
        )
    value = _number(found, raw) * _UNITS[found["unit"] or ""]
    return _checked(-value if found["sign"] else value, raw)


def _number(found: re.Match[str], raw: str) -> Fraction:
    try:
        if found["dec"] is not None:
            return Fraction(Decimal(found["dec"].replace(",", ".")))
        if found["num2"] is not None:
            return Fraction(int(found["num2"]), int(found["den2"]))
        return int(found["whole"]) + Fraction(int(found["num"]), int(found["den"]))
    except (ZeroDivisionError, InvalidOperation, ValueError):
        raise UsageError(f"'{raw}' is not a length: it divides by zero.") from None


def _checked(value: Fraction, raw: str) -> Fraction:
    if abs(value) > LONGEST:
        raise UsageError(f"'{raw}' is longer than any quilt; lengths are in inches.")
    return value


def parse_size(text: str) -> tuple[Fraction, Fraction]:
    """Read ``WxH`` (``8x10``, ``12 1/2 x 9``, ``20x25cm``): one trailing unit serves both.

    Raises:
        UsageError: not two positive lengths with an x between them.
    """
    parts = re.split(r"[x×]", text.strip().lower())
    if len(parts) != 2:
        raise UsageError(f"'{text}' is not a size. Write width x height, like 8x10 or 20x25cm.")
    unit = re.search(r"(in|mm|cm|yd)\s*$", parts[1])
    if unit and not re.search(r"[a-z\"″]", parts[0]):
        parts[0] += unit[1]
    width, height = (parse_length(part) for part in parts)
    if width <= 0 or height <= 0:
        raise UsageError(f"'{text}' is not a size: both numbers must be more than zero.")
    return width, height


def with_units(typed: Any, units: str) -> Any:
    """What was typed, every bare number made a length in ``units`` (in or cm).

    Texts get the unit where they name none: ``20x25`` becomes ``20x25cm``, ``1/2,2`` becomes
    ``1/2cm,2cm``. Numbers become exact; a Fraction already is one, in inches. Words such as
    ``fit`` and paper sizes such as ``A4`` stay. Lists and mappings are gone through.

    >>> with_units("20x25", "cm"), with_units("2,1 in", "cm"), with_units("A4", "cm")
    ('20x25cm', '2cm,1 in', 'A4')
    """
    if units != "cm" or typed is None or isinstance(typed, (bool, Fraction)):
        return typed
    if isinstance(typed, (int, float)):
        return parse_length(typed) * _UNITS["cm"]
    if isinstance(typed, str):
        return ",".join(f"{part}cm" if _BARE.search(part) else part for part in typed.split(","))
    if isinstance(typed, Mapping):
        return {key: with_units(item, units) for key, item in typed.items()}
    if isinstance(typed, (list, tuple)):
        return type(typed)(with_units(item, units) for item in typed)
    return typed


def show_inches(length: Fraction) -> str:
    """Print as a mixed number without unit: ``2 1/2``, ``3/8``, ``-1/4``, ``0``."""
    sign = "-" if length < 0 else ""
    whole, rest = divmod(abs(length), 1)
    if not rest:
        return f"{sign}{whole}"
    part = f"{rest.numerator}/{rest.denominator}"
    return f"{sign}{whole} {part}" if whole else f"{sign}{part}"


def show_cm(length: Fraction, places: int = 2) -> str:
    """Print in centimetres, rounded half up to ``places`` decimals, without unit."""
    scale = 10**places
    units = math.floor(abs(to_mm(length)) / 10 * scale + Fraction(1, 2))
    sign = "-" if length < 0 and units else ""
    whole, rest = divmod(units, scale)
    digits = f"{rest:0{places}d}".rstrip("0") if places else ""
    return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"


def show_length(length: Fraction, units: str = "in") -> str:
    """Print with its unit, ``units`` being ``in`` or ``cm``: ``2 1/2 in``, ``6.35 cm``."""
    return f"{show_cm(length)} cm" if units == "cm" else f"{show_inches(length)} in"


def show_ruled(length: Fraction, units: str = "in") -> str:
    """As a ruler shows it, without unit: ``2 1/2``, ``6.35``; ``≈ 0.24`` for what it does not.

    Thirds and twelfths of an inch are on no ruler, but read more surely than a decimal.
    """
    if units == "cm":
        return show_cm(length)
    if length.denominator in _READABLE:
        return show_inches(length)
    hundredths = round(length * 100)
    return f"≈ {hundredths / 100:.2f}"


def show_size(sides: tuple[Fraction, Fraction], units: str = "in") -> str:
    """Width by height with the unit: ``8 × 10 1/2 in``."""
    return f"{show_ruled(sides[0], units)} × {show_ruled(sides[1], units)} {units}"


def to_mm(length: Fraction) -> Fraction:
    """Exact millimetres."""
    return length * MM_PER_INCH


def round_down(length: Fraction, grid: Fraction = EIGHTH) -> Fraction:
    """The largest multiple of ``grid`` (> 0) not above ``length``: what is surely there."""
    return math.floor(length / grid) * grid


def round_up(length: Fraction, grid: Fraction = EIGHTH) -> Fraction:
    """The smallest multiple of ``grid`` (> 0) not below ``length``: what must be bought."""
    return math.ceil(length / grid) * grid


def round_near(length: Fraction, grid: Fraction = EIGHTH) -> Fraction:
    """The multiple of ``grid`` (> 0) nearest to ``length``; half-way goes up."""
    return math.floor(length / grid + Fraction(1, 2)) * grid


def on_grid(length: Fraction, grid: Fraction = EIGHTH) -> bool:
    """Whether a ruler with this grid shows the length."""
    return (length / grid).denominator == 1
