"""Drawn curves: points from CSV or JSON, or one dark line traced from a picture.

Everything a hand drew comes out the same way: points from left to right, both axes over [0, 1].
"""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import UsageError

MOST_POINTS = 200_000
ENOUGH_POINTS = 513
MOST_PIXELS = 60_000_000
Pairs = list[tuple[float, float]]


def read_file(name: str, names: Sequence[str]) -> tuple[str, Pairs | dict[str, Any]]:
    """File name and points of a curve file; ``names`` are the curves that need no file.

    A JSON file that tells the line in rows comes as the mapping that it is.
    """
    path = Path(name)
    kind = path.suffix.lower()
    if kind not in {".csv", ".json", ".png"}:
        raise UsageError(
            f"'{name}' is no curve. Choose {', '.join(names)}, or give a .csv or .json file of "
            "points, or a .png with one dark line."
        )
    if not path.is_file():
        raise UsageError(f"There is no curve file '{name}'. Check the path.")
    reader: Callable[[Path], Pairs | dict[str, Any]]
    reader = {".csv": _from_csv, ".json": _from_json, ".png": trace_line}[kind]
    return path.name, reader(path)


def _from_csv(path: Path) -> Pairs:
    try:
        rows = [row for row in csv.reader(path.read_text("utf-8-sig").splitlines()) if any(row)]
    except (OSError, UnicodeDecodeError, csv.Error) as why:
        raise UsageError(f"{path.name} cannot be read as CSV: {why}.") from None
    if rows and not _number(rows[0][0]):
        rows = rows[1:]
    return read_points(rows, path.name)


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _from_json(path: Path) -> Pairs | dict[str, Any]:
    try:
        found = json.loads(path.read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError, ValueError, RecursionError) as why:
        raise UsageError(f"{path.name} cannot be read as JSON: {why}.") from None
    if isinstance(found, dict) and "rows" in found:
        return {key: found[key] for key in ("rows", "base") if key in found}
    points = found.get("points") if isinstance(found, dict) else found
    if not isinstance(points, list):
        raise UsageError(f'{path.name} holds no points. Write [[x, y], …] or {{"points": …}}, or '
                         '{{"rows": [height in rows, …]}}.')
    return read_points(points, path.name)


def read_points(rows: Sequence[Any], where: str) -> Pairs:
    """Pairs of finite numbers; UsageError names the first that is none."""
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


def normal(points: Pairs, where: str) -> tuple[tuple[float, float], ...]:
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


def trace_line(path: Path) -> Pairs:
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


def _grey(path: Path) -> NDArray[np.float64]:
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
