"""The piece folder: everything known about one piece of work, on disk.

::

    FOLDER/piece.json      prints, sequence, plan and the wishes behind them (passalong.piece/1)
    FOLDER/swatches/ID.png the photographed cloth of each print, for the render

``plan`` in piece.json is written for other readers; the program plans anew from ``plan_wishes``.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from sequencer.errors import PieceError
from sequencer.files import replace_file
from sequencer.models import (
    Alternative,
    Json,
    Lab,
    Neighbours,
    PaletteColour,
    Print,
    Rejected,
    Sequence,
    Swatch,
)

SCHEMA = "passalong.piece/1"
PIECE_FILE = "piece.json"
SWATCHES = "swatches"


@dataclass(frozen=True)
class Piece:
    """One piece of work. ``photos`` are the paths read so far; ``edits`` the maker's corrections
    to what was found there, ``names`` and ``sizes`` (scraps as exact length, width) those by id.

    ``order_wishes`` and ``plan_wishes`` are the options as they were typed, JSON-plain.
    """

    prints: tuple[Print, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    photos: tuple[str, ...] = ()
    read_wishes: Mapping[str, Any] = field(default_factory=dict)
    edits: tuple[Mapping[str, Any], ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    sizes: Mapping[str, Any] = field(default_factory=dict)
    sequence: Sequence | None = None
    order_wishes: Mapping[str, Any] = field(default_factory=dict)
    plan_wishes: Mapping[str, Any] = field(default_factory=dict)
    plan: Json | None = None

    def print_of(self, id_: str) -> Print:
        """The print with this id.

        Raises:
            PieceError: there is none; close ids are named.
        """
        check_ids([id_], [one.id for one in self.prints])
        return next(one for one in self.prints if one.id == id_)

    def with_print(self, changed: Print) -> Piece:
        """The same piece with one print replaced (by id)."""
        prints = tuple(changed if one.id == changed.id else one for one in self.prints)
        return replace(self, prints=prints)


def check_ids(wanted: list[str], known: list[str]) -> None:
    """Refuse ids the piece does not hold.

    Raises:
        PieceError: names the unknown id, what is close to it, and every id there is.
    """
    from difflib import get_close_matches

    for id_ in wanted:
        if id_ not in known:
            close = get_close_matches(id_, known, n=2)
            hint = f" Did you mean {' or '.join(close)}?" if close else ""
            raise PieceError(f"no print is called '{id_}'.{hint} There are: {', '.join(known)}.")


def load(folder: Path) -> Piece:
    """Read a piece folder, swatches included.

    Raises:
        PieceError: no piece there, damaged, or written by a newer version.
    """
    path = folder / PIECE_FILE
    try:
        data = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        raise PieceError(
            f"{folder} holds no piece. Start one with: passalong read PHOTOS --out {folder}"
        ) from None
    except (OSError, UnicodeDecodeError, ValueError) as error:
        raise PieceError(f"{path} cannot be read ({error}). Read the photos again.") from None
    if not isinstance(data, dict) or data.get("schema") != SCHEMA:
        found = data.get("schema") if isinstance(data, dict) else type(data).__name__
        raise PieceError(
            f"{path} is of kind {found!r}; this version reads {SCHEMA}. "
            "Use a newer passalong, or read the photos again into a new folder."
        )
    try:
        return _piece(data, folder)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise PieceError(f"{path} is damaged ({error!r}). Read the photos again.") from None


def save(piece: Piece, folder: Path) -> None:
    """Write the piece: swatches first, piece.json last, so that it never points at nothing.

    Raises:
        PieceError: the folder cannot be made or written.
    """
    try:
        (folder / SWATCHES).mkdir(parents=True, exist_ok=True)
        for one in piece.prints:
            _save_swatch(one, folder)
        text = json.dumps(to_json(piece), ensure_ascii=False, indent=1)
        replace_file(folder / PIECE_FILE, text.encode())
        _sweep(piece, folder)
    except OSError as error:
        raise PieceError(f"{folder} cannot be written: {error.strerror or error}.") from None


def as_saved(one: Print) -> Print:
    """The print with its figures rounded as the file holds them, so that a reload changes none."""
    data = {**one.to_json(), "swatch_ppi": None}
    return replace(_bare_print(data), swatch=one.swatch)


def prints_json(piece: Piece) -> Json:
    """Document ``passalong.prints/1``."""
    return {
        "schema": "passalong.prints/1",
        "prints": [one.to_json() for one in piece.prints],
        "rejected": [one.to_json() for one in piece.rejected],
    }


def to_json(piece: Piece) -> Json:
    """Document ``passalong.piece/1``."""
    prints = []
    for one in piece.prints:
        ppi = one.swatch.ppi if one.swatch else None
        prints.append({**one.to_json(), "swatch_ppi": ppi})
    return {
        "schema": SCHEMA,
        "photos": list(piece.photos),
        "read_wishes": dict(piece.read_wishes),
        "edits": [dict(edit) for edit in piece.edits],
        "names": dict(piece.names),
        "sizes": dict(piece.sizes),
        "prints": prints,
        "rejected": [one.to_json() for one in piece.rejected],
        "order_wishes": dict(piece.order_wishes),
        "sequence": piece.sequence.to_json() if piece.sequence else None,
        "plan_wishes": dict(piece.plan_wishes),
        "plan": piece.plan,
    }


def _swatch_path(one: Print, folder: Path) -> Path:
    return folder / SWATCHES / f"{one.id}.png"


def _save_swatch(one: Print, folder: Path) -> None:
    if one.swatch is None:
        return
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(one.swatch.pixels).save(buffer, "PNG", compress_level=1)
    path = _swatch_path(one, folder)
    if not path.exists() or path.read_bytes() != buffer.getvalue():
        replace_file(path, buffer.getvalue())


def _sweep(piece: Piece, folder: Path) -> None:
    kept = {_swatch_path(one, folder) for one in piece.prints}
    for path in (folder / SWATCHES).glob("*.png"):
        if path not in kept:
            path.unlink()


def _piece(data: Json, folder: Path) -> Piece:
    return Piece(
        prints=tuple(_print(item, folder) for item in data["prints"]),
        rejected=tuple(Rejected(item["photo"], item["why"]) for item in data["rejected"]),
        photos=tuple(data["photos"]),
        read_wishes=data["read_wishes"],
        edits=tuple(data["edits"]),
        names=data["names"],
        sizes=data["sizes"],
        sequence=_sequence(data["sequence"]) if data["sequence"] else None,
        order_wishes=data["order_wishes"],
        plan_wishes=data["plan_wishes"],
        plan=data["plan"],
    )


def _lab(values: list[float]) -> Lab:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b


def _print(item: Json, folder: Path) -> Print:
    bare = _bare_print(item)
    return replace(bare, swatch=_load_swatch(_swatch_path(bare, folder), item["swatch_ppi"]))


def _bare_print(item: Json) -> Print:
    size, usable = item["size_in"], item.get("usable_in")
    return Print(
        id=str(item["id"]),
        name=str(item["name"]),
        photo=str(item["photo"]),
        outline=tuple((float(x), float(y)) for x, y in item["outline"]),
        mean_lab=_lab(item["mean_lab"]),
        palette=tuple(
            PaletteColour(_lab(one["lab"]), float(one["share"]), str(one.get("name", "")))
            for one in item["palette"]
        ),
        spread=item["spread"],
        size_in=None if size is None else (float(size[0]), float(size[1])),
        reference=str(item["reference"]),
        uncertainty=float(item["uncertainty"]),
        warnings=tuple(item["warnings"]),
        scraps=tuple((Fraction(a), Fraction(b)) for a, b in item.get("scraps", ())),
        usable_in=None if usable is None else (float(usable[0]), float(usable[1])),
    )


def _load_swatch(path: Path, ppi: float | None) -> Swatch | None:
    import numpy as np
    from PIL import Image

    if not path.exists():
        return None
    try:
        with Image.open(path) as image:
            return Swatch(np.asarray(image.convert("RGB")), ppi)
    except (OSError, SyntaxError, ValueError) as error:
        raise ValueError(f"swatch {path.name}: {error}") from None


def _sequence(data: Json) -> Sequence:
    proof = data["proof"]
    return Sequence(
        order=tuple(data["order"]),
        loop=bool(data["loop"]),
        aim=str(data["aim"]),
        total=data["total"],
        worst=data["worst"],
        status=proof["status"],
        lower_bound=proof["lower_bound"],
        gap=proof["gap"],
        neighbours=tuple(
            Neighbours(**{key: pair.get(key) for key in Neighbours.__dataclass_fields__})
            for pair in data["neighbours"]
        ),
        left_out=tuple(data["left_out"]),
        alternatives=_alternatives(data["alternatives"]),
        seconds=data["seconds"],
        notes=tuple(data["notes"]),
        sizes=_alternatives(data["sizes"]),
        confidence=data["confidence"],
        best=tuple(data["best"]),
        percent=data["percent"],
        moves=tuple(data["moves"]),
    )


def _alternatives(items: list[Json]) -> tuple[Alternative, ...]:
    return tuple(
        Alternative(tuple(one["order"]), one["total"], one["worst"], one["note"]) for one in items
    )
