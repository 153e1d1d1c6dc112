"""Curves for columns to follow: named ones, drawn points, or a line traced from a picture.

A curve is a shape over the panel's width: ``shape(u)`` for u in [0, 1] gives 0 (lowest) to 1
(highest). Its height in rows comes on top; see :func:`heights`. A line told in rows is taken as it
is and never stretched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import UsageError
from sequencer.plan.asked import MOST_ROWS, listed, number
from sequencer.plan.curve.drawn import normal, read_file, read_points

Floats = NDArray[np.float64]
Points = Sequence[tuple[float, float]]
MOST_PLACES = 2049
"""Places at which a line in rows can be told."""


@dataclass(frozen=True)
class Curve:
    """A named or drawn shape. ``points`` is empty for a named one.

    ``count``: how many times the shape repeats across the width (> 0). ``phase``: shift to the
    left, in repeats. A slope is one straight rise and has neither. ``height``: rows from lowest
    to highest, None to let the planner choose. ``rows``: heights in rows at even places from the
    left edge to the right, empty for other curves; they count from print number ``base`` of the
    sequence, the one that runs below the line.
    """

    name: str
    count: float = 1.0
    phase: float = 0.0
    height: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    rows: tuple[float, ...] = ()
    base: int = 0

    def in_rows(self, u: Floats) -> Floats:
        """Height in rows at each place ``u`` in [0, 1]; 0 everywhere while it has no height."""
        if self.rows:
            return np.asarray(np.interp(u, np.linspace(0, 1, len(self.rows)), self.rows))
        return np.asarray(self.shape(u) * float(self.height or 0))

    def shape(self, u: Floats) -> Floats:
        """Height between 0 and 1 at each place ``u`` in [0, 1] (0 left, 1 right)."""
        if self.rows:
            return (self.in_rows(u) - min(self.rows)) / (np.ptp(self.rows) or 1.0)
        if self.points:
            xs, ys = np.array(self.points, dtype=float).T
            drawn: Floats = np.interp(u, xs, ys)
            return drawn
        if self.name == "slope":
            return u
        return np.clip(_NAMED[self.name](u * self.count + self.phase), 0.0, 1.0)

    def to_json(self) -> dict[str, Any]:
        """Plain form; :func:`read_curve` reads it back."""
        if self.rows:
            return {"name": self.name, "rows": list(self.rows), "base": self.base}
        return {
            "name": self.name,
            "count": self.count,
            "phase": self.phase,
            "height": self.height,
            "points": [list(point) for point in self.points],
        }


def _wave(t: Floats) -> Floats:
    return 0.5 + 0.5 * np.sin(2 * np.pi * t)


def _hill(t: Floats) -> Floats:
    return np.abs(np.sin(np.pi * t))


def _valley(t: Floats) -> Floats:
    return 1 - _hill(t)


def _zigzag(t: Floats) -> Floats:
    away: Floats = np.abs(2 * np.mod(t, 1.0) - 1)
    return 1 - away


def _flame(t: Floats) -> Floats:
    tongue = 1 - np.abs(np.cos(np.pi * t))
    tall: Floats = np.where(np.mod(np.floor(t), 2) == 0, 1.0, 0.62)
    return tongue * tall


_NAMED: dict[str, Callable[[Floats], Floats]] = {
    "wave": _wave,
    "hill": _hill,
    "valley": _valley,
    "zigzag": _zigzag,
    "flame": _flame,
    "slope": lambda t: t,
}
NAMES: tuple[str, ...] = tuple(_NAMED)


def read_curve(
    what: str | Path | Curve | Points | Mapping[str, Any] | None,
    height: float | None = None,
    count: float | None = None,
    phase: float = 0.0,
) -> Curve:
    """A :class:`Curve` from a name, a CSV, JSON or PNG file, or (x, y) points (y upwards).

    Points are stretched to the panel's whole width and to the curve's height; ``{"rows": [heights
    in rows from the left edge to the right], "base": 0}``, given as a mapping or in a JSON file, is
    not. A mapping is read as :meth:`Curve.to_json` writes it.

    Raises:
        UsageError: an unknown name, a file that holds no usable line, or absurd numbers.
    """
    if isinstance(what, Curve):
        return what
    if isinstance(what, Mapping):
        return _from_mapping(what, height, count, phase)
    height = None if height is None else number("Curve height", height, 0, 1000)
    count = None if count is None else number("Curve count", count, 0.01, 100)
    phase = number("Curve phase", phase, -100, 100)
    if what is None or isinstance(what, (str, Path)):
        name = "wave" if what is None else str(what)
        if name in _NAMED:
            return Curve(name, 1.0 if count is None else count, phase, height)
        name, points = read_file(name, NAMES)
        if isinstance(points, Mapping):
            return _in_rows({"name": name, **points}, height, count, phase)
    else:
        name, points = "drawn", read_points(listed("Curve", what), "the drawn curve")
    return Curve(name, 1.0, 0.0, height, normal(points, name))


def _from_mapping(
    found: Mapping[str, Any], height: float | None, count: float | None, phase: float
) -> Curve:
    if "rows" in found:
        return _in_rows(found, height, count, phase)
    height = found.get("height") if height is None else height
    if found.get("points"):
        drawn = read_curve(read_points(found["points"], "the drawn curve"), height)
        return replace(drawn, name=str(found.get("name", "drawn")))
    count = found.get("count") if count is None else count
    return read_curve(str(found.get("name")), height, count, phase or found.get("phase", 0.0))


def _in_rows(
    found: Mapping[str, Any], height: float | None, count: float | None, phase: float
) -> Curve:
    if height is not None or count is not None or phase:
        raise UsageError("A line given in rows is taken as it is: it has no height, count or phase "
                         "of its own to choose.")  # fmt: skip
    rows = [number("Line in rows", one, -MOST_ROWS, MOST_ROWS)
            for one in listed("Line in rows", found["rows"])]
    if not 2 <= len(rows) <= MOST_PLACES:
        raise UsageError(f"The line has its height at {len(rows)} place(s): 2 to {MOST_PLACES} "
                         "are possible.")  # fmt: skip
    base = found.get("base", 0)
    if not isinstance(base, int) or isinstance(base, bool) or abs(base) > 1_000_000:
        raise UsageError(f"The line's base {base!r} is not the number of a print.")
    name = str(found.get("name") or "drawn")
    return Curve(name, height=max(rows) - min(rows), rows=tuple(rows), base=base)


def heights(curve: Curve, cells: int, reach: int, steps: int, rows: int) -> tuple[Floats, float]:
    """Curve in rows at the middle of each of ``cells`` ruler cells, and its height in rows.

    A line told in rows is itself. Where the curve has no height of its own it gets the largest
    whole number of rows that ``steps`` rows over each smallest column (``reach`` cells) can climb,
    at most 3/5 of ``rows``.
    """
    places = (np.arange(cells) + 0.5) / cells
    if curve.rows:
        line = curve.in_rows(places)
        return line, float(np.ptp(line))
    unit = curve.shape(places)
    height = curve.height
    if height is None:
        steepest = rise(unit, reach)
        room = max(1, round(0.6 * rows))
        height = float(min(room, math.floor(steps / steepest + 1e-9)) if steepest > 0 else 0)
        height = max(height, 1.0)
    return unit * height, height


def rise(values: Floats, reach: int) -> float:
    """Largest climb between places ``reach`` cells apart (shorter curves: end to end)."""
    reach = min(reach, len(values) - 1)
    return float(np.abs(values[reach:] - values[: len(values) - reach]).max()) if reach else 0.0
