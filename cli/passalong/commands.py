"""One function a command: call the road, return the JSON document and how to show it."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any

from passalong import show
from passalong.options import ORDER_KEYS, PLAN_KEYS, READ_KEYS, SPOT_KEYS
from passalong.progress import Display
from sequencer import corrections, ordering, spots
from sequencer import make as road
from sequencer import piece as pieces
from sequencer.errors import UsageError
from sequencer.models import Json

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
            progress=progress,
        )
    return made.to_json(), lambda: show.made(made)


def _read(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = road.read_photos_into(asked.out, asked.photos, _given(asked, READ_KEYS), progress)
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _name(asked: argparse.Namespace) -> Answer:
    piece = corrections.rename(asked.folder, dict(_assignments(asked.names, "ID=NAME")))
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _size(asked: argparse.Namespace) -> Answer:
    piece = corrections.resize(asked.folder, dict(_assignments(asked.sizes, "ID=LxW")))
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _drop(asked: argparse.Namespace) -> Answer:
    piece = corrections.drop(asked.folder, asked.ids)
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _merge(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.merge(asked.folder, asked.ids, progress)
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _split(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.split(asked.folder, asked.id, tuple(asked.along), progress)
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _redraw(asked: argparse.Namespace) -> Answer:
    with Display(quiet=asked.json) as progress:
        piece = corrections.redraw(asked.folder, asked.id, asked.outline, progress)
    return pieces.prints_json(piece), lambda: show.prints(piece)


def _colour(asked: argparse.Namespace) -> Answer:
    found = spots.spots_of(asked.photo, asked.points, **_given(asked, SPOT_KEYS))
    return found.to_json(), lambda: show.spots(found)


def _order(asked: argparse.Namespace) -> Answer:
    piece, sequence = ordering.order(pieces.load(asked.folder), _given(asked, ORDER_KEYS))
    pieces.save(piece, asked.folder, "order")
    return sequence.to_json(), lambda: show.sequence(piece, sequence)


def _contrast(asked: argparse.Namespace) -> Answer:
    piece = pieces.load(asked.folder)
    report = ordering.contrast(piece)
    return report.to_json(), lambda: show.contrast(piece, report)


def _plan(asked: argparse.Namespace) -> Answer:
    piece, plan = road.plan_columns(pieces.load(asked.folder), _given(asked, PLAN_KEYS))
    ways = road.ways_out(piece, plan) if asked.ways_out else ()
    pieces.save(piece, asked.folder, "plan")
    document = plan.to_json()
    if asked.ways_out:
        document["ways_out"] = [way.to_json() for way in ways]
    return document, lambda: show.plan(piece, plan, [way.text for way in ways])


def _scale(asked: argparse.Namespace) -> Answer:
    piece = pieces.load(asked.folder)
    scaled = road.scale(piece, asked.to)
    path = road.write_scale_picture(piece, scaled, asked.out or asked.folder / "scale.png")
    document = {**scaled.to_json(), "picture": str(path)}
    return document, lambda: show.scaled(document)


def _preview(asked: argparse.Namespace) -> Answer:
    piece, plan = road.plan_columns(pieces.load(asked.folder))
    path = road.write_preview(piece, plan, asked.out, view=asked.view, ppi=asked.ppi)
    return {"schema": "passalong.file/1", "file": str(path)}, lambda: show.written(path)


def _sheets(asked: argparse.Namespace) -> Answer:
    piece, plan = road.plan_columns(pieces.load(asked.folder))
    path = road.write_sheets(piece, plan, asked.out, paper=asked.paper, units=asked.units)
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
    "order": _order,
    "contrast": _contrast,
    "plan": _plan,
    "scale": _scale,
    "preview": _preview,
    "sheets": _sheets,
}
