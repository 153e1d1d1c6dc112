"""Cameras that were taught from photographs of a target: kept for the user, one file for all.

A camera is known again by the make, model and lens in its photos, or is asked for by name. What
one lesson holds and how lessons are weighed: :mod:`sequencer.photo.colour.taught`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sequencer.errors import PhotoError, UsageError, WorkError
from sequencer.files import replace_file
from sequencer.models import Json
from sequencer.photo.colour.correct import light_of
from sequencer.photo.colour.exposure import lift_of
from sequencer.photo.colour.taught import Camera as Camera  # faces show it
from sequencer.photo.colour.taught import lesson_from
from sequencer.photo.files.load import load
from sequencer.photo.files.stated import taken_by
from sequencer.photo.reference.marking import marked_corners, marking_in
from sequencer.photo.reference.reference import look_for_reference

SCHEMA = "passalong.cameras/1"
_NO_NAMES = ("auto", "none")
_LONGEST_NAME = 60
_MOST_LESSONS = 24
_ENOUGH = 3


def taught() -> tuple[Camera, ...]:
    """The user's cameras, by name.

    Raises:
        WorkError: the file that holds them is damaged or cannot be read.
    """
    path = _file()
    try:
        data = json.loads(path.read_text("utf-8"))
        if data["schema"] != SCHEMA:
            raise ValueError(data["schema"])
        cameras = [Camera.from_json(one) for one in data["cameras"]]
    except FileNotFoundError:
        return ()
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise WorkError(
            f"{path}: the taught cameras cannot be read ({type(error).__name__}); move the file "
            "away and teach them again."
        ) from None
    return tuple(sorted(cameras, key=lambda one: one.name.casefold()))


def learn(
    photo: Path, name: str, marked: Sequence[Sequence[float]] | None = None
) -> tuple[Camera, tuple[str, ...]]:
    """Learn from a photo that shows a 24-patch target, and keep it; the camera and remarks.

    Again under one name: another lesson, from another photo and best another light.

    Raises:
        UsageError: the name cannot be one, or was taught from another make or model.
        PhotoError: the photo cannot be used or shows no target that can be learnt from.
        WorkError: the cameras cannot be kept.
    """
    name = _checked(name)
    seen = load(photo)
    corners = marked_corners(marked, "target")
    found, words = look_for_reference(seen, "target", marking_in(seen, corners))
    if found is None:
        raise PhotoError(seen.name, words or "no target was found")
    lit = light_of(seen, found, np.ones(seen.pixels.shape[:2], bool))[1]
    try:
        lesson = lesson_from(found.encoded, lit, lift_of(seen.pixels))
    except ValueError:
        raise PhotoError(
            seen.name, "too few patches of the target show unclipped: photograph it whole and a "
            "little darker, without glare"
        ) from None
    before = {one.name.casefold(): one for one in taught()}
    old = before.get(name.casefold(), Camera(name, seen.taken_by, ()))
    if any(old.taken_by) and any(seen.taken_by) and old.taken_by != seen.taken_by:
        raise UsageError(
            f"'{old.name}' was taught from photos by {in_words(old)}, and this one was taken by "
            f"{' '.join(filter(None, seen.taken_by))}: give it another name."
        )
    lessons = (*(one for one in old.lessons if one != lesson), lesson)[-_MOST_LESSONS:]
    camera = replace(old, lessons=lessons, taken_by=max(old.taken_by, seen.taken_by))
    keep([*(one for key, one in before.items() if key != name.casefold()), camera])
    return camera, tuple(filter(None, [words])) + _remarks(camera)


def forget(name: str) -> Camera:
    """Take a camera out again.

    Raises:
        UsageError: none was taught under this name.
    """
    cameras = taught()
    camera = _named(cameras, name)
    keep([one for one in cameras if one != camera])
    return camera


def chosen(
    photo: Path, wanted: str = "auto", also: Mapping[str, Any] | None = None
) -> Camera | None:
    """The taught camera that took a photo, by its file; or the one of that name; ``also``: cameras
    of a piece, in plain form. None where none is known or ``wanted`` is none.

    Raises:
        UsageError: none was taught under this name.
    """
    if wanted == "none":
        return None
    kept = {key.casefold(): Camera.from_json(one) for key, one in (also or {}).items()}
    cameras = tuple({**kept, **{one.name.casefold(): one for one in taught()}}.values())
    if wanted != "auto":
        return _named(cameras, wanted)
    mine = taken_by(photo) if cameras else ("", "", "")
    return next((one for one in cameras if any(mine[:2]) and one.taken_by == mine), None)


def in_words(camera: Camera) -> str:
    """What its photos say took them."""
    return " ".join(filter(None, camera.taken_by)) or "a camera that its photos do not name"


def cameras_json(cameras: Iterable[Camera]) -> Json:
    """Document ``passalong.cameras/1``."""
    return {"schema": SCHEMA, "cameras": [one.to_json() for one in cameras]}


def _remarks(camera: Camera) -> tuple[str, ...]:
    notes = []
    if not any(camera.taken_by):
        notes.append(
            f"the photo does not say what took it, so ask for this camera by name: --camera "
            f"'{camera.name}'"
        )
    if len(camera.lessons) < _ENOUGH:
        notes.append(
            f"{len(camera.lessons)} of {_ENOUGH} lessons: a phone maps tones anew for each light, "
            "so teach it by window light, by lamp light and outdoors"
        )
    return tuple(notes)


def _checked(name: str) -> str:
    name = " ".join(name.split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable() or name in _NO_NAMES:
        raise UsageError(
            f"'{name[:_LONGEST_NAME]}' cannot be a camera's name: use 1 to {_LONGEST_NAME} letters "
            f"and not {' or '.join(_NO_NAMES)}."
        )
    return name


def _named(cameras: Sequence[Camera], name: str) -> Camera:
    for one in cameras:
        if one.name.casefold() == " ".join(name.split()).casefold():
            return one
    known = ", ".join(one.name for one in cameras) or "none so far"
    raise UsageError(
        f"no camera was taught under the name '{name}' (known: {known}): passalong camera learn "
        f"PHOTO --name '{name}'"
    )


def keep(cameras: Sequence[Camera]) -> None:
    """Keep these cameras for the user and no others.

    Raises:
        WorkError: the file cannot be written.
    """
    path = _file()
    data = json.dumps(cameras_json(cameras), ensure_ascii=False, indent=1).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, data)
    except OSError as error:
        raise WorkError(f"{path} cannot be written: {error.strerror or error}.") from None


def _file() -> Path:
    from platformdirs import user_data_path

    return Path(user_data_path("passalong", appauthor=False)) / "cameras.json"
