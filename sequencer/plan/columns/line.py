"""The line that a plan's columns follow, however it was asked for."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from typing import Any

import numpy as np

from sequencer.models import Plan
from sequencer.plan.curve import Floats, read_curve

PLACES = 129
"""Places, even from the left edge to the right, at which a page holds a line's heights."""


def page_line(plan: Plan) -> dict[str, Any]:
    """The line as heights in rows: ``rows`` at PLACES places, ``base``, and its ``named``.

    Print number ``base`` of the sequence runs directly below the line. A line that was given in
    rows is told as it was given, any other as it was followed.
    """
    places = np.linspace(0, 1, PLACES)
    told = plan.options.get("curve") or {}
    drawn = read_curve(told) if told.get("rows") else None
    rows = line_of(plan, places) if drawn is None else drawn.in_rows(places)
    named = told.get("name") if told and not drawn and not told.get("points") else None
    return {
        "rows": [round(float(row), 4) for row in rows],
        "base": drawn.base if drawn else 0,
        "named": named,
    }


def line_of(plan: Plan, places: Floats) -> Floats:
    """The line's height in rows at ``places`` in [0, 1], counted as the columns' own offsets are.

    Where nobody drew a line it leads through the middles of the columns.
    """
    path = np.array(unwrapped([column.offset for column in plan.columns], len(plan.prints)))
    edges = np.array([0, *accumulate(c.finished_width for c in plan.columns)], dtype=float)
    edges /= edges[-1]
    shown = path[np.clip(np.searchsorted(edges, places, side="right") - 1, 0, len(path) - 1)]
    curve = plan.options.get("curve")
    if not curve:
        return np.asarray(np.interp(places, (edges[1:] + edges[:-1]) / 2, path), dtype=float)
    line = read_curve(curve).in_rows(places)
    return np.asarray(line + np.rint(np.mean(shown) - np.mean(line)))


def unwrapped(offsets: Sequence[int], n: int) -> list[int]:
    """Offsets counted on past the last print, each the nearest to its left neighbour."""
    path = list(offsets[:1])
    for offset in offsets[1:]:
        step = (offset - path[-1]) % n
        path.append(path[-1] + (step if step <= n // 2 else step - n))
    return path
