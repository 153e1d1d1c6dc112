"""Results for a person at a terminal; every figure comes ready from the road."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from passalong.laid_out import blocks, figure, make_console, make_table, named, palette
from passalong.terminal import say
from sequencer.keys import commonest, told
from sequencer.models import ContrastReport, Neighbours, Print, Sequence
from sequencer.piece import Piece, Step
from sequencer.reading.cameras import Camera
from sequencer.reading.spots import Spots

_NAMED = 6  # prints that a remark names before it says how many more


def prints(piece: Piece, everything: bool = False) -> None:
    """The prints as read, and what was rejected; ``everything``: ids and uncertainty as well."""
    units = _units(piece)
    more = ("id", ">±ΔE00") if everything else ()
    table = make_table("print", "colours", ">value", f">size, {units}", "mainly", *more)
    called = piece.labels
    for one in piece.prints:
        rest = (one.id, f"{one.uncertainty:.1f}") if everything else ()
        id_ = "" if called[one.id] in (one.name, one.id) else f", {one.id}"  # to be typed
        table.add_row(called[one.id] + id_, palette(one), f"{one.value:.0f}",
                      _measured(one, units), commonest(one), *rest)
    console = make_console()
    console.print(table)
    for warning, ids in _by_warning(piece).items():
        console.print(f"{_about(ids, piece)}: {warning}", markup=False)
    for rejected in piece.rejected:
        console.print(f"not used: {rejected.photo}: {rejected.why}", markup=False)


def cameras(known: Iterable[Camera], notes: Iterable[str] = ()) -> None:
    """Taught cameras: photos learnt from and how well each was matched."""
    table = make_table("camera", "as its photos name it", ">photos", ">left over, ΔE00")
    listed = list(known)
    for one in listed:
        left = ", ".join(f"{lesson.misfit:.1f}" for lesson in one.lessons)
        table.add_row(one.name, " ".join(filter(None, one.taken_by)) or "not named",
                      str(len(one.lessons)), left)
    console = make_console()
    if listed:
        console.print(table)
    else:
        console.print("no camera was taught so far: passalong camera learn PHOTO --name NAME")
    for note in notes:
        console.print(note, markup=False)


def forgotten(camera: Camera) -> None:
    """A camera that is gone."""
    make_console().print(f"forgotten: {camera.name}", markup=False)


def spots(found: Spots) -> None:
    """The colours of spots."""
    table = make_table("at", "colour", ">L*", ">a*", ">b*", ">±ΔE00")
    for one in found:
        x, y = one.at
        table.add_row(f"{x:g},{y:g}", blocks([(one.lab, 1.0)]), *(f"{v:.1f}" for v in one.lab),
                      f"{one.uncertainty:.1f}")
    console = make_console()
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
    console = make_console()
    kind = "loop" if found.loop else "open sequence"
    total = f" (total {found.total:.1f}, largest step {found.worst:.1f})" if everything else ""
    console.print(f"{len(found.order)} prints, {kind}, aim {found.aim}: "
                  f"{found.how_sure()}{total}\n", markup=False)
    known, called = {one.id: one for one in piece.prints}, piece.labels
    table = make_table(">", "print", "colours", ">value", "then")
    for place, id_ in enumerate(found.order):
        one = known[id_]
        pair = found.neighbours[place] if place < len(found.neighbours) else None
        table.add_row(str(place + 1), called[id_], palette(one), f"{one.value:.0f}",
                      _step(pair, everything) if pair else "")
    console.print(table)
    _remarks(piece, found, everything)


def _remarks(piece: Piece, found: Sequence, everything: bool) -> None:
    console = make_console()
    if found.left_out:
        console.print(f"left out: {', '.join(named(piece, found.left_out))}", markup=False)
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


def _arrows(piece: Piece, ids: Iterable[str]) -> str:
    return " → ".join(named(piece, ids))


def _step(pair: Neighbours, everything: bool) -> str:
    sure = "" if pair.certain else " ?"
    cost = f" {pair.cost:.1f}" if everything or not pair.verdict else ""
    return f"{pair.verdict or ''}{cost}{sure}"


def contrast(piece: Piece, report: ContrastReport, everything: bool = False) -> None:
    """Each neighbouring pair, then the sentences; ``everything``: ΔE00 and costs as well."""
    console = make_console()
    more = (">ΔE00", ">cost") if everything else ()
    table = make_table("neighbours", ">value step", ">shared", "verdict", *more)
    for pair in report.pairs:
        rest = (figure(pair.delta_e), figure(pair.cost)) if everything else ()
        table.add_row(
            " – ".join(named(piece, (pair.a, pair.b))), figure(pair.value_step, "+.0f"),
            figure(pair.shared, ".0%"), (pair.verdict or "") + ("" if pair.certain else " ?"),
            *rest)
    console.print(table)
    console.print(f"Value range {report.value_range:.0f} of 100.", markup=False)
    for one in report.hand_over:
        console.print(told(one["text"], piece.labels), markup=False)
    for sentence in (*report.sentences, *(bridge["text"] for bridge in report.bridges)):
        console.print(f"- {told(sentence, piece.labels)}", markup=False)


def written(path: Path) -> None:
    """Where a file lies."""
    say(path)
