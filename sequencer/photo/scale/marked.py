"""A length that the user marked: LENGTH=PIXELS or LENGTH=X,Y-X,Y of the photo turned upright."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sequencer.errors import UsageError
from sequencer.inches import parse_length

_NUMBER = r"\d+(?:\.\d+)?"
_PIXELS = re.compile(rf"\s*(.+?)\s*=\s*({_NUMBER})\s*(?:px)?\s*")
_POINTS = re.compile(
    rf"\s*(.+?)\s*=\s*({_NUMBER})\s*,\s*({_NUMBER})\s*[-–]\s*({_NUMBER})\s*,\s*({_NUMBER})\s*"
)
_LEAST_PIXELS = 20.0  # photo pixels between two ends; by hand, never fitted


@dataclass(frozen=True)
class Marked:
    """``inches`` of table span ``pixels`` of the photo, between ``points`` if these are known."""

    inches: float
    pixels: float
    points: tuple[tuple[float, float], tuple[float, float]] | None = None


def parse_marked(text: str) -> Marked:
    """Read ``6in=1450`` or ``6in=210,1180-1640,1202``.

    Raises:
        UsageError: it is neither, or a length or distance is nothing.
    """
    points = _POINTS.fullmatch(text)
    found = points or _PIXELS.fullmatch(text)
    if not found:
        raise UsageError(
            f"scale '{text}' is not known: use auto, bankcard, letter, a4 or a5 (the white sheet's "
            "format), a length and the photo pixels it spans, like 6in=1450, or a length and its "
            "two ends, like 6in=210,1180-1640,1202"
        )
    inches = float(parse_length(found[1]))
    if points is None:
        marked = Marked(inches, float(found[2]))
    else:
        x0, y0, x1, y1 = (float(one) for one in found.groups()[1:])
        span = float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
        if span < _LEAST_PIXELS:
            raise UsageError(f"scale '{text}': the two points lie too close to measure by")
        marked = Marked(inches, span, ((x0, y0), (x1, y1)))
    if marked.inches <= 0 or marked.pixels <= 0:
        raise UsageError(f"scale '{text}': the length and the pixels must be more than zero")
    return marked
