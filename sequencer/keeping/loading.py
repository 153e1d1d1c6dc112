"""A piece folder as it lies on the disk, read and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

from sequencer.errors import PieceError
from sequencer.files import fingerprint, read_ordinary
from sequencer.keeping.checking import LARGEST, DamagedError, decoded
from sequencer.keeping.converting import from_record, steps_of
from sequencer.keeping.record import SCHEMA, HistoryRecord, PieceRecord, PrintRecord, StateRecord
from sequencer.keeping.state import Piece
from sequencer.keeping.version1 import SCHEMA_1, brought_over
from sequencer.models import Json, Swatch

PIECE_FILE = "piece.json"


@dataclass(frozen=True)
class Held:
    """What lies on the disk: the record, its revision, and where swatches of version 1 lie."""

    record: StateRecord
    history: HistoryRecord
    revision: str
    version: int = 2
    older: Mapping[str, Path] = field(default_factory=dict)


def held_of(folder: Path) -> Held:
    """What lies in the folder, checked.

    Raises:
        PieceError: no piece there, damaged, or written by a newer version.
    """
    data = bytes_there(folder)
    try:
        return _checked(data, folder)
    except DamagedError as error:
        raise PieceError(
            f"{folder / PIECE_FILE} is damaged: {error}. Put back a copy of it, or read the photos "
            "into a new folder."
        ) from None


def bytes_there(folder: Path) -> bytes:
    """The bytes of piece.json.

    Raises:
        PieceError: there are none, or they cannot be read.
    """
    path = folder / PIECE_FILE
    try:
        return read_ordinary(path, LARGEST)
    except FileNotFoundError:
        raise PieceError(
            f"{folder} holds no piece. Start one with: passalong read PHOTOS --out {folder}"
        ) from None
    except OSError as error:
        raise PieceError(f"{path} cannot be read: {error.strerror or error}.") from None


def _checked(data: bytes, folder: Path) -> Held:
    schema = _schema(data)
    if schema == SCHEMA:
        record = decoded(data, PieceRecord)
        return Held(record, record.history, fingerprint(data))
    if schema != SCHEMA_1:
        raise PieceError(
            f"{folder / PIECE_FILE} is of kind {str(schema)[:60]!r}; this version reads {SCHEMA}. "
            "Use a newer passalong, or read the photos again into a new folder."
        )
    try:
        told = msgspec.json.decode(data)
    except (ValueError, RecursionError) as error:
        raise DamagedError(str(error)) from None
    state, older = brought_over(told, folder)
    return Held(state, HistoryRecord(), fingerprint(data), 1, older)


def _schema(data: bytes) -> Any:
    """What kind of file it says it is."""

    class Kind(msgspec.Struct):
        schema: Any = None

    try:
        return msgspec.json.decode(data, type=Kind).schema
    except (ValueError, RecursionError) as error:
        raise DamagedError(str(error)[:200]) from None


def piece_of(held: Held, folder: Path) -> Piece:
    """The piece as the program works with it; swatches stay on the disk until looked at.

    Raises:
        PieceError: its plan is gone or damaged.
    """

    def swatch_of(name: str, one: PrintRecord) -> Swatch | None:
        matrix = None if one.swatch_matrix is None else tuple(one.swatch_matrix)
        path = held.older.get(name) or swatch_path(folder, name)
        return Swatch(path, one.swatch_ppi, matrix, name)

    plan = _plan(folder, held.record.plan)
    return replace(
        from_record(held.record, swatch_of, plan),
        past=steps_of(held.history.past),
        future=steps_of(held.history.future),
        revision=held.revision,
    )


def swatch_path(folder: Path, name: str) -> Path:
    """Where the swatch of this fingerprint lies."""
    return folder / "swatches" / f"{name}.png"


def _plan(folder: Path, name: str | None) -> Json | None:
    if name is None:
        return None
    path = folder / "plans" / f"{name}.json"
    try:
        plan = msgspec.json.decode(read_ordinary(path, LARGEST))
    except (OSError, ValueError, RecursionError) as error:
        raise PieceError(
            f"{path}, the plan of this piece, cannot be read ({error}). Plan again."
        ) from None
    return plan if isinstance(plan, dict) else None
