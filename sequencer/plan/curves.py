"""Curves for columns to follow: named ones, drawn points, or a line traced from a picture.

A curve is a shape over the panel's width: ``shape(u)`` for u in [0, 1] gives 0 (lowest) to 1
(highest). Its height in rows comes on top; see :func:`heights`.
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import UsageError

Floats = NDArray[np.float64]
Points = Sequence[tuple[float, float]]
MOST_POINTS = 200_000
ENOUGH_POINTS = 513
MOST_PIXELS = 60_000_000


@dataclass(frozen=True)
class Curve:
    """A named or drawn shape. ``points`` is empty for a named one.

    ``count``: how many times the shape repeats across the width (> 0). ``phase``: shift to the
    left, in repeats. ``height``: rows from lowest to highest, None to let the planner choose.
    """

    name: str
    count: float = 1.0
    phase: float = 0.0
    height: float | None = None
    points: tuple[tuple[float, float], ...] = ()

    def shape(self, u: Floats) -> Floats:
        """Height between 0 and 1 at each place ``u`` in [0, 1] (0 left, 1 right)."""
        if self.points:
            xs, ys = np.array(self.points, dtype=float).T
            drawn: Floats = np.interp(u, xs, ys)
            return drawn
        return np.clip(_NAMED[self.name](u * self.count + self.phase), 0.0, 1.0)

    def to_json(self) -> dict[str, Any]:
        """Plain form; :func:`read_curve` reads it back."""
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
    return 1 - np.abs(2 * np.mod(t, 1.0) - 1)


def _flame(t: Floats) -> Floats:
    tongue = 1 - np.abs(np.cos(np.pi * t))
    tall: Floats = np.where(np.mod(np.floor(t), 2) == 0, 1.0, 0.62)
    return tongue * tall


def _slope(t: Floats) -> Floats:
    turned = np.mod(t, 1.0)
    return np.where((turned == 0) & (t > 0), 1.0, turned)


_NAMED: dict[str, Callable[[Floats], Floats]] = {
    "wave": _wave,
    "hill": _hill,
    "valley": _valley,
    "zigzag": _zigzag,
    "flame": _flame,
    "slope": _slope,
}
NAMES: tuple[str, ...] = tuple(_NAMED)


def read_curve(
    what: str | Path | Curve | Points | Mapping[str, Any] | None,
    height: float | None = None,
    count: float | None = None,
    phase: float = 0.0,
) -> Curve:
    """A :class:`Curve` from a name, a CSV, JSON or PNG file, or (x, y) points (y upwards).

    Points are stretched to the panel's whole width and to the curve's height. A mapping is read
    as :meth:`Curve.to_json` writes it.

    Raises:
        UsageError: an unknown name, a file that holds no usable line, or absurd numbers.
    """
    if isinstance(what, Curve):
        return what
    if isinstance(what, Mapping):
        return _from_mapping(what, height, count, phase)
    _check(height, count, phase)
    if what is None or isinstance(what, (str, Path)):
        name = "wave" if what is None else str(what)
        if name in _NAMED:
            return Curve(name, 1.0 if count is None else float(count), float(phase), height)
        name, points = _from_file(name)
    else:
        name, points = "drawn", _points(list(what), "the drawn curve")
    return Curve(name, 1.0, 0.0, height, _normal(points, name))


def _from_mapping(
    found: Mapping[str, Any], height: float | None, count: float | None, phase: float
) -> Curve:
    height = found.get("height") if height is None else height
    if found.get("points"):
        drawn = read_curve(_points(found["points"], "the drawn curve"), height)
        return replace(drawn, name=str(found.get("name", "drawn")))
    count = found.get("count") if count is None else count
    return read_curve(str(found.get("name")), height, count, phase or found.get("phase", 0.0))


def _check(height: float | None, count: float | None, phase: float) -> None:
    if height is not None and not (math.isfinite(height) and 0 <= height <= 1000):
        raise UsageError(f"Curve height {height} makes no sense: give 0 to 1000 rows.")
    if count is not None and not (math.isfinite(count) and 0 < count <= 100):
        raise UsageError(f"Curve count {count} makes no sense: give more than 0, at most 100.")
    if not math.isfinite(phase) or abs(phase) > 100:
        raise UsageError(f"Curve phase {phase} makes no sense: give a number from 0 to 1.")


def _from_file(name: str) -> tuple[str, list[tuple[float, float]]]:
    path = Path(name)
    kind = path.suffix.lower()
    if kind not in {".csv", ".json", ".png"}:
        raise UsageError(
            f"'{name}' is no curve. Choose {', '.join(NAMES)}, or give a .csv or .json file of "
            "points, or a .png with one dark line."
        )
    if not path.is_file():
        raise UsageError(f"There is no curve file '{name}'. Check the path.")
    reader = {".csv": _from_csv, ".json": _from_json, ".png": trace_line}[kind]
    return path.name, reader(path)


def _from_csv(path: Path) -> list[tuple[float, float]]:
    try:
        rows = [row for row in csv.reader(path.read_text("utf-8-sig").splitlines()) if any(row)]
    except (OSError, UnicodeDecodeError, csv.Error) as why:
        raise UsageError(f"{path.name} cannot be read as CSV: {why}.") from None
    if rows and not _number(rows[0][0]):
        rows = rows[1:]
    return _points(rows, path.name)


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _from_json(path: Path) -> list[tuple[float, float]]:
    try:
        found = json.loads(path.read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError, ValueError, RecursionError) as why:
        raise UsageError(f"{path.name} cannot be read as JSON: {why}.") from None
    points = found.get("points") if isinstance(found, dict) else found
    if not isinstance(points, list):
        raise UsageError(f'{path.name} holds no points. Write [[x, y], …] or {{"points": …}}.')
    return _points(points, path.name)


def _points(rows: Sequence[Any], where: str) -> list[tuple[float, float]]:
    if len(rows) > MOST_POINTS:
        raise UsageError(f"{where} has {len(rows)} points; {MOST_POINTS} are plenty.")
    points = []
    for number, row in enumerate(rows, 1):
        try:
            x, y = (float(part) for part in row)
        except (TypeError, ValueError):
            raise UsageError(
                f"{where}, point {number}: '{row}' is not two numbers. Write x, y on each line."
            ) from None
        if not (math.isfinite(x) and math.isfinite(y)) or max(abs(x), abs(y)) > 1e9:
            raise UsageError(f"{where}, point {number}: {x}, {y} is not a usable place.")
        points.append((x, y))
    return points


def _normal(points: list[tuple[float, float]], where: str) -> tuple[tuple[float, float], ...]:
    """Left to right, x over [0, 1], y over [0, 1]; points at one x become their mean."""
    if len(points) < 2:
        raise UsageError(f"{where} has {len(points)} point(s); a curve needs two or more.")
    if points[0][0] > points[-1][0]:
        points = points[::-1]
    xs, ys = np.array(points).T
    if np.ptp(xs) == 0:
        raise UsageError(f"{where}: all points stand at x = {xs[0]:g}; a curve runs sideways.")
    back = np.maximum.accumulate(xs) - xs
    if back.max() > 0.05 * np.ptp(xs):
        raise UsageError(
            f"{where}: the line turns back at point {int(back.argmax()) + 1}. "
            "A column has one height, so the curve must run from left to right."
        )
    places, index = np.unique(xs, return_inverse=True)
    heights = np.bincount(index, ys) / np.bincount(index)
    rise = np.ptp(heights) or 1.0
    u = (places - places[0]) / np.ptp(places)
    v = (heights - heights.min()) / rise
    if len(u) > ENOUGH_POINTS:
        even = np.linspace(0, 1, ENOUGH_POINTS)
        u, v = even, np.interp(even, u, v)
    u, v = np.round(u, 6), np.round(v, 6)
    return tuple(zip(u.tolist(), v.tolist(), strict=True))


def trace_line(path: Path) -> list[tuple[float, float]]:
    """Points along one dark line on a light ground: in each pixel column the middle of the dark.

    Raises:
        UsageError: no picture, no dark line across at least half the width, or several lines.
    """
    grey = _grey(path)
    dark = grey < (float(grey.min()) + float(grey.max())) / 2
    if np.ptp(grey) < 32:
        raise UsageError(f"{path.name} shows no dark line: all of it is about equally light.")
    if dark.mean() > 0.5:
        raise UsageError(f"{path.name}: most of it is dark. Draw one dark line on a light ground.")
    columns = np.flatnonzero(dark.any(axis=0))
    if np.ptp(columns) < grey.shape[1] / 2 or len(columns) < np.ptp(columns) * 0.6:
        raise UsageError(f"{path.name}: no dark line runs across at least half the picture.")
    rows = np.arange(grey.shape[0])[:, None]
    inked = dark[:, columns]
    middle = (rows * inked).sum(axis=0) / inked.sum(axis=0)
    _one_line(inked, path.name)
    return [(float(x), float(-y)) for x, y in zip(columns, middle, strict=True)]


def _one_line(inked: NDArray[np.bool_], where: str) -> None:
    runs = inked[:1].sum(axis=0) + (inked[1:] & ~inked[:-1]).sum(axis=0)
    if (runs > 1).mean() > 0.1:
        raise UsageError(f"{where} shows more than one line. Leave one dark line only.")


def _grey(path: Path) -> Floats:
    from PIL import Image

    try:
        with Image.open(path) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise UsageError(f"{path.name} is too large to trace; 2,000 pixels are plenty.")
            full = picture.convert("RGBA")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as why:
        raise UsageError(f"{path.name} cannot be read as a picture: {why}.") from None
    ground = Image.new("RGBA", full.size, "white")
    return np.asarray(Image.alpha_composite(ground, full).convert("L"), dtype=float)


def heights(curve: Curve, cells: int, reach: int, steps: int, rows: int) -> tuple[Floats, float]:
    """Curve in rows at the middle of each of ``cells`` ruler cells, and its height in rows.

    Where the curve has no height of its own it gets the largest whole number of rows that
    ``steps`` rows over each smallest column (``reach`` cells) can climb, at most 3/5 of ``rows``.
    """
    unit = curve.shape((np.arange(cells) + 0.5) / cells)
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
