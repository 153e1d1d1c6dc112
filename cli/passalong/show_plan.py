"""A plan, a plan at another size, and a made piece, for a person at a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passalong.laid_out import make_console, make_table, named, print_lines
from passalong.show import prints, sequence
from sequencer.inches import show_ruled
from sequencer.make import Made
from sequencer.models import Json, Plan, StripCut
from sequencer.piece import Piece
from sequencer.summary import TOLD, summary

if TYPE_CHECKING:
    from sequencer.planning import WayOut

LONGEST = 25
"""Lines that ``make`` prints at most, on a terminal of 80 columns or more."""


def plan(
    piece: Piece,
    planned: Plan,
    folder: Path,
    ways: tuple[WayOut, ...] = (),
    listed: bool = False,
    everything: bool = False,
) -> None:
    """What it is, columns in one line, what to do first; ``listed``: every way out;
    ``everything``: the tables as well.
    """
    told = summary(piece, planned, None, folder, ways)
    print_lines(told.piece)
    units = str(planned.options.get("units", "in"))
    widths = ", ".join(show_ruled(column.cut_width, units) for column in planned.columns)
    print_lines([f"Columns, cut ({units}), from the left: {widths}."], most=4)
    if everything:
        _tables(piece, planned, units)
        for warning in (one for one in planned.warnings if one.code not in TOLD):
            make_console().print(f"- {warning.text}", markup=False)
    _first(told.first)
    for way in ways if listed else ():
        make_console().print(f"way out {way.number}: {way.told}", markup=False)


def _tables(piece: Piece, planned: Plan, units: str) -> None:
    console = make_console()
    show = partial(show_ruled, units=units)
    names = dict(zip(planned.prints, named(piece, planned.prints), strict=True))
    if planned.fit_rms_rows is not None:
        console.print(f"The columns stray from the curve by {planned.fit_rms_rows:.2f} of a row.")
    fabric = make_table("print", f"strips to cut, {units}", ">needed", ">have", ">short by")
    for need in planned.fabric:
        have = "unknown" if need.have_length is None else show(need.have_length)
        fabric.add_row(names.get(need.print, need.print), _strips(need.strips, show),
                       show(need.needed_length), have,
                       show(need.short_by) if need.short_by else "")
    console.print(fabric)
    columns = make_table(">column", f">cut, {units}", ">finished", ">offset")
    for number, column in enumerate(planned.columns, 1):
        columns.add_row(str(number), show(column.cut_width), show(column.finished_width),
                        str(column.offset))
    console.print(columns)


def _strips(strips: Iterable[StripCut], show: Callable[[Fraction], str]) -> str:
    """Equal strips once, with their number."""
    counted = Counter((strip.width, strip.length) for strip in strips)
    return "; ".join(f"{count} of {show(width)} × {show(length)}"
                     for (width, length), count in counted.items())


def scaled(piece: Piece, document: Json) -> None:
    """Figures of both sizes side by side, then the three answers."""
    console = make_console()
    units = str(document["plan"]["options"].get("units", "in"))
    console.print(f"Lengths in {'centimetres' if units == 'cm' else 'inches'}.", markup=False)
    table = make_table("", ">now", ">then")
    before, after = (
        {**document[when], "short": named(piece, document[when]["short"])}
        for when in ("before", "after")
    )
    for key, value in before.items():
        if not isinstance(value, dict):
            square = key in {"cloth", "area"}
            table.add_row(key.replace("_", " ") + (f", sq {units}" if square else ""),
                          _plain(value, units, square), _plain(after[key], units, square))
    console.print(table)
    console.print(document["survives"]["sentence"], markup=False)
    for answer in document["answers"]:
        console.print(f"{answer['question']} {answer['verdict'].capitalize()}. "
                      f"{answer['reason']}", markup=False)
    console.print(f"\npicture {document['picture']}", markup=False, soft_wrap=True)


def _plain(value: Any, units: str, square: bool = False) -> str:
    if isinstance(value, list):
        measures = all(isinstance(one, str) and _is_number(one) for one in value)
        told = [_plain(one, units) for one in value]
        return (" × " if measures else ", ").join(told) or "none"
    if isinstance(value, str) and _is_number(value):
        if square:
            return f"{float(Fraction(value)) * (6.4516 if units == 'cm' else 1):.0f}"
        return show_ruled(Fraction(value), units)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _is_number(text: str) -> bool:
    return all(part.isdigit() for part in text.split("/", 1))


def made(result: Made, everything: bool = False) -> None:
    """What the piece is, what to do first, where the files lie; at most :data:`LONGEST` lines."""
    if everything:
        prints(result.piece, everything)
        sequence(result.piece, result.sequence, everything)
        print_lines([f"- {told}" for told in result.contrast.sentences], most=LONGEST)
        plan(result.piece, result.plan, result.files["piece"].parent, result.ways,
             everything=True)
    else:
        print_lines(result.summary.piece)
        _first(result.summary.first)
    console = make_console()
    folder = result.files["piece"].parent
    names = ", ".join(path.name if path.parent == folder else str(path)
                      for path in result.files.values())  # fmt: skip
    console.print(f"\nIn {folder}: {names}", markup=False, soft_wrap=True)
    if not everything:
        console.print("Everything else: the sheets, or --all.", markup=False)


def _first(told: Iterable[str]) -> None:
    make_console().print("\nDo first:", markup=False)
    print_lines([f"{number}. {sentence}" for number, sentence in enumerate(told, 1)])
