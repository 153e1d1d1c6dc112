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
from sequencer.sheets.followed.trail import (
    ColumnTrail,
    Cut,
    Opened,
    Piece,
    Strip,
    StripSet,
    Trail,
)

Step = Mapping[str, Any]


@dataclass(frozen=True)
class _Piece:
    patches: tuple[str, ...] = ()
    strips: tuple[Strip, ...] = ()
    set_number: int = 0
    cuts: tuple[Cut, ...] = ()
    opened: tuple[Opened, ...] = ()
    looped: bool = False
    columns: tuple[ColumnTrail, ...] = ()

    def as_columns(self) -> tuple[ColumnTrail, ...]:
        return self.columns or (ColumnTrail(self.patches, self.cuts, self.opened),)


@dataclass
class _Table:
    seam: Fraction
    pieces: dict[str, _Piece] = field(default_factory=dict)
    sets: list[StripSet] = field(default_factory=list)
    cut_count: dict[int, int] = field(default_factory=dict)
    used: dict[int, Fraction] = field(default_factory=dict)

    def take(self, step: Step) -> list[_Piece]:
        takes = step.get("takes", ())
        names = [takes] if isinstance(takes, str) else list(takes)
        return [self.pieces.pop(str(name)) for name in names]


def follow(plan: Plan) -> Trail | None:
    """Trace the plan's columns; None where the steps do not arrive at them."""
    table = _Table(plan.seam)
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
        made = _cut_strip(step)
    elif op == "join_ends":
        made = _join_ends(step, table)
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


def _cut_strip(step: Step) -> _Piece:
    at = step.get("at")
    piece = Piece(
        str(step["print"]), Fraction(step["width"]), Fraction(step["length"]), str(step["makes"]),
        step.get("scrap"), step.get("along"), at and (Fraction(at[0]), Fraction(at[1])),
    )  # fmt: skip
    return _Piece(patches=(piece.print,), strips=(Strip((piece,)),))


def _join_ends(step: Step, table: _Table) -> _Piece:
    taken = [strip for piece in table.take(step) for strip in piece.strips]
    pieces = tuple(piece for strip in taken for piece in strip.pieces)
    seam = str(step.get("seam", "diagonal"))
    lost = 2 * table.seam if seam == "straight" else pieces[0].width
    return _Piece(patches=(pieces[0].print,), strips=(Strip(pieces, seam, lost),))


def _sew_strips(step: Step, table: _Table) -> _Piece:
    strips = tuple(strip for piece in table.take(step) for strip in piece.strips)
    label = str(step["makes"]).removeprefix("set ")
    number = int(label) if label.isdigit() else len(table.sets) + 1
    table.sets.append(StripSet(number, label, strips, str(step.get("press", "open"))))
    return _Piece(patches=table.sets[-1].prints, set_number=number)


def _cut_segment(step: Step, table: _Table) -> _Piece:
    (source,) = table.take(step)
    number = table.cut_count[source.set_number] = table.cut_count.get(source.set_number, 0) + 1
    start, width = table.used.get(source.set_number, Fraction(0)), Fraction(step["width"])
    table.used[source.set_number] = start + width
    cut = Cut(source.set_number, number, width, source.looped, start)
    segment = _Piece(patches=source.patches, cuts=(cut,), looped=source.looped)
    table.pieces[str(step["makes"])] = segment
    if step.get("leaves"):
        table.pieces[str(step["leaves"])] = source
    return segment


def _open_seam(step: Step, table: _Table) -> _Piece:
    (piece,) = table.take(step)
    after = int(step["after"])
    above, below = piece.patches[:after], piece.patches[after:]
    pair = (above[-1], (below or above)[0])
    turned_by_one = (*piece.patches[1:], piece.patches[0])
    alike = list(zip(piece.patches, turned_by_one, strict=True)).count(pair)
    seam = Opened(*pair, after, alike if piece.looped else 1)
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
            at = next(i for i, one in enumerate(table.sets) if one.number == number)
            told = table.sets[at]
            table.sets[at] = replace(told, squared=told.squared + Fraction(step["by"]))
            table.used[number] = table.used.get(number, Fraction(0)) + Fraction(step["by"])
    if op == "stack":
        return _Piece(
            patches=_joined(piece.patches for piece in pieces),
            cuts=_joined(piece.cuts for piece in pieces),
            opened=_joined(piece.opened for piece in pieces),
        )
    if op == "sew_columns":
        return _Piece(columns=_joined(piece.as_columns() for piece in pieces))
    return replace(pieces[0], looped=op == "close_loop" or pieces[0].looped)


def _joined(parts: Iterable[tuple[Any, ...]]) -> tuple[Any, ...]:
    return tuple(item for part in parts for item in part)
