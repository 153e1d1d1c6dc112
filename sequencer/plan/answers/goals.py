"""What a search looks for: the worth of a panel, and in which shapes and sizes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

Worth = tuple[Fraction, ...]
"""More is better, the first figure first."""
WALL = Fraction(36)
"""Longest side of a piece that nobody gave a size: small enough for a wall (our judgement)."""
ROWS_ENOUGH, COLUMNS_ENOUGH = 30, 20
"""Rows and columns from which more add nothing to the curve (our judgement)."""
JOIN_PRICE = Fraction(1, 100)
"""Share of a piece's worth that each join costs (our judgement): few joins before small gains."""
BOUGHT_PRICE = Fraction(1, 20)
"""Share that a border of bought cloth costs beside one that the scraps give (our judgement)."""
NO_FINER = Fraction(2, 100)
"""Share of the curve's height below which a miss counts as none (our judgement)."""


@dataclass(frozen=True)
class Panel:
    """What a panel is judged by. ``miss``: of the columns from the curve, as a share of its
    height. ``bought``: whether its border must be bought.
    """

    area: Fraction
    rows: int
    columns: int
    joins: int = 0
    miss: Fraction = Fraction(0)
    bought: bool = False


@dataclass(frozen=True)
class Goal:
    """``name``; ``size`` of the centre if it was asked for, else its ``shape`` (least, greatest
    width over height) and ``longest`` side.
    """

    name: str
    shape: tuple[Fraction, Fraction]
    longest: Fraction
    size: tuple[Fraction, Fraction] | None = None

    def worth(self, panel: Panel) -> Worth:
        """Largest: square inches. Best: the same, less where rows or columns are few, joins many
        or the border bought. Best of a size: how close to the curve, then how little work.
        """
        if self.size:
            parts = panel.rows + panel.columns + panel.joins + panel.bought
            return -max(NO_FINER, panel.miss), Fraction(-parts)
        if self.name == "largest":
            return (panel.area,)
        fine = Fraction(min(panel.rows, ROWS_ENOUGH), ROWS_ENOUGH)
        fine *= Fraction(min(panel.columns, COLUMNS_ENOUGH), COLUMNS_ENOUGH)
        fine *= max(Fraction(1, 10), 1 - JOIN_PRICE * panel.joins)
        return (panel.area * fine * (1 - BOUGHT_PRICE * panel.bought),)

    @property
    def told(self) -> str:
        """The goal in words."""
        if self.size:
            return ("the one whose columns follow the curve closest, misses below 2 hundredths of "
                    "its height alike; of those the one with fewest rows, columns and joins")
        if self.name == "largest":
            return "the largest"
        return "the one worth most: area, less for few rows or columns, joins and a bought border"

    def figures(self, worth: Worth, most: Worth) -> dict[str, float]:
        """``worth`` found and ``best_possible``, and the ``gap`` between them."""
        if self.size:
            return {"miss": float(-worth[0]), "best_possible": float(-most[0]),
                    "gap": round(float(most[0] - worth[0]), 4)}  # fmt: skip
        return {"worth": round(float(worth[0]), 4), "best_possible": round(float(most[0]), 4),
                "gap": round(float(1 - worth[0] / most[0]), 4)}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """A panel that can be cut: its arguments, and what it is worth."""

    wishes: Mapping[str, Any]
    worth: Worth
    joins: int
