"""Damaged piece folders, from a good one and a seed."""

from __future__ import annotations

import json
import os
import random
import reprlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fuzz.bench import HERS

Dice = random.Random
_DEEPEST = 40
"""Places further down are not damaged further: what an earlier damage nested may have no end."""
_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 7, 0.5, -0.0, 1e-300, 1e9, -1e9, 1e308, float("nan"),
    float("inf"), 10**30, 2**63, "", "x", "a" * 5000, "../../holiday", "/etc/passwd", "..", ".",
    "a/b", "a\\b", "\x00", "\x1b[2J", "\u202e", "\ud800", "1/0", "1/4", "-3", "999999999999",
    "holiday.png", [], {}, [[]], [0, 0, 0], ["x"], {"x": 1}, [[1, 2], [3, 4]], "NaN",
    [50.0, 0.0, 0.0], [-500, 0, 0], [50, 1e4, 0], "moss", ["moss", "moss", "moss"], "auto",
)  # fmt: skip


def damage(dice: Dice, folder: Path) -> str:
    """Damage the folder in one way; says how."""
    way = dice.choices((_record, _bytes, _neighbour_file, _kind), (70, 12, 14, 4))[0]
    return way(dice, folder)


def _record(dice: Dice, folder: Path) -> str:
    """Values of piece.json replaced, lost, doubled or moved."""
    path = folder / "piece.json"
    data = json.loads(path.read_text("utf-8"))
    told = []
    for _ in range(dice.choice((1, 1, 1, 2, 3, 6))):
        told.append(_one_value(dice, data))
    text = json.dumps(data, ensure_ascii=dice.random() < 0.5)
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return "; ".join(told)


def _one_value(dice: Dice, data: Any) -> str:
    holder, key, where = dice.choice(_weighted(list(_places(data, ""))))
    way = dice.randrange(13)
    if way >= 10:  # mild: passes most checks, and something else is then asked of the rest
        holder[key] = _like(dice, holder[key], data)
    elif way < 5:
        holder[key] = dice.choice(_VALUES)
    elif way == 5 and isinstance(holder, dict):
        del holder[key]
    elif way == 6 and isinstance(holder, list):
        holder.insert(key, holder[key])
    elif way == 7:
        other, name, _ = dice.choice(list(_places(data, "")))
        holder[key] = json.loads(json.dumps(other[name]))
    elif way == 8:
        holder[key] = _deep(dice, holder[key])
    elif isinstance(holder[key], (int, float)) and not isinstance(holder[key], bool):
        holder[key] *= dice.choice((-1, 10, 1e3, 1e9, 1e-9))
    else:
        size = len(json.dumps(holder[key]))
        holder[key] = [holder[key]] * min(dice.choice((1, 2, 2000)), 1 + 10**6 // size)
    return f"{where} = {reprlib.repr(holder.get(key) if isinstance(holder, dict) else '…')[:40]}"


def _places(data: Any, where: str) -> Iterator[tuple[Any, Any, str]]:
    """Every (holder, key, path) of a document."""
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in list(pairs):
        yield data, key, f"{where}.{key}"
        if isinstance(value, (dict, list)) and where.count(".") < _DEEPEST:
            yield from _places(value, f"{where}.{key}")


def _weighted(places: list[tuple[Any, Any, str]]) -> list[tuple[Any, Any, str]]:
    """Long outlines and palettes would take nearly every hit: one place of each kind counts."""
    kinds: dict[str, tuple[Any, Any, str]] = {}
    for number, place in enumerate(places):
        kind = "".join("#" if part.isdigit() else f".{part}" for part in place[2].split("."))
        kinds[f"{kind}{number % 3}"] = place
    return list(kinds.values())


def _like(dice: Dice, value: Any, data: Any) -> Any:
    """Another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, float)):
        return type(value)(value * dice.choice((0, 0.5, 0.9, 1.1, 2, 3)))
    same = [holder[key] for holder, key, _ in _places(data, "")
            if type(holder[key]) is type(value)]  # fmt: skip
    return json.loads(json.dumps(dice.choice(same)))


def _deep(dice: Dice, value: Any) -> Any:
    for _ in range(dice.choice((3, 60, 400))):
        value = [value] if dice.random() < 0.5 else {"x": value}
    return value


def _bytes(dice: Dice, folder: Path) -> str:
    """piece.json cut, flipped, doubled, or something else altogether."""
    path = folder / "piece.json"
    data = bytearray(path.read_bytes())
    way = dice.randrange(6)
    if way == 0:
        data = data[: dice.randrange(len(data))]
    elif way == 1:
        for _ in range(dice.randint(1, 20)):
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    elif way == 2:
        at = dice.randrange(len(data))
        del data[at : at + dice.randint(1, 300)]
    elif way == 3:
        data = data * 2
    elif way == 4:
        data = bytearray(dice.choice((b"", b"[" * 10**5, b'{"a":' * 10**5, b"null", b"\xff\xfe",
                                      b'{"schema": "passalong.piece/1"}', b"9" * 10**6)))
    else:
        data = data.replace(b'"schema"', b'"schema": 7, "schema"', 1)
    path.write_bytes(data)
    return "bytes of piece.json"


def _neighbour_file(dice: Dice, folder: Path) -> str:
    """Another of its files lost, cut, flipped, or swapped with its neighbour."""
    files = [path for path in _its_own(folder) if path.name != "piece.json"]
    path, other = dice.choice(files), dice.choice(files)
    data = bytearray(path.read_bytes())
    way = dice.randrange(5)
    if way == 0:
        path.unlink()
        return f"{path.name} lost"
    if way == 1:
        data = data[: dice.randrange(len(data) + 1)]
    elif way == 2 and data:
        for _ in range(dice.randint(1, 30)):
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    elif way == 3:
        data = bytearray(other.read_bytes())
    else:
        data = bytearray()
    path.unlink()  # it may be a hard link to the photograph itself
    path.write_bytes(data)
    return f"{path.name} damaged"


def _its_own(folder: Path) -> list[Path]:
    """The program's files, hers left out."""
    return sorted(path for path in folder.rglob("*")
                  if path.is_file() and str(path.relative_to(folder)) not in HERS)  # fmt: skip


def _kind(dice: Dice, folder: Path) -> str:
    """A file that is none: a pipe, a folder, a link to itself or out of the folder."""
    files = _its_own(folder)
    path = dice.choice([folder / "piece.json", dice.choice(files), dice.choice(files)])
    way = dice.randrange(4)
    path.unlink()
    if way == 0:
        os.mkfifo(path)
    elif way == 1:
        path.mkdir()
    elif way == 2:
        path.symlink_to(path.name)
    else:
        path.symlink_to(folder.parent / "holiday.png")
    return f"{path.name} is {('a pipe', 'a folder', 'a link to itself', 'a link outside')[way]}"


def sane(data: Any) -> bool:
    """An independent look at what the program took for a piece: nothing that no cloth can be."""
    prints = data["prints"]
    known = [one["id"] for one in prints]
    for one in prints:
        light, a, b = one["mean_lab"]
        shares = [colour["share"] for colour in one["palette"]]
        plain = one["id"] and not set(one["id"]) & set("/\\\0") and one["id"].strip(".")
        size = one["size_in"] or [1, 1]
        if not (plain and 0 <= light <= 100 and max(abs(a), abs(b)) <= 200
                and all(0 < share <= 1 for share in shares) and abs(sum(shares) - 1) < 0.02
                and all(0 < side < 1000 for side in size)):  # fmt: skip
            return False
    order = (data.get("sequence") or {}).get("order", [])
    once = len(set(known)) == len(known) and len(set(order)) == len(order)
    return once and set(order) <= set(known)

