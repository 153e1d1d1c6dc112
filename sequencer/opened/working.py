"""Long work on a piece folder, as it is done in the child: each function tells lines on the way.

What is changed is saved as one step of the piece, the picture that follows from it included.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sequencer import corrections, marks
from sequencer.errors import NothingReadError, UsageError
from sequencer.intake import read_into
from sequencer.intake.needed import look_ahead
from sequencer.models import Json, Progress, Rejected
from sequencer.models import Sequence as Sequenced
from sequencer.opened.changes import bettered, pictured
from sequencer.opened.child import Line
from sequencer.opened.jobs import Upload
from sequencer.opened.shown.scraps import found_json
from sequencer.ordering.sequence import doubted, doubts_open
from sequencer.piece import Growing, Piece, laid_beside, load, revision, worked
from sequencer.reading.both_cores import Told
from sequencer.reading.photograph import ReadPhoto

_LASTING = ("shows", "reference", "scale", "camera")
"""Wishes of earlier photographs that hold for those to come as well."""


def progress_of(line: Line) -> Progress:
    """Progress as a line of the job."""
    return lambda done, total, what: line({"done": done, "total": total, "what": what})


# ── photographs come in ───────────────────────────────────────────────────────────────────


def read_batch(
    line: Line, folder: Path, batch: Sequence[Upload], joins: str, done: int, total: int
) -> str:
    """Read some photographs into the piece.

    ``joins``: the revision that an earlier batch of the same job left, empty where none has left
    one; where it still lies there this one adds to that step. Returns the same for the next.
    """
    wishes = load(folder).read_wishes if revision(folder) else {}
    asked = {key: wishes[key] for key in _LASTING if key in wishes}
    numbers = {one.name: one.number for one in batch}

    def say(part: int, of: int, what: str) -> None:
        line({"done": done + part, "total": max(total, done + of), "what": what})

    def told(name: str, found: ReadPhoto | Rejected) -> None:
        line({"upload": numbers.get(name), "photo": name, **found_json(found)})

    step = Growing(_called("photograph", [*numbers]), joins)
    with contextlib.suppress(NothingReadError):  # each was told as it was read
        read_into(folder, [one.path for one in batch], asked, say, step=step, told=told,
                  names={one.path: one.name for one in batch})  # fmt: skip
    return step.revision


def _called(what: str, names: Sequence[str]) -> str:
    return f"{what} {names[0]}" if len(names) == 1 else f"{len(names)} {what}s"


def picture(
    line: Line, folder: Path, joins: str = "", before: Sequenced | None = None
) -> str:
    """Order and plan where none are kept; ``joins`` and what is returned as for a batch.

    ``before``: the sequence that hung there; what was in doubt stays so until it is tried again.
    """
    if not revision(folder):
        return ""
    line({"done": 0, "total": 1, "what": "laying out the first picture"})
    step = Growing("first picture", joins)
    worked(folder, step, lambda piece: (pictured(piece, before), None))
    return step.revision


def _then_pictured(line: Line, folder: Path, change: Callable[[], Piece]) -> str:
    """A change that takes the picture away, and the picture that follows; one step."""
    before = load(folder).sequence if revision(folder) else None
    return picture(line, folder, change().revision, before)


def doubt(line: Line, folder: Path) -> bool:
    """How sure the order is that lies there, where that is not known yet: no step. What she does
    meanwhile is not held up, and where the order is another by then nothing is saved.
    """
    piece = load(folder)
    return doubts_open(piece) and laid_beside(
        folder, piece, doubted(piece, progress=progress_of(line))[1])


def ready(line: Line, folder: Path, photo: str) -> None:
    """Look at a photograph as a correction of it will, so that the first takes no longer than the
    next: the picture that follows from it is laid out too, for practice; nothing is changed.
    """
    piece = load(folder)
    look_ahead(piece, folder, photo, progress_of(line))
    line({"done": 0, "total": 1, "what": "laying out the same piece"})
    pictured(replace(piece, sequence=None, plan=None))


# ── what she sets right ───────────────────────────────────────────────────────────────────


def set_right(line: Line, folder: Path, op: str, given: Mapping[str, Any]) -> str:
    """A correction of finds, and the picture after it; returns the revision.

    Raises:
        UsageError: there is no such correction.
    """
    return _then_pictured(line, folder, lambda: _corrected(progress_of(line), folder, op, given))


def _corrected(say: Progress, folder: Path, op: str, given: Mapping[str, Any]) -> Piece:
    ids, outline = list(given["ids"]), tuple(map(tuple, given["line"]))
    if op == "drop":
        return corrections.drop(folder, ids)
    if op == "merge":
        return corrections.merge(folder, ids, say)
    if op in ("same", "different"):
        return corrections.say_alike(folder, ids, op == "same", say)
    if op == "add":
        return corrections.add(folder, _stem(folder, str(given["photo"])), outline, say)
    if op in ("split", "redraw") and len(ids) == 1:
        do = corrections.split if op == "split" else corrections.redraw
        return do(folder, ids[0], outline, say)
    if op == "unsize":
        return corrections.unsize(folder, ids, say)
    raise UsageError(f"'{op}' of {len(ids)} scraps is no correction.")


def _stem(folder: Path, id_: str) -> str:
    """What a photo's prints are called after; the one way to name one of several alike."""
    return marks.photo_with(load(folder), id_).stem


def mark(line: Line, folder: Path, photo: str, said: Mapping[str, Any]) -> str:
    """Something said of a photograph, in corners or by pointing; returns the revision."""
    if "point" in said:
        at = said.get("at")
        said = marks.pointed(folder, photo, said["point"], at and tuple(at), said.get("print"))
    return _then_pictured(
        line, folder, lambda: marks.mark(folder, photo, said, progress_of(line)))


def take_out(line: Line, folder: Path, photo: str) -> str:
    """A photograph taken out, and what it gave; returns the revision."""
    return _then_pictured(
        line, folder, lambda: marks.remove_photo(folder, photo, progress_of(line)))


def read_samples(line: Line, folder: Path, photos: Sequence[Path]) -> str:
    """The sample box into this folder; returns the revision."""
    say = progress_of(line)
    piece = read_into(folder, list(photos), {}, say, step="sample box", told=_lit(line))
    return picture(line, folder, piece.revision)


def _lit(line: Line) -> Told:
    return lambda name, found: line({"photo": name, **found_json(found)})


# ── what scraps can give ──────────────────────────────────────────────────────────────────


def better(line: Line, folder: Path, goal: Mapping[str, Any], step: str) -> str:
    """The largest piece, or the best one (of a size); returns the revision."""
    line({"done": 0, "total": 1, "what": "trying what these scraps can give"})
    return worked(folder, step, lambda piece: (bettered(piece, goal), None))[0].revision


def ways(line: Line, folder: Path) -> list[Json]:
    """Ways out of a shortage, each as it was tried: words, price, and the plan after it."""
    from sequencer.opened.trying import wishes_of
    from sequencer.planning import planned, ways_out

    line({"done": 0, "total": 1, "what": "trying ways out, one by one"})
    piece, plan = planned(load(folder))
    return [
        {"label": way.text, "costs": way.price, "lacks": way.lacking, "enough": way.enough,
         "order": list(way.seq), "plan": way.plan.to_json(), "wishes": wishes_of(way.plan)}
        for way in ways_out(piece, plan, folder)
    ]  # fmt: skip


# ── what she takes with her ───────────────────────────────────────────────────────────────


def sheets(line: Line, folder: Path, out: Path, paper: str, units: str | None) -> None:
    """The cutting and sewing sheets as a file at ``out``."""
    from sequencer.planning import planned
    from sequencer.written import write_sheets

    line({"done": 0, "total": 1, "what": "laying out the sheets"})
    piece, plan = planned(pictured(load(folder)))
    write_sheets(piece, plan, out, paper=paper, units=units, folder=folder)


def drawn(line: Line, folder: Path, out: Path, view: str, ppi: float) -> None:
    """The finished piece as a picture at ``out``."""
    from sequencer.planning import planned
    from sequencer.rendering import page_ppi
    from sequencer.written import write_preview

    line({"done": 0, "total": 1, "what": "drawing the picture"})
    piece, plan = planned(pictured(load(folder)))
    write_preview(piece, plan, out, view=view, ppi=page_ppi(plan, ppi))


def bundle(
    line: Line, folder: Path, out: Path, name: str, paper: str, units: str | None
) -> None:
    """Everything as one zip at ``out``."""
    from sequencer.opened.bundle import write_bundle

    write_bundle(folder, out, name, paper, units, progress_of(line))
