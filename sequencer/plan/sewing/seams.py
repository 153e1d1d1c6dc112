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
    tally = _Tally(request, columns)
    for step in steps:
        tally.count(step)
    tall, wide = request.height + 2 * request.seam, request.width + 2 * request.seam
    total = tally.total
    for border in borders:
        wide += 2 * border["width"]
        total += 2 * (tall + wide)
        tall += 2 * border["width"]
    return {
        "count": sum(tally.kinds.values()),
        "opened": tally.opened,
        "length": total,
        "kinds": dict(sorted(tally.kinds.items())),
        "cuts": tally.cuts,
    }


class _Tally:
    """Seams by kind, their length, and how long each strip and set still is."""

    def __init__(self, request: Request, columns: Sequence[Column]) -> None:
        self.request, self.columns = request, columns
        self.kinds: Counter[str] = Counter()
        self.total, self.opened, self.cuts = Fraction(0), 0, 0
        self.long: dict[str, Fraction] = {}
        self.across: dict[str, Fraction] = {}

    def count(self, step: Mapping[str, Any]) -> None:
        """Add one step."""
        op, long = step["op"], self.long
        if op == "cut_strip":
            long[step["makes"]] = step["length"]
            self.across[step["makes"]] = step["width"]
            self.cuts += 1
        elif op == "square_end":
            long[step["makes"]] = long[step["takes"]] - step["by"]
        elif op == "cut_segment":
            long[step["leaves"]] = long[step["takes"]] - step["width"]
            self.cuts += 1
        elif op == "open_seam":
            self.opened += 1
        elif op == "add_border":
            self.kinds["border"] += 2
        else:
            self._seam(step)

    def _seam(self, step: Mapping[str, Any]) -> None:
        """A step that sews."""
        op, long, seams = step["op"], self.long, len(step["takes"]) - 1
        if op == "join_ends":
            self.kinds["join"] += seams
            pieces = sum((long[name] for name in step["takes"]), Fraction(0))
            loss = join_loss(step["seam"], self.across[step["takes"][0]], self.request.seam)
            long[step["makes"]] = pieces - seams * loss
        elif op == "sew_strips":
            long[step["makes"]] = min(long[name] for name in step["takes"])
            self._sewn("strip", seams, long[step["makes"]])
        elif op == "close_loop":
            long[step["makes"]] = long[step["takes"]]
            self._sewn("closing", 1, long[step["takes"]])
        elif op == "stack":
            self._sewn("stack", seams, self.columns[step["column"] - 1].cut_width)
        elif op == "sew_columns":
            self._sewn("column", seams, self.request.height + 2 * self.request.seam)

    def _sewn(self, kind: str, seams: int, length: Fraction) -> None:
        self.kinds[kind] += seams
        self.total += seams * length
