"""Bytes → a checked record: kinds and ranges by msgspec, then what ties the parts together.

One line says what is wrong and where; nothing in a file, however it came about, gives more.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from sequencer.keeping.originals import inside
from sequencer.keeping.record import PrintRecord, StateRecord

Record = TypeVar("Record", bound=msgspec.Struct)

LARGEST = 64_000_000
"""Bytes of a piece.json; one of 5000 prints has about 20 million."""
_DEEPEST = 12
_SHARES = 0.002


class DamagedError(ValueError):
    """What is wrong with a record, in one line, with the place it is at."""


def decoded(data: bytes, kind: type[Record]) -> Record:
    """The record in these bytes, each part and all of it together checked.

    Raises:
        DamagedError: it is none.
    """
    try:
        record: Record = _decoder(kind).decode(data)
    except msgspec.DecodeError as error:
        raise DamagedError(_plainly(str(error))) from None
    except (RecursionError, OverflowError, ValueError) as error:
        raise DamagedError(_plainly(str(error))) from None
    if isinstance(record, StateRecord):
        check_state(record)
    return record


def check_state(record: StateRecord) -> None:
    """Refuse a state whose parts contradict each other.

    Raises:
        DamagedError: says which part, and how.
    """
    _once("photos", (photo.id for photo in record.photos))
    _once("the ids of prints", (one.id.casefold() for one in record.prints))
    _once("the names of prints", (one.name.casefold() for one in record.prints))
    photos = {photo.id for photo in record.photos}
    for photo in record.photos:
        if photo.file and not (inside(photo.file) or Path(photo.file).is_absolute()):
            raise DamagedError(f"photo '{photo.name}' lies at '{photo.file}', no place of ours")
    for one in record.prints:
        _check_print(one, photos)
    for place, correction in enumerate(record.corrections):
        named = {find.photo for find in correction.finds} | {correction.photo} - {""}
        if not named <= photos:
            raise DamagedError(f"correction {place + 1} is about a photo that is not listed")
    _check_sequence(record)
    for name, value in (("sewn", record.sewn), ("cameras", record.cameras)):
        check_plain(value, name)
    for name in ("size", "strip", "curve", "border"):
        check_plain(getattr(record.plan_wishes, name), f"plan_wishes.{name}")


def check_plain(value: Any, where: str, depth: int = 0) -> None:
    """Refuse what is too deep, too long or no number a length or colour can be."""
    if depth > _DEEPEST:
        raise DamagedError(f"{where} is nested too deeply")
    if isinstance(value, dict):
        for key, item in value.items():
            check_plain(key, where)
            check_plain(item, f"{where}.{key}"[:80], depth + 1)
    elif isinstance(value, list):
        for item in value:
            check_plain(item, where, depth + 1)
    elif isinstance(value, str):
        if len(value) > 4000 or any(ord(c) < 32 or 127 <= ord(c) < 160 for c in value):
            raise DamagedError(f"{where} holds a text with control characters or without end")
    elif isinstance(value, (int, float)) and not (math.isfinite(value) and abs(value) < 1e15):
        raise DamagedError(f"{where} holds a number out of all range")


@cache
def _decoder(kind: type[Record]) -> msgspec.json.Decoder[Record]:
    return msgspec.json.Decoder(kind)


def _check_print(one: PrintRecord, photos: set[str]) -> None:
    whole = sum(colour.share for colour in one.palette)
    if abs(whole - 1) > _SHARES:
        raise DamagedError(f"the colour shares of print '{one.id}' add up to {whole:.3f}, not 1")
    if one.photo_id and one.photo_id not in photos:
        raise DamagedError(f"print '{one.id}' is from a photo that is not listed")
    for sides in (one.size_in, one.usable_in):
        if sides is not None and sides[0] < sides[1]:
            raise DamagedError(f"print '{one.id}' is shorter ({sides[0]}) than wide ({sides[1]})")


def _check_sequence(record: StateRecord) -> None:
    sequence = record.sequence
    if sequence is None:
        return
    known = {one.id for one in record.prints}
    pairs = sequence.neighbours
    lists = {
        "sequence.order": sequence.order,
        "sequence.left_out": sequence.left_out,
        "sequence.best": sequence.best,
        **{f"sequence.alternatives[{k}]": a.order for k, a in enumerate(sequence.alternatives)},
        **{f"sequence.sizes[{k}]": a.order for k, a in enumerate(sequence.sizes)},
        **{f"sequence.moves[{k}]": a.order for k, a in enumerate(sequence.moves)},
    }
    for where, ids in lists.items():
        _once(where, ids)
        _all_known(where, ids, known)
    _all_known("sequence.neighbours", [id_ for pair in pairs for id_ in (pair.a, pair.b)], known)
    wanted = len(sequence.order) - (0 if sequence.loop and len(sequence.order) > 2 else 1)
    if not wanted <= len(pairs) <= len(sequence.order):
        raise DamagedError(f"sequence.neighbours lists {len(pairs)} pairs, not {wanted}")


def _all_known(where: str, ids: Iterable[str], known: set[str]) -> None:
    for id_ in ids:
        if id_ not in known:
            raise DamagedError(f"{where} names '{id_}', which is no print of the piece")


def _once(where: str, items: Iterable[str]) -> None:
    for item, times in Counter(items).items():
        if times > 1:
            raise DamagedError(f"{where}: '{item}' is there {times} times")


def _plainly(said: str) -> str:
    """msgspec's sentence with the place first and in brackets gone."""
    what, at, place = said.partition(" - at ")
    where = place.strip("`").removeprefix("$").removeprefix(".")
    return f"{where or 'the file'}: {what[:200]}" if at else what[:200]
