"""Pieces of version 1, brought over: photos known by path and name become known by content."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from sequencer.keeping.checking import DamagedError, check_plain, check_state
from sequencer.keeping.disk.blobs import fingerprint_of
from sequencer.keeping.disk.naming import bases, gone_id, nth_id
from sequencer.keeping.record import SCHEMA, StateRecord
from sequencer.models import Json

SCHEMA_1 = "passalong.piece/1"
_DROPPED = ("swatch_ppi",)


def brought_over(data: Json, folder: Path) -> tuple[StateRecord, dict[str, Path]]:
    """The state that a version 1 file tells, and where its swatches lie, by fingerprint.

    Photos that are no longer there keep their prints. The plan is planned anew from its wishes, as
    version 1 did itself.

    Raises:
        DamagedError: it is damaged.
    """
    check_plain(data, "the file")
    try:
        state, swatches = _state(data, folder)
        record = msgspec.convert(state, StateRecord)
    except msgspec.ValidationError as error:
        raise DamagedError(str(error)) from None
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise DamagedError(f"a part is missing or of the wrong kind ({error!r})") from None
    check_state(record)
    return record, swatches


def _state(data: Json, folder: Path) -> tuple[Json, dict[str, Path]]:
    photos = [_photo(path, data["read_wishes"]) for path in dict.fromkeys(data["photos"])]
    for place, photo in enumerate(photos):
        before = sum(one["content"] == photo["content"] for one in photos[:place])
        photo["id"] = nth_id(photo["content"], before)
    prints, swatches = _prints(data["prints"], photos, folder)
    rejected = [{"photo": one["photo"], "why": one["why"]} for one in data["rejected"]]
    useless = {one["photo"] for one in rejected} - {one["photo"] for one in prints}
    kept = [photo for photo in photos if photo["name"] not in useless]
    state = {
        "schema": SCHEMA,
        "photos": kept,
        "read_wishes": data["read_wishes"],
        "corrections": list(_corrections(data["edits"], kept)),
        "names": data["names"],
        "sizes": data["sizes"],
        "prints": prints,
        "rejected": rejected,
        "order_wishes": data["order_wishes"],
        "sequence": data["sequence"],
        "plan_wishes": data["plan_wishes"],
    }
    return state, swatches


def _photo(path: str, wishes: Json) -> Json:
    """A photo that is gone is known by where it was."""
    file = Path(path)
    try:
        known = fingerprint_of(file) if file.is_file() else None
    except (OSError, ValueError):
        known = None
    stem = next(bases(file.stem))
    id_ = known or gone_id(path)
    return {"id": id_, "content": id_, "name": file.name, "stem": stem, "file": path,
            "wishes": wishes}


def _prints(
    items: list[Json], photos: list[Json], folder: Path
) -> tuple[list[Json], dict[str, Path]]:
    """Prints with their photo's id; of photos with one name the ids' stems tell which is which."""
    swatches: dict[str, Path] = {}
    made = []
    names: set[str] = set()
    owners = _owners(items, photos)
    for item in items:
        photo, number = owners[item["id"]]
        name = _unlike(str(item["name"]), names)
        one = {**item, "name": name, "photo_id": photo, "number": number}
        path = folder / "swatches" / f"{item['id']}.png"
        if "/" not in item["id"] and "\\" not in item["id"] and path.is_file():
            one["swatch"] = fingerprint_of(path)
            swatches[one["swatch"]] = path
        made.append(one)
    return made, swatches


def _owners(items: list[Json], photos: list[Json]) -> dict[str, tuple[str, int]]:
    """Photo id and number of each print, by print id; sets the photos' stems."""
    owners: dict[str, tuple[str, int]] = {}
    for name in dict.fromkeys(str(item["photo"]) for item in items):
        ids = [str(item["id"]) for item in items if item["photo"] == name]
        same = [photo for photo in photos if photo["name"] == name]
        for photo in same:
            for base in _first(bases(Path(name).stem), len(photos) + 1):
                mine = {id_: number for id_ in ids if id_ not in owners
                        if (number := _number(id_, base)) is not None}
                if mine:
                    owners |= {id_: (photo["id"], number) for id_, number in mine.items()}
                    photo["stem"] = base
                    break
        owners |= {id_: ("", 0) for id_ in ids if id_ not in owners}
    return owners


def _number(id_: str, base: str) -> int | None:
    if id_ == base:
        return 1
    told = re.fullmatch(re.escape(base) + r"-(\d{1,5})", id_)
    return int(told.group(1)) if told else None


def _first(endless: Iterator[str], count: int) -> list[str]:
    return [base for base, _ in zip(endless, range(count), strict=False)]


def _unlike(name: str, taken: set[str]) -> str:
    """Version 1 took one name twice: the second gets a number."""
    told, count = name, 1
    while told.casefold() in taken:
        count += 1
        told = f"{name} {count}"
    taken.add(told.casefold())
    return told


def _corrections(edits: list[Json], photos: list[Json]) -> Iterator[dict[str, Any]]:
    """Corrections by the photo's content; version 1 applied one to all photos of its name."""
    for edit in edits:
        for photo in photos:
            if photo["name"] == edit["photo"]:
                missed = edit["op"] == "redraw" and not edit["outlines"]
                finds = [{"photo": photo["id"], "outline": points} for points in edit["outlines"]]
                yield {
                    "op": "add" if missed else edit["op"],
                    "photo": photo["id"],
                    "finds": finds,
                    "line": edit["line"],
                }
