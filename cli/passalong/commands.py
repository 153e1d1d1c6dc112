"""One function a command: call the road, return the JSON document and how to show it."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from passalong import show, show_plan
from passalong.options import ORDER_KEYS, PLAN_KEYS, READ_KEYS, SPOT_KEYS
from passalong.progress import Display
from sequencer import corrections, planning, written
from sequencer import make as road
from sequencer import piece as pieces
from sequencer.errors import UsageError
from sequencer.intake import read_into
from sequencer.models import Json
from sequencer.ordering import sequence as ordering
from sequencer.reading import cameras, spots

Answer = tuple[Json, Callable[[], None]]


def _given(asked: argparse.Namespace, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: getattr(asked, key) for key in keys if getattr(asked, key, None) is not None}


def _make(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        made = road.make(
            asked.photos,
            asked.out,
            _given(asked, READ_KEYS),
            _given(asked, ORDER_KEYS),
            _given(asked, PLAN_KEYS),
            paper=asked.paper,
            title=asked.title,
            date=asked.date,
            progress=progress,
            copy=asked.copy,
        )
    return made.to_json(), lambda: show_plan.made(made, asked.all)


def _read(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = read_into(asked.out, asked.photos, _given(asked, READ_KEYS), progress,
                          copy=asked.copy)
    return _prints(asked, piece)


def _prints(asked: argparse.Namespace, piece: pieces.Piece) -> Answer:
    return pieces.prints_json(piece), lambda: show.prints(piece, asked.all)


def _name(asked: argparse.Namespace) -> Answer:
    piece = corrections.rename(asked.folder, dict(_assignments(asked.names, "ID=NAME")))
    return _prints(asked, piece)


def _size(asked: argparse.Namespace) -> Answer:
    piece = corrections.resize(asked.folder, dict(_assignments(asked.sizes, "ID=LxW")))
    return _prints(asked, piece)


def _drop(asked: argparse.Namespace) -> Answer:
    piece = corrections.drop(asked.folder, asked.ids)
    return _prints(asked, piece)


def _merge(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.merge(asked.folder, asked.ids, progress)
        return _prints(asked, piece)


def _split(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.split(asked.folder, asked.id, tuple(asked.along), progress)
        return _prints(asked, piece)


def _redraw(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.redraw(asked.folder, asked.id, tuple(asked.outline), progress)
        return _prints(asked, piece)


def _add(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.add(asked.folder, asked.photo, tuple(asked.outline), progress)
        return _prints(asked, piece)


def _same(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.say_alike(asked.folder, asked.ids, True, progress)
        return _prints(asked, piece)


def _different(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.say_alike(asked.folder, asked.ids, False, progress)
        return _prints(asked, piece)


def _undo(asked: argparse.Namespace) -> Answer:
    piece, step = pieces.undo(asked.folder)
    return pieces.history_json(piece), lambda: show.stepped("taken back", step, piece)


def _redo(asked: argparse.Namespace) -> Answer:
    piece, step = pieces.redo(asked.folder)
    return pieces.history_json(piece), lambda: show.stepped("done again", step, piece)


def _history(asked: argparse.Namespace) -> Answer:
    piece = pieces.load(asked.folder)
    return pieces.history_json(piece), lambda: show.history(piece)


def _colour(asked: argparse.Namespace) -> Answer:
    found = spots.colours_at(asked.photo, asked.points, **_given(asked, SPOT_KEYS))
    return found.to_json(), lambda: show.spots(found)


def _camera(asked: argparse.Namespace) -> Answer:
    if asked.what == "list":
        known = cameras.taught()
        return cameras.cameras_json(known), lambda: show.cameras(known)
    if not asked.given or (asked.what == "learn") != bool(asked.name):
        raise UsageError(
            "say: camera learn PHOTO --name NAME, camera list, or camera forget NAME."
        )
    if asked.what == "forget":
        gone = cameras.forget(asked.given)
        return cameras.cameras_json([gone]), lambda: show.forgotten(gone)
    camera, notes = cameras.learn(Path(asked.given), asked.name, asked.marked)
    document = {**cameras.cameras_json([camera]), "notes": list(notes)}
    return document, lambda: show.cameras([camera], notes)


def _order(asked: argparse.Namespace) -> Answer:
    wishes = _given(asked, ORDER_KEYS)
    if wishes.get("sequence") and not asked.keep:
        piece = pieces.load(asked.folder)
        scored = ordering.score(piece, wishes)
        return scored.to_json(), lambda: show.sequence(piece, scored, asked.all)
    piece, sequence = pieces.worked(
        asked.folder, "order", lambda piece: ordering.order(piece, wishes))
    return sequence.to_json(), lambda: show.sequence(piece, sequence, asked.all)


def _contrast(asked: argparse.Namespace) -> Answer:
    piece = pieces.load(asked.folder)
    report = ordering.contrast(piece)
    return report.to_json(), lambda: show.contrast(piece, report, asked.all)


def _plan(asked: argparse.Namespace) -> Answer:
    wishes = _given(asked, PLAN_KEYS)
    if asked.way_out:
        piece, plan = pieces.worked(asked.folder, f"plan --way-out {asked.way_out}",
                                    lambda piece: planning.take_way_out(piece, asked.way_out))
    elif asked.sewn:
        first = asked.sewn[0]
        columns = list(range(1, first + 1)) if len(asked.sewn) == 1 else asked.sewn
        piece, plan = pieces.worked(
            asked.folder, "plan --sewn",
            lambda piece: planning.sew_on(piece, columns, asked.left, asked.use_up))
    elif asked.left or asked.use_up:
        raise UsageError("--left and --use-up go with --sewn: say which columns are sewn.")
    elif asked.ways_out and not wishes:
        piece, plan = pieces.worked(asked.folder, "plan", planning.planned)
    else:
        piece, plan = pieces.worked(
            asked.folder, "plan", lambda piece: planning.plan_columns(piece, wishes))
    listed = asked.ways_out
    ways = planning.ways_out(piece, plan, asked.folder) if listed or not asked.json else ()
    document = plan.to_json()
    if listed:
        document["ways_out"] = [way.to_json() for way in ways]
    return document, lambda: show_plan.plan(piece, plan, asked.folder, ways, listed, asked.all)


def _scale(asked: argparse.Namespace) -> Answer:
    piece = pieces.load(asked.folder)
    scaled = planning.scale(piece, asked.to)
    path = written.write_scale_picture(piece, scaled, asked.out or asked.folder / "scale.png")
    document = {**scaled.to_json(), "picture": str(path)}
    return document, lambda: show_plan.scaled(piece, document)


def _preview(asked: argparse.Namespace) -> Answer:
    piece, plan = planning.planned(pieces.load(asked.folder))
    path = written.write_preview(piece, plan, asked.out, view=asked.view, ppi=asked.ppi)
    return {"schema": "passalong.file/1", "file": str(path)}, lambda: show.written(path)


def _sheets(asked: argparse.Namespace) -> Answer:
    piece, plan = planning.planned(pieces.load(asked.folder))
    path = written.write_sheets(piece, plan, asked.out, paper=asked.paper, units=asked.units,
                                title=asked.title, date=asked.date, folder=asked.folder)
    return {"schema": "passalong.file/1", "file": str(path)}, lambda: show.written(path)


def _assignments(texts: list[str], form: str) -> list[tuple[str, str]]:
    pairs = []
    for text in texts:
        id_, equals, value = text.partition("=")
        if not (equals and id_.strip() and value.strip()):
            raise UsageError(f"'{text}' is not of the form {form}.")
        pairs.append((id_.strip(), value.strip()))
    return pairs


COMMANDS: dict[str, Callable[[argparse.Namespace], Answer]] = {
    "make": _make,
    "read": _read,
    "name": _name,
    "size": _size,
    "drop": _drop,
    "merge": _merge,
    "split": _split,
    "redraw": _redraw,
    "colour": _colour,
    "camera": _camera,
    "add": _add,
    "same": _same,
    "different": _different,
    "undo": _undo,
    "redo": _redo,
    "history": _history,
    "order": _order,
    "contrast": _contrast,
    "plan": _plan,
    "scale": _scale,
    "preview": _preview,
    "sheets": _sheets,
}
