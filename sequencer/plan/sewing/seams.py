"""Seams of a plan, counted off its steps: how many, how many opened again, how long."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.models import Column
from sequencer.plan.asked import Request, join_loss

Size = tuple[Fraction, Fraction]


def count_seams(
    request: Request,
    columns: Sequence[Column],
    steps: Sequence[Mapping[str, Any]],
    borders: Sequence[Mapping[str, Any]],
) -> dict[str, Any]:
    """``count`` of seams sewn, ``opened`` again, ``length`` in inches, and ``kinds`` of the count.

    ``length`` leaves out end-to-end joins and the binding. ``cuts`` counts strips and segments.
    """
    kinds: Counter[str] = Counter()
    total, opened, cuts = Fraction(0), 0, 0
    long: dict[str, Fraction] = {}
    across: dict[str, Fraction] = {}
    tall = request.height + 2 * request.seam
    for step in steps:
        op = step["op"]
        if op == "cut_strip":
            long[step["makes"]] = step["length"]
            across[step["makes"]] = step["width"]
            cuts += 1
        elif op == "join_ends":
            count = len(step["takes"]) - 1
            kinds["join"] += count
            pieces = sum((long[name] for name in step["takes"]), Fraction(0))
            loss = join_loss(step["seam"], across[step["takes"][0]], request.seam)
            long[step["makes"]] = pieces - count * loss
        elif op == "sew_strips":
            shortest = min(long[name] for name in step["takes"])
            long[step["makes"]] = shortest
            kinds["strip"] += len(step["takes"]) - 1
            total += shortest * (len(step["takes"]) - 1)
        elif op == "square_end":
            long[step["makes"]] = long[step["takes"]] - step["by"]
        elif op == "cut_segment":
            long[step["leaves"]] = long[step["takes"]] - step["width"]
            cuts += 1
        elif op == "close_loop":
            long[step["makes"]] = long[step["takes"]]
            kinds["closing"] += 1
            total += long[step["takes"]]
        elif op == "open_seam":
            opened += 1
        elif op == "stack":
            kinds["stack"] += len(step["takes"]) - 1
            total += columns[step["column"] - 1].cut_width * (len(step["takes"]) - 1)
        elif op == "sew_columns":
            kinds["column"] += len(step["takes"]) - 1
            total += tall * (len(step["takes"]) - 1)
        elif op == "add_border":
            kinds["border"] += 2
    wide = request.width + 2 * request.seam
    for border in borders:
        wide += 2 * border["width"]
        total += 2 * (tall + wide)
        tall += 2 * border["width"]
    return {
        "count": sum(kinds.values()),
        "opened": opened,
        "length": total,
        "kinds": dict(sorted(kinds.items())),
        "cuts": cuts,
    }
