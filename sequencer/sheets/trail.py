"""Follow each column back through the sewing steps: which strip set, which cut, which seam.

The steps are the one source; what the sheets say about a column is read from them, not worked
out a second time. Steps that do not end in the plan's columns give no trail (None), and the
sheets then say only what the plan's columns say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from sequencer.models import Plan

Step = Mapping[str, Any]


@dataclass(frozen=True)
class Cut:
    """One segment: the ``number``-th cut from strip set ``of`` (both from 1).

    ``ring``: whether the set's ends were sewn together before.
    """

    of: int
    number: int
    width: Fraction
    ring: bool = False


@dataclass(frozen=True)
class Opened:
    """A seam that is opened: the prints above and below it, and the seam's place from the top."""

    above: str
    below: str
    place: int


@dataclass(frozen=True)
class StripSet:
    """One strip set as sewn: prints top to bottom, pressing, and what squaring takes off.

    ``label``: what the plan calls it; ``number``: what the sheets call it, since letters here
    stand for prints.
    """

    number: int
    label: str
    prints: tuple[str, ...]
    press: str
    squared: Fraction = Fraction(0)


@dataclass(frozen=True)
class ColumnTrail:
    """How one column came about, cuts from top to bottom."""

    patches: tuple[str, ...]
    cuts: tuple[Cut, ...]
    opened: tuple[Opened, ...]


@dataclass(frozen=True)
class Trail:
    """All strip sets and, left to right, all columns."""

    sets: tuple[StripSet, ...]
    columns: tuple[ColumnTrail, ...]


@dataclass(frozen=True)
class _Piece:
    patches: tuple[str, ...] = ()
    set_number: int = 0
    cuts: tuple[Cut, ...] = ()
    opened: tuple[Opened, ...] = ()
    looped: bool = False
    columns: tuple[ColumnTrail, ...] = ()

    def as_columns(self) -> tuple[ColumnTrail, ...]:
        return self.columns or (ColumnTrail(self.patches, self.cuts, self.opened),)


@dataclass
class _Table:
    pieces: dict[str, _Piece] = field(default_factory=dict)
    sets: list[StripSet] = field(default_factory=list)
    cut_count: dict[int, int] = field(default_factory=dict)

    def take(self, step: Step) -> list[_Piece]:
        takes = step.get("takes", ())
        names = [takes] if isinstance(takes, str) else list(takes)
        return [self.pieces.pop(str(name)) for name in names]


def follow(plan: Plan) -> Trail | None:
    """Trace the plan's columns; None where the steps do not arrive at them."""
    table = _Table()
    columns: tuple[ColumnTrail, ...] = ()
    try:
        for step in plan.steps:
            made = _carry_out(step, table)
            if made is not None and len(made.as_columns()) == len(plan.columns):
                columns = made.as_columns()
    except (KeyError, IndexError, TypeError):
        return None
    if not columns or any(not column.cuts for column in columns):
        return None
    return Trail(tuple(table.sets), columns)


def _carry_out(step: Step, table: _Table) -> _Piece | None:
    """Do one step; the piece it made, where that may be (part of) the finished columns."""
    op = step["op"]
    if op == "cut_strip":
        made = _Piece(patches=(str(step["print"]),))
    elif op == "sew_strips":
        made = _sew_strips(step, table)
    elif op == "cut_segment":
        return _cut_segment(step, table)
    elif op == "open_seam":
        return _open_seam(step, table)
    else:
        made = _gather(op, step, table)
    if "makes" in step:
        table.pieces[str(step["makes"])] = made
    return made


def _sew_strips(step: Step, table: _Table) -> _Piece:
    patches = tuple(patch for piece in table.take(step) for patch in piece.patches)
    number = len(table.sets) + 1
    label = str(step["makes"]).removeprefix("set ")
    table.sets.append(StripSet(number, label, patches, str(step.get("press", "open"))))
    return _Piece(patches=patches, set_number=number)


def _cut_segment(step: Step, table: _Table) -> _Piece:
    (source,) = table.take(step)
    number = table.cut_count[source.set_number] = table.cut_count.get(source.set_number, 0) + 1
    cut = Cut(source.set_number, number, Fraction(step["width"]), source.looped)
    segment = _Piece(patches=source.patches, cuts=(cut,), looped=source.looped)
    table.pieces[str(step["makes"])] = segment
    if step.get("leaves"):
        table.pieces[str(step["leaves"])] = source
    return segment


def _open_seam(step: Step, table: _Table) -> _Piece:
    (piece,) = table.take(step)
    after = int(step["after"])
    above, below = piece.patches[:after], piece.patches[after:]
    seam = Opened(above[-1], (below or above)[0], after)
    opened = (*piece.opened, seam)
    makes = step["makes"]
    names = [makes] if isinstance(makes, str) else list(makes)
    if piece.looped:
        turned = replace(piece, patches=below + above, opened=opened, looped=False)
        table.pieces[str(names[0])] = turned
        return turned
    table.pieces[str(names[0])] = replace(piece, patches=above, opened=opened)
    table.pieces[str(names[1])] = replace(piece, patches=below, cuts=(), opened=())
    return piece


def _gather(op: str, step: Step, table: _Table) -> _Piece:
    pieces = table.take(step)
    if op == "square_end":
        number = pieces[0].set_number
        if number:
            told = table.sets[number - 1]
            table.sets[number - 1] = replace(told, squared=told.squared + Fraction(step["by"]))
    if op == "stack":
        return _Piece(
            patches=_joined(piece.patches for piece in pieces),
            cuts=_joined(piece.cuts for piece in pieces),
            opened=_joined(piece.opened for piece in pieces),
        )
    if op == "sew_columns":
        return _Piece(columns=_joined(piece.as_columns() for piece in pieces))
    if op == "join_ends":
        return _Piece(patches=pieces[0].patches)
    return replace(pieces[0], looped=op == "close_loop" or pieces[0].looped)


def _joined(parts: Iterable[tuple[Any, ...]]) -> tuple[Any, ...]:
    return tuple(item for part in parts for item in part)
