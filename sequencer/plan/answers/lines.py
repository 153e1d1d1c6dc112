"""Lines of a search: panels alike but for their width, and strips as equal as cloth allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Line:
    """Panels alike but for their width. ``strips``: finished, by print in sequence.

    ``smallest``: narrowest column, None where the strip decides.
    """

    strips: tuple[Fraction, ...]
    repeats: int
    method: str
    sets: str
    smallest: Fraction | None = None

    @property
    def height(self) -> Fraction:
        """Of the centre."""
        return sum(self.strips, Fraction(0)) * self.repeats

    @property
    def rows(self) -> int:
        """Of the centre."""
        return len(self.strips) * self.repeats


def even_parts(total: int, least: int, most: Sequence[int]) -> list[int]:
    """Whole numbers adding up to ``total``, as equal as ``least`` and ``most`` allow; [] if none.

    The least sum of squares, by giving each unit to the smallest part that may still grow (Gross
    1956); equal parts grow in an order that spreads them evenly.
    """
    n = len(most)
    if least * n > total or sum(most) < total:
        return []
    parts = [least] * n
    turn = sorted(range(n), key=lambda i: (i * 0.6180339887498949 % 1, i))
    for _ in range(total - least * n):
        grows = min((i for i in turn if parts[i] < most[i]), key=lambda i: parts[i])
        parts[grows] += 1
    return parts
