"""Writing a piece: all it needs is laid beside it first, then piece.json is renamed into place."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import msgspec

from sequencer.errors import PieceError
from sequencer.files import fingerprint, read_ordinary, replace_file, sync_folder
from sequencer.keeping import originals
from sequencer.keeping.checking import LARGEST, DamagedError, check_state, decoded
from sequencer.keeping.converting import as_record
from sequencer.keeping.disk.blobs import Blobs, is_fingerprint
from sequencer.keeping.history import continued, state_bytes, sweep
from sequencer.keeping.loading import PIECE_FILE, Held, piece_of, swatch_path
from sequencer.keeping.record import HistoryRecord, PieceRecord, StateRecord
from sequencer.keeping.state import Growing, Piece
from sequencer.models import Swatch


@contextmanager
def told(folder: Path) -> Iterator[None]:
    """What the system refuses, in the program's words."""
    try:
        yield
    except OSError as error:
        raise PieceError(f"{folder} cannot be written: {error.strerror or error}.") from None


def write(
    piece: Piece, folder: Path, held: Held | None, step: str | Growing | None, blobs: Blobs
) -> Piece:
    """Write the piece over what is held; unchanged, nothing is written. Returns it as saved."""
    if held is not None and held.version == 1:
        piece = _adopted(piece, blobs)
    state = _recorded(piece, folder, blobs)
    if held is not None and held.version == 2 and state_bytes(state) == state_bytes(held.record):
        return piece_of(held, folder)
    history = continued(held, step, blobs)
    saved = put(state, history, folder, blobs)
    if isinstance(step, Growing):
        step.revision = saved.revision
    for old in {} if held is None else held.older.values():
        with contextlib.suppress(OSError):
            old.unlink()  # version 1's swatches: they lie there by content now
    return saved


def _adopted(piece: Piece, blobs: Blobs) -> Piece:
    """A piece of version 1 with those of its photographs brought in that are still there."""
    photos = []
    for photo in piece.photos:
        with contextlib.suppress(OSError):
            file = originals.keep(Path(photo.file or ""), photo.content, blobs)
            photo = replace(photo, file=file)
        photos.append(photo)
    return replace(piece, photos=tuple(photos))


def _recorded(piece: Piece, folder: Path, blobs: Blobs) -> StateRecord:
    """The state with all it needs laid beside it."""
    swatches = {}
    for one in piece.prints:
        if one.swatch is not None:
            swatches[one.id] = kept_swatch(one.swatch, folder, blobs)
    plan = None
    if piece.plan is not None:
        plan = blobs.put("plans", msgspec.json.encode(piece.plan), ".json")
    try:
        state = as_record(piece, swatches, plan)
        check_state(state)
    except (msgspec.ValidationError, DamagedError) as error:
        raise PieceError(f"this cannot be kept: {error}") from None
    return state


def kept_swatch(swatch: Swatch, folder: Path, blobs: Blobs) -> str:
    """Keep the photographed cloth of a print; returns its fingerprint."""
    source = swatch.source
    if isinstance(source, Path):
        if is_fingerprint(source.stem) and source == swatch_path(folder, source.stem):
            return source.stem
        return blobs.put("swatches", read_ordinary(source, LARGEST), ".png")
    packed = swatch.packed().source
    assert isinstance(packed, bytes)
    return blobs.put("swatches", packed, ".png")


def put(state: StateRecord, history: HistoryRecord, folder: Path, blobs: Blobs) -> Piece:
    """The moment of change."""
    record = PieceRecord(**{name: getattr(state, name) for name in state.__struct_fields__
                            if name != "history"}, history=history)
    data = msgspec.json.format(msgspec.json.encode(record), indent=1)
    try:
        decoded(data, PieceRecord)
    except DamagedError as error:
        raise PieceError(f"this cannot be kept: {error}") from None
    inside = blobs.make("history")
    blobs.settle()
    target = Path(os.path.realpath(folder / PIECE_FILE))
    replace_file(target, data, inside if target.parent == Path(os.path.realpath(folder)) else None)
    sync_folder(target.parent)
    sweep(record, folder, blobs)
    return piece_of(Held(record, history, fingerprint(data)), folder)
