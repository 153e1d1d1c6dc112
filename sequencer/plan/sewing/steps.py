"""The sewing itself, as executable steps; words, drawings and fabric are read off them.

Each step is one mapping with ``op``; a name made by a step is used once. See
:func:`sewing_steps` for the order: strips, sets, segments, columns, panel, border, binding.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sequencer.models import Column
from sequencer.plan.asked import Request
from sequencer.plan.sewing.sets import Segment, StripSet

Step = dict[str, Any]


@dataclass(frozen=True)
class Supplied:
    """A piece to cut: its length, and where it lies in which scrap (None: in none)."""

    length: Fraction
    scrap: int | None = None
    along: str | None = None
    at: tuple[Fraction, Fraction] | None = None


Supply = Callable[[str], Sequence[Supplied]]
"""supply(print) → the pieces of its next strip, from the squared end on."""


def strip_names(set_name: str, number: int, pieces: int) -> list[str]:
    """Names of the pieces of one strip of a set."""
    name = f"set {set_name} strip {number}"
    return [name] if pieces == 1 else [f"{name} piece {k}" for k in range(1, pieces + 1)]



class _Bench:
    """Collects steps; keeps the segments that wait for their column."""

    def __init__(self, request: Request, columns: Sequence[Column], supply: Supply) -> None:
        self.request, self.columns, self.supply = request, columns, supply
        self.steps: list[Step] = []
        self.waiting: dict[int, list[tuple[str, Segment, StripSet]]] = {}
        self.rings: set[str] = set()

    def do(self, op: str, **fields: Any) -> None:
        self.steps.append({"op": op, **fields})

    def cut_strips(self, one: StripSet) -> list[str]:
        """All pieces of a set are cut, then those that need it are joined."""
        names, joins = [], []
        spare = one.spare(self.request.squaring)
        for number, print_id in enumerate(one.order, 1):
            pieces = self.supply(print_id)
            parts = strip_names(one.name, number, len(pieces))
            width = self.request.cut(self.request.strips[print_id])
            for part, (piece, made) in enumerate(zip(pieces, parts, strict=True), 1):
                self.do("cut_strip", print=print_id, width=width, length=piece.length, makes=made,
                        scrap=piece.scrap, along=piece.along, at=piece.at, spare=spare,
                        set=one.name, strip=number, piece=part)  # fmt: skip
            if len(pieces) > 1:
                joins.append((parts, number))
            names.append(f"set {one.name} strip {number}")
        for parts, number in joins:
            self.do("join_ends", takes=parts, seam=self.request.join, makes=names[number - 1],
                    set=one.name, strip=number)  # fmt: skip
        return names

    def sew_set(self, one: StripSet) -> str:
        strips = self.cut_strips(one)
        name = f"set {one.name}"
        self.do("sew_strips", takes=strips, press=one.press, makes=name, set=one.name,
                spare=one.spare(self.request.squaring))  # fmt: skip
        if self.request.squaring:
            squared = f"{name} squared"
            self.do("square_end", takes=name, by=self.request.squaring, makes=squared, set=one.name)
            return squared
        return name

    def cut_set(self, one: StripSet, name: str) -> None:
        looped = False
        for number, segment in enumerate(one.segments, 1):
            if one.lost and number == one.done + 1:
                name = self._square_again(one, name)
            if self.request.method == "loop" and segment.shift and not looped:
                self.do("close_loop", takes=name, makes=f"tube {one.name}", set=one.name)
                name, looped = f"tube {one.name}", True
            made = self._segment_name(segment)
            left = f"{'tube' if looped else 'set'} {one.name} after {number}"
            self.do("cut_segment", takes=name, width=segment.width, makes=made, leaves=left,
                    set=one.name, column=segment.column + 1, part=segment.part + 1, looped=looped)
            self.waiting.setdefault(segment.column, []).append((made, segment, one))
            if looped:
                self.rings.add(made)
            name = left

    def _square_again(self, one: StripSet, name: str) -> str:
        """What a wrong cut cost is trimmed off."""
        made = f"set {one.name} squared again"
        self.do("square_end", takes=name, by=one.lost, makes=made, set=one.name,
                again=True)  # fmt: skip
        return made

    def _segment_name(self, segment: Segment) -> str:
        base = f"column {segment.column + 1}"
        if self.request.tall or self.request.repeats == 1:
            return f"{base} segment"
        return f"{base} segment {segment.part + 1}"

    def open_column(self, column: int) -> list[str]:
        """Open what the column's shift asks for; its pieces from top to bottom."""
        parts = sorted(self.waiting[column], key=lambda item: item[1].part)
        names = [name for name, _, _ in parts]
        shift = parts[0][1].shift
        if self.request.method == "loop":  # a ring that needs no shift opens between its ends
            return [
                self._open_loop(name, segment.shift or len(one.order), column)
                if name in self.rings else name
                for name, segment, one in parts
            ]
        if not shift:
            return names
        upper, lower = f"{names[0]} top", f"{names[0]} rest"
        self.do("open_seam", takes=names[0], after=shift, makes=[upper, lower], column=column + 1)
        return [lower, *names[1:], upper]

    def _open_loop(self, name: str, shift: int, column: int) -> str:
        made = f"{name} opened"
        self.do("open_seam", takes=name, after=shift, makes=[made], column=column + 1)
        return made

    def stack_column(self, column: int, pieces: list[str]) -> str:
        if len(pieces) == 1:
            return pieces[0]
        made = f"column {column + 1}"
        press = self.waiting[column][0][2].press
        self.do("stack", takes=pieces, press=press, makes=made, column=column + 1)
        return made


def sewing_steps(
    request: Request,
    columns: Sequence[Column],
    sets: Sequence[StripSet],
    supply: Supply,
    borders: Sequence[Mapping[str, Any]],
    binding: Mapping[str, Any] | None,
) -> tuple[Step, ...]:
    """Every step from the first strip to the binding.

    Flat method: a shifted column's seam is opened and its top sewn on below. Loop method: set
    ends are sewn to a tube after the unshifted columns are cut from it, and each ring is opened.
    """
    bench = _Bench(request, columns, supply)
    for one in sets:
        bench.cut_set(one, bench.sew_set(one))
    opened = [bench.open_column(column) for column in range(len(columns))]
    names = [bench.stack_column(column, pieces) for column, pieces in enumerate(opened)]
    top = "centre"
    bench.do("sew_columns", takes=names, press="open", makes=top)
    for number, border in enumerate(borders, 1):
        for order in ("sides", "top_bottom"):
            made = f"centre with border {number} {order.replace('_', ' and ')}"
            bench.do("add_border", takes=top, print=border["print"],
                     cut_width=border["cut_width"], order=order, makes=made,
                     border=number)  # fmt: skip
            top = made
    if binding is not None:
        bench.do("bind", takes=top, print=binding["print"], cut_width=binding["cut_width"],
                 length=binding["length"])  # fmt: skip
    return tuple(bench.steps)
