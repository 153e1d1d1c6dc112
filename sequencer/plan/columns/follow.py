"""From a request and a curve to columns: widths on the ruler, offsets, and how close they come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import PlanError
from sequencer.models import Column, PlanWarning
from sequencer.plan.asked import Request
from sequencer.plan.columns.fitting import fit_columns, fit_offsets
from sequencer.plan.curve import Curve, Floats, heights, rise
from sequencer.plan.telling import exact, tell_all

FINE = 2048
"""Places at which a curve is read under columns of given widths."""


@dataclass(frozen=True)
class Followed:
    """Columns, the curve with its height settled (None if unused), the fit, what to say."""

    columns: tuple[Column, ...]
    curve: Curve | None
    rms_rows: float | None
    warnings: tuple[PlanWarning, ...] = ()


def follow(request: Request, curve: Curve) -> Followed:
    """The best columns for the request; explicit widths and offsets are taken as they are."""
    if request.offsets is not None:
        widths = request.columns or _even(request, len(request.offsets))
        return Followed(_columns(request, widths, request.offsets), None, None)
    if request.columns is not None:
        return _under_widths(request, curve, request.columns)
    return _free(request, curve)


def _columns(
    request: Request, widths: Sequence[Fraction], offsets: Sequence[int]
) -> tuple[Column, ...]:
    n = len(request.ids)
    return tuple(
        Column(request.cut(width), width, offset % n)
        for width, offset in zip(widths, offsets, strict=True)
    )


def _even(request: Request, count: int) -> tuple[Fraction, ...]:
    """Widths on the ruler, as equal as can be, that add up to the centre's width."""
    cells = int(request.width / request.grid)
    marks = [(i * cells + count // 2) // count for i in range(count + 1)]
    return tuple((b - a) * request.grid for a, b in pairwise(marks))


def _free(request: Request, curve: Curve) -> Followed:
    cells = int(request.width / request.grid)
    smallest = int(request.smallest / request.grid)
    most_step = max(request.steps)
    rows, height = heights(curve, cells, smallest, most_step, request.rows)
    largest = _largest(request, rows, smallest)
    _check_fill(request, cells, smallest, largest)
    steps = request.steps if np.ptp(np.rint(rows)) else (0, *request.steps)
    fitted = fit_columns(
        rows, smallest, largest, steps, request.price * smallest, request.symmetric
    )
    widths = [cell * request.grid for cell in fitted.widths]
    return Followed(
        _columns(request, widths, [offset + curve.base for offset in fitted.offsets]),
        replace(curve, height=height),
        fitted.rms_rows,
        _steepness(request, rows, smallest, most_step, height),
    )


def _largest(request: Request, rows: Floats, smallest: int) -> int:
    """As given, or wide enough for the curve's flattest stretch, its crest."""
    if request.largest is not None:
        return int(request.largest / request.grid)
    level = np.rint(rows)
    turns = np.flatnonzero(np.diff(level)) + 1
    runs = np.diff(np.concatenate([[0], turns, [len(rows)]]))
    return min(len(rows), max(4 * smallest, int(runs.max()) + 1))


def _check_fill(request: Request, cells: int, smallest: int, largest: int) -> None:
    count = -(-cells // largest)
    if count * smallest <= cells:
        return
    near = [width for width in ((count - 1) * largest, count * smallest) if width >= smallest]
    raise PlanError(
        f"No number of columns from {request.show(request.smallest)} to "
        f"{request.show(largest * request.grid)} fills {request.show(request.width)}. Nearest: "
        f"{' or '.join(request.show(width * request.grid) for width in near)}; or allow a wider "
        "largest column."
    )


def _steepness(
    request: Request, rows: Floats, smallest: int, most_step: int, height: float
) -> tuple[PlanWarning, ...]:
    """A warning where the curve climbs more over one smallest column than a step can."""
    steepest = rise(rows, smallest)
    if steepest <= most_step + 0.25:
        return ()
    climb = np.abs(rows[smallest:] - rows[: len(rows) - smallest])
    where = _stretches(np.flatnonzero(climb > most_step + 0.25), smallest)
    places = " and ".join(
        f"{exact(a * request.grid)} to {exact(b * request.grid)}" for a, b in where
    )
    lower = max(1, math.floor(height * most_step / steepest))
    narrow = max(request.seam, math.floor(smallest * most_step / steepest) * request.grid)
    fixes = [f"a curve {lower} rows high"]
    if narrow < request.smallest:
        fixes.append(f"a smallest column of {exact(narrow)}")
    if most_step < 2 and steepest <= 2 + 0.25:
        fixes.append("steps of two rows")
    fixes.append(f"a piece {exact(request.width * math.ceil(steepest / most_step * 8) / 8)}"
                 " wide")  # fmt: skip
    text = (
        f"The curve climbs up to {steepest:.1f} rows over one {exact(request.smallest)} "
        f"column (from the left: {places}); columns can climb {most_step}. They lag behind it "
        f"there. What would fix it: "
        f"{', '.join(fixes[:-1])} or {fixes[-1]}."
    )
    return (PlanWarning("curve_too_steep", *tell_all(text, request.units)),)


def _stretches(starts: NDArray[np.intp], reach: int) -> list[tuple[int, int]]:
    """The three longest stretches, left to right, that cells ``starts`` + ``reach`` cover."""
    breaks = np.flatnonzero(np.diff(starts) > reach)
    firsts = starts[np.concatenate([[0], breaks + 1])].tolist()
    lasts = starts[np.concatenate([breaks, [len(starts) - 1]])].tolist()
    found = [(first, last + reach) for first, last in zip(firsts, lasts, strict=True)]
    return sorted(sorted(found, key=lambda one: one[0] - one[1])[:3])


def _under_widths(request: Request, curve: Curve, widths: Sequence[Fraction]) -> Followed:
    edges = np.cumsum([0.0, *map(float, widths)]) / float(request.width)
    reach = max(1, math.floor(FINE * float(min(widths) / request.width)))
    rows, height = heights(curve, FINE, reach, max(request.steps), request.rows)
    sums = np.concatenate([[0.0], np.cumsum(rows)])
    places = np.arange(FINE + 1) / FINE
    means = np.diff(np.interp(edges, places, sums)) / np.diff(edges) / FINE
    offsets = fit_offsets(means, list(map(float, widths)), request.steps)
    shown = np.array(offsets)[
        np.searchsorted(edges[1:-1], (np.arange(FINE) + 0.5) / FINE, side="right")
    ]
    rms = float(np.sqrt(np.mean((rows - shown) ** 2)))
    return Followed(
        _columns(request, widths, [offset + curve.base for offset in offsets]),
        replace(curve, height=height),
        round(rms, 6),
        _strayed(rms),
    )


def _strayed(rms: float) -> tuple[PlanWarning, ...]:
    if rms <= 1:
        return ()
    text = (
        f"Columns of these widths stray from the curve by {rms:.1f} rows on average (root mean "
        "square). Let the widths follow the curve, or use a lower curve or more columns."
    )
    return (PlanWarning("curve_not_followed", text),)
