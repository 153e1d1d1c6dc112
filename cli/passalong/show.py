"""Results for a person at a terminal; every figure comes ready from the road."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

from sequencer.inches import show_cm, show_inches
from sequencer.make import Made
from sequencer.models import ContrastReport, Json, Neighbours, Plan, Print, Sequence, StripCut
from sequencer.piece import Piece, Step
from sequencer.spots import Spots

_NAMED = 6  # prints that a remark names before it says how many more


def _console() -> Any:
    from rich.console import Console

    width = None if sys.stdout.isatty() else 100
    return Console(file=sys.stdout, highlight=False, soft_wrap=False, width=width)


def _table(*headings: str) -> Any:
    """Columns; a heading that starts with > holds figures and is set to the right."""
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for heading in headings:
        table.add_column(heading.lstrip(">"), overflow="fold",
                         justify="right" if heading[:1] == ">" else "left")
    return table


def _blocks(colours: Iterable[tuple[tuple[float, float, float], float]], cells: int = 12) -> Any:
    """A palette as coloured cells, wide where the share is large."""
    from rich.text import Text

    from sequencer.colour import lab_to_srgb8

    text = Text()
    for lab, share in colours:
        red, green, blue = (int(part) for part in lab_to_srgb8(lab))
        text.append(" " * max(1, round(share * cells)), style=f"on rgb({red},{green},{blue})")
    return text


def _palette(one: Print) -> Any:
    return _blocks((colour.lab, colour.share) for colour in one.palette)


def prints(piece: Piece) -> None:
    """The prints as read, and what was rejected."""
    table = _table("print", "colours", ">value", ">size, in", ">±ΔE00", "mainly")
    for one in piece.prints:
        size = " × ".join(f"{side:.1f}" for side in one.size_in) if one.size_in else "unknown"
        label = one.id if one.name == one.id else f"{one.id} ({one.name})"
        table.add_row(label, _palette(one), f"{one.value:.0f}", size, f"{one.uncertainty:.1f}",
                      one.palette[0].name)
    console = _console()
    console.print(table)
    for warning, ids in _by_warning(piece).items():
        console.print(f"{_about(ids, piece)}: {warning}", markup=False)
    for rejected in piece.rejected:
        console.print(f"not used: {rejected.photo}: {rejected.why}", markup=False)


def spots(found: Spots) -> None:
    """The colours of spots."""
    table = _table("at", "colour", ">L*", ">a*", ">b*", ">±ΔE00")
    for one in found.points:
        x, y = one.at
        table.add_row(f"{x:g},{y:g}", _blocks([(one.lab, 1.0)]), *(f"{v:.1f}" for v in one.lab),
                      f"{one.uncertainty:.1f}")
    console = _console()
    console.print(table)
    for note in found.notes:
        console.print(f"{found.photo}: {note}", markup=False)


def _by_warning(piece: Piece) -> dict[str, list[str]]:
    """Each warning once, with the prints it is about."""
    about: dict[str, list[str]] = {}
    for one in piece.prints:
        for warning in one.warnings:
            about.setdefault(warning, []).append(one.id)
    return about


def _about(ids: list[str], piece: Piece) -> str:
    """Which prints, in few words: whole photos where every print of them is meant."""
    if len(ids) == len(piece.prints) > 2:
        return "every print"
    rest, parts = set(ids), []
    for photo in dict.fromkeys(one.photo for one in piece.prints):
        shown = {one.id for one in piece.prints if one.photo == photo}
        if len(shown) > 2 and shown <= rest:
            parts.append(f"all of {photo}")
            rest -= shown
    parts += [id_ for id_ in ids if id_ in rest]
    more = len(parts) - _NAMED
    return ", ".join(parts) if more < 2 else f"{', '.join(parts[:_NAMED])} and {more} more"


def stepped(how: str, step: Step, piece: Piece) -> None:
    """What was taken back or done again, and what comes next either way."""
    print(f"{how}: {step.name}")
    if piece.past:
        print(f"undo would take back: {piece.past[-1].name}")
    if piece.future:
        print(f"redo would do again: {piece.future[-1].name}")


def history(piece: Piece) -> None:
    """The steps, oldest first; those taken back in brackets."""
    for step in piece.past:
        print(f"{step.at}  {step.name}")
    for step in piece.future[::-1]:
        print(f"{step.at}  ({step.name}, taken back)")
    if not (piece.past or piece.future):
        print("nothing to take back yet")


def sequence(piece: Piece, found: Sequence) -> None:
    """The order, its proof and its neighbours."""
    console = _console()
    kind = "loop" if found.loop else "open sequence"
    proof = ("proved best" if found.status == "optimal"
             else f"best found, at most {found.gap:.1%} from the best")
    console.print(f"{len(found.order)} prints, {kind}, aim {found.aim}: {proof} "
                  f"(total {found.total:.1f}, largest step {found.worst:.1f})\n", markup=False)
    names = {one.id: one for one in piece.prints}
    table = _table(">", "print", "colours", ">value", "then")
    for place, id_ in enumerate(found.order):
        one = names[id_]
        pair = found.neighbours[place] if place < len(found.neighbours) else None
        table.add_row(str(place + 1), one.name, _palette(one), f"{one.value:.0f}",
                      _step(pair) if pair else "")
    console.print(table)
    if found.left_out:
        console.print(f"left out: {', '.join(found.left_out)}", markup=False)
    for note in found.notes:
        console.print(f"- {note}", markup=False)
    if found.moves:
        console.print(f"\nYour order costs {found.percent:.1f} % more than the best of the same "
                      f"prints:\n  {' → '.join(found.best)}\nWhat would gain most:", markup=False)
        for move in found.moves:
            console.print(f"- {move['words']} (gains {move['gain']:.1f})", markup=False)
    for size in found.sizes:
        console.print(f"{len(size.order)} prints: {' → '.join(size.order)} {size.note}",
                      markup=False)
    for other in found.alternatives:
        console.print(f"\nor: {' → '.join(other.order)}\n    {other.note}", markup=False)


def _step(pair: Neighbours) -> str:
    sure = "" if pair.certain else " ?"
    return f"{pair.verdict or ''} {pair.cost:.1f}{sure}"


def contrast(piece: Piece, report: ContrastReport) -> None:
    """Each neighbouring pair, then the sentences."""
    console = _console()
    names = {one.id: one.name for one in piece.prints}
    table = _table("neighbours", ">ΔE00", ">value step", ">shared", ">cost", "verdict")
    for pair in report.pairs:
        table.add_row(
            f"{names[pair.a]} – {names[pair.b]}", _figure(pair.delta_e),
            _figure(pair.value_step, "+.0f"), _figure(pair.shared, ".0%"),
            _figure(pair.cost), (pair.verdict or "") + ("" if pair.certain else " ?"))
    console.print(table)
    console.print(f"Value range {report.value_range:.0f} of 100.", markup=False)
    for told in report.hand_over:
        console.print(told["text"], markup=False)
    for sentence in (*report.sentences, *(bridge["text"] for bridge in report.bridges)):
        console.print(f"- {sentence}", markup=False)


def _figure(number: float | None, form: str = ".1f") -> str:
    if number is None:
        return ""
    text = format(number, form)
    return "0" if text in ("-0", "+0") else text


def plan(piece: Piece, planned: Plan, ways_out: Iterable[str] = ()) -> None:
    """Sizes, fabric, columns, warnings, and the ways out of a shortage."""
    console = _console()
    names = {one.id: one.name for one in piece.prints}
    units = planned.options.get("units", "in")
    show = show_cm if units == "cm" else show_inches
    centre, outer = (" × ".join(map(show, sides)) for sides in (planned.centre, planned.bordered))
    runs = "1 repeat" if planned.repeats == 1 else f"{planned.repeats} repeats"
    console.print(
        f"centre {centre} {units}, with border {outer} {units}; {len(planned.columns)} columns, "
        f"{planned.rows} rows, {runs}; {planned.method} method, pressed {planned.press}",
        markup=False)
    if planned.fit_rms_rows is not None:
        console.print(f"The columns stray from the curve by {planned.fit_rms_rows:.2f} of a row.")
    fabric = _table("print", f"strips to cut, {units}", ">needed", ">have", ">short by")
    for need in planned.fabric:
        have = "unknown" if need.have_length is None else show(need.have_length)
        fabric.add_row(names.get(need.print, need.print), _strips(need.strips, show),
                       show(need.needed_length), have,
                       show(need.short_by) if need.short_by else "")
    console.print(fabric)
    columns = _table(">column", f">cut, {units}", ">finished", ">offset")
    for number, column in enumerate(planned.columns, 1):
        columns.add_row(str(number), show(column.cut_width), show(column.finished_width),
                        str(column.offset))
    console.print(columns)
    for warning in planned.warnings:
        console.print(f"- {warning.text}", markup=False)
    for number, way in enumerate(ways_out, 1):
        console.print(f"{number}. {way}", markup=False)


def _strips(strips: Iterable[StripCut], show: Callable[[Fraction], str]) -> str:
    """Equal strips once, with their number."""
    counted = Counter((strip.width, strip.length) for strip in strips)
    return "; ".join(f"{count} of {show(width)} × {show(length)}"
                     for (width, length), count in counted.items())


def scaled(document: Json) -> None:
    """Figures of both sizes side by side, then the three answers."""
    console = _console()
    table = _table("", ">now", ">then")
    before, after = document["before"], document["after"]
    for key, value in before.items():
        if not isinstance(value, dict):
            table.add_row(key.replace("_", " "), _plain(value), _plain(after[key]))
    console.print(table)
    for answer in document["answers"]:
        console.print(f"{answer['question']} {answer['verdict'].capitalize()}. "
                      f"{answer['reason']}", markup=False)
    console.print(f"\npicture {document['picture']}", markup=False, soft_wrap=True)


def _plain(value: Any) -> str:
    if isinstance(value, list):
        measures = all(isinstance(one, str) and _is_number(one) for one in value)
        return (" × " if measures else ", ").join(map(_plain, value)) or "none"
    if isinstance(value, str) and _is_number(value):
        return show_inches(Fraction(value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _is_number(text: str) -> bool:
    return all(part.isdigit() for part in text.split("/", 1))


def made(result: Made) -> None:
    """Everything in short, and where the files lie."""
    prints(result.piece)
    sequence(result.piece, result.sequence)
    console = _console()
    for sentence in result.contrast.sentences:
        console.print(f"- {sentence}", markup=False)
    for warning in result.plan.warnings:
        console.print(f"- {warning.text}", markup=False)
    console.print()
    for name, path in result.files.items():
        console.print(f"{name:14} {path}", markup=False, soft_wrap=True)


def written(path: Path) -> None:
    """Where a file lies."""
    print(path)
