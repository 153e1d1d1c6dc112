"""Results for a person at a terminal; every figure comes ready from the road."""

from __future__ import annotations

import sys
import textwrap
from collections import Counter
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passalong.terminal import Tame, say
from sequencer.inches import show_ruled
from sequencer.keys import told
from sequencer.make import Made
from sequencer.models import ContrastReport, Json, Neighbours, Plan, Print, Sequence, StripCut
from sequencer.piece import Piece, Step
from sequencer.reading.cameras import Camera
from sequencer.reading.spots import Spots
from sequencer.summary import TOLD, summary

if TYPE_CHECKING:
    from sequencer.make import WayOut

LONGEST = 25
"""Lines that ``make`` prints at most, on a terminal of 80 columns or more."""
_NAMED = 6  # prints that a remark names before it says how many more


def _console() -> Any:
    from rich.console import Console

    width = None if sys.stdout.isatty() else 100
    console = Console(file=sys.stdout, highlight=False, soft_wrap=False, width=width)
    console.push_render_hook(Tame())  # type: ignore[arg-type]  # rich is loaded late
    return console


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


def prints(piece: Piece, everything: bool = False) -> None:
    """The prints as read, and what was rejected; ``everything``: ids and uncertainty as well."""
    units = _units(piece)
    more = ("id", ">±ΔE00") if everything else ()
    table = _table("print", "colours", ">value", f">size, {units}", "mainly", *more)
    called = piece.labels
    for one in piece.prints:
        rest = (one.id, f"{one.uncertainty:.1f}") if everything else ()
        table.add_row(called[one.id], _palette(one), f"{one.value:.0f}",
                      _measured(one, units), one.palette[0].name, *rest)
    console = _console()
    console.print(table)
    for warning, ids in _by_warning(piece).items():
        console.print(f"{_about(ids, piece)}: {warning}", markup=False)
    for rejected in piece.rejected:
        console.print(f"not used: {rejected.photo}: {rejected.why}", markup=False)


def cameras(known: Iterable[Camera], notes: Iterable[str] = ()) -> None:
    """Taught cameras: photos learnt from and how well each was matched."""
    table = _table("camera", "as its photos name it", ">photos", ">left over, ΔE00")
    listed = list(known)
    for one in listed:
        left = ", ".join(f"{lesson.misfit:.1f}" for lesson in one.lessons)
        table.add_row(one.name, " ".join(filter(None, one.taken_by)) or "not named",
                      str(len(one.lessons)), left)
    console = _console()
    if listed:
        console.print(table)
    else:
        console.print("no camera was taught so far: passalong camera learn PHOTO --name NAME")
    for note in notes:
        console.print(note, markup=False)


def forgotten(camera: Camera) -> None:
    """A camera that is gone."""
    _console().print(f"forgotten: {camera.name}", markup=False)


def spots(found: Spots) -> None:
    """The colours of spots."""
    table = _table("at", "colour", ">L*", ">a*", ">b*", ">±ΔE00")
    for one in found:
        x, y = one.at
        table.add_row(f"{x:g},{y:g}", _blocks([(one.lab, 1.0)]), *(f"{v:.1f}" for v in one.lab),
                      f"{one.uncertainty:.1f}")
    console = _console()
    console.print(table)
    for note in found.notes:
        console.print(f"{found.photo}: {note}", markup=False)


def _units(piece: Piece) -> str:
    return str(piece.plan_wishes.get("units") or "in")


def _measured(one: Print, units: str) -> str:
    if not one.size_in:
        return "unknown"
    return " × ".join(f"{side * (2.54 if units == 'cm' else 1):.1f}" for side in one.size_in)


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
    names = piece.labels
    parts += [names[id_] for id_ in ids if id_ in rest]
    more = len(parts) - _NAMED
    return ", ".join(parts) if more < 2 else f"{', '.join(parts[:_NAMED])} and {more} more"


def stepped(how: str, step: Step, piece: Piece) -> None:
    """What was taken back or done again, and what comes next either way."""
    say(f"{how}: {step.name}")
    if piece.past:
        say(f"undo would take back: {piece.past[-1].name}")
    if piece.future:
        say(f"redo would do again: {piece.future[-1].name}")


def history(piece: Piece) -> None:
    """The steps, oldest first; those taken back in brackets."""
    for step in piece.past:
        say(f"{step.at}  {step.name}")
    for step in piece.future[::-1]:
        say(f"{step.at}  ({step.name}, taken back)")
    if not (piece.past or piece.future):
        say("nothing to take back yet")


def sequence(piece: Piece, found: Sequence, everything: bool = False) -> None:
    """The order and its neighbours; ``everything``: costs and totals as well."""
    console = _console()
    kind = "loop" if found.loop else "open sequence"
    total = f" (total {found.total:.1f}, largest step {found.worst:.1f})" if everything else ""
    console.print(f"{len(found.order)} prints, {kind}, aim {found.aim}: "
                  f"{found.how_sure()}{total}\n", markup=False)
    known, called = {one.id: one for one in piece.prints}, piece.labels
    table = _table(">", "print", "colours", ">value", "then")
    for place, id_ in enumerate(found.order):
        one = known[id_]
        pair = found.neighbours[place] if place < len(found.neighbours) else None
        table.add_row(str(place + 1), called[id_], _palette(one), f"{one.value:.0f}",
                      _step(pair, everything) if pair else "")
    console.print(table)
    _remarks(piece, found, everything)


def _remarks(piece: Piece, found: Sequence, everything: bool) -> None:
    console = _console()
    if found.left_out:
        console.print(f"left out: {', '.join(_named(piece, found.left_out))}", markup=False)
    for note in found.notes:
        console.print(f"- {told(note, piece.labels)}", markup=False)
    if found.moves:
        console.print(f"\nYour order costs {found.percent:.1f} % more than the best of the same "
                      f"prints:\n  {_arrows(piece, found.best)}\nWhat would gain most:",
                      markup=False)
        for move in found.moves:
            gain = f" (gains {move['gain']:.1f})" if everything else ""
            console.print(f"- {told(move['words'], piece.labels)}{gain}", markup=False)
    for size in found.sizes:
        console.print(f"{len(size.order)} prints: {_arrows(piece, size.order)} {size.note}",
                      markup=False)
    for other in found.alternatives:
        console.print(f"\nor: {_arrows(piece, other.order)}\n    {other.note}", markup=False)


def _named(piece: Piece, ids: Iterable[str]) -> list[str]:
    called = piece.labels
    return [called.get(id_, id_) for id_ in ids]


def _arrows(piece: Piece, ids: Iterable[str]) -> str:
    return " → ".join(_named(piece, ids))


def _step(pair: Neighbours, everything: bool) -> str:
    sure = "" if pair.certain else " ?"
    cost = f" {pair.cost:.1f}" if everything or not pair.verdict else ""
    return f"{pair.verdict or ''}{cost}{sure}"


def contrast(piece: Piece, report: ContrastReport, everything: bool = False) -> None:
    """Each neighbouring pair, then the sentences; ``everything``: ΔE00 and costs as well."""
    console = _console()
    more = (">ΔE00", ">cost") if everything else ()
    table = _table("neighbours", ">value step", ">shared", "verdict", *more)
    for pair in report.pairs:
        rest = (_figure(pair.delta_e), _figure(pair.cost)) if everything else ()
        table.add_row(
            " – ".join(_named(piece, (pair.a, pair.b))), _figure(pair.value_step, "+.0f"),
            _figure(pair.shared, ".0%"), (pair.verdict or "") + ("" if pair.certain else " ?"),
            *rest)
    console.print(table)
    console.print(f"Value range {report.value_range:.0f} of 100.", markup=False)
    for one in report.hand_over:
        console.print(told(one["text"], piece.labels), markup=False)
    for sentence in (*report.sentences, *(bridge["text"] for bridge in report.bridges)):
        console.print(f"- {told(sentence, piece.labels)}", markup=False)


def _figure(number: float | None, form: str = ".1f") -> str:
    if number is None:
        return ""
    text = format(number, form)
    return "0" if text in ("-0", "+0") else text


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
    _lines(told.piece)
    units = str(planned.options.get("units", "in"))
    widths = ", ".join(show_ruled(column.cut_width, units) for column in planned.columns)
    _lines([f"Columns, cut ({units}), from the left: {widths}."], most=4)
    if everything:
        _tables(piece, planned, units)
        for warning in (one for one in planned.warnings if one.code not in TOLD):
            _console().print(f"- {warning.text}", markup=False)
    _first(told.first)
    for way in ways if listed else ():
        _console().print(f"way out {way.number}: {way.told}", markup=False)


def _tables(piece: Piece, planned: Plan, units: str) -> None:
    console = _console()
    show = partial(show_ruled, units=units)
    names = dict(zip(planned.prints, _named(piece, planned.prints), strict=True))
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


def _strips(strips: Iterable[StripCut], show: Callable[[Fraction], str]) -> str:
    """Equal strips once, with their number."""
    counted = Counter((strip.width, strip.length) for strip in strips)
    return "; ".join(f"{count} of {show(width)} × {show(length)}"
                     for (width, length), count in counted.items())


def scaled(piece: Piece, document: Json) -> None:
    """Figures of both sizes side by side, then the three answers."""
    console = _console()
    units = str(document["plan"]["options"].get("units", "in"))
    console.print(f"Lengths in {'centimetres' if units == 'cm' else 'inches'}.", markup=False)
    table = _table("", ">now", ">then")
    before, after = (
        {**document[when], "short": _named(piece, document[when]["short"])}
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
        _lines([f"- {told}" for told in result.contrast.sentences], most=LONGEST)
        plan(result.piece, result.plan, result.files["piece"].parent, result.ways,
             everything=True)
    else:
        _lines(result.summary.piece)
        _first(result.summary.first)
    console = _console()
    folder = result.files["piece"].parent
    names = ", ".join(path.name if path.parent == folder else str(path)
                      for path in result.files.values())  # fmt: skip
    console.print(f"\nIn {folder}: {names}", markup=False, soft_wrap=True)
    if not everything:
        console.print("Everything else: the sheets, or --all.", markup=False)


def _first(told: Iterable[str]) -> None:
    _console().print("\nDo first:", markup=False)
    _lines([f"{number}. {sentence}" for number, sentence in enumerate(told, 1)])


def _lines(told: Iterable[str], most: int = 3) -> None:
    """Sentences, each on at most so many lines of the terminal."""
    console = _console()
    for sentence in told:
        for line in textwrap.wrap(sentence, max(40, console.width - 1), max_lines=most,
                                  placeholder=" …", subsequent_indent="   "):
            console.print(line, markup=False, soft_wrap=True)


def written(path: Path) -> None:
    """Where a file lies."""
    say(path)
