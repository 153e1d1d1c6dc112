"""The piece folder on disk: load, save, step back and again.

One moment changes everything: piece.json is renamed into place. Whatever it needs (photos,
swatches, plans, the state before) lies there by then under the name of its content, and whatever
nothing needs any more is swept afterwards. A crash at any point leaves the old piece or the new.
"""

from __future__ import annotations

import contextlib
import os
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from sequencer.errors import PieceChangedError, PieceError
from sequencer.files import read_ordinary, replace_file, shown, sweep_parts, sync_folder
from sequencer.keeping import originals
from sequencer.keeping.blobs import FOLDERS, Blobs, fingerprint, is_fingerprint
from sequencer.keeping.checking import LARGEST, DamagedError, check_state, decoded
from sequencer.keeping.converting import as_record, from_record, step_records, steps_of
from sequencer.keeping.lock import locked
from sequencer.keeping.readings import reading_bytes, reading_from
from sequencer.keeping.record import SCHEMA, HistoryRecord, PieceRecord, PrintRecord, StateRecord
from sequencer.keeping.state import Piece, Step
from sequencer.keeping.version1 import SCHEMA_1, brought_over
from sequencer.models import Json, Swatch

PIECE_FILE = "piece.json"
Ties = TypeVar("Ties")
STEPS = 200
"""Steps that can be taken back."""


@dataclass(frozen=True)
class _Held:
    """What lies on the disk: the record, its revision, and where swatches of version 1 lie."""

    record: StateRecord
    history: HistoryRecord
    revision: str
    version: int = 2
    older: Mapping[str, Path] = field(default_factory=dict)


def load(folder: Path) -> Piece:
    """Read a piece folder; pictures and plan stay where they are until they are looked at.

    Raises:
        PieceError: no piece there, damaged, or written by a newer version.
    """
    return _piece(_held(folder), folder)


def revision(folder: Path) -> str:
    """What tells the saved state from every other; empty where there is none."""
    try:
        return fingerprint(read_ordinary(folder / PIECE_FILE, LARGEST))
    except OSError:
        return ""


def save(piece: Piece, folder: Path, step: str | None, expecting: str | None = None) -> Piece:
    """Write the piece; returns it as saved.

    ``step`` names the change, so that it can be taken back; None adds to the step before.
    ``expecting``: the revision that must still lie there.

    Raises:
        PieceChangedError: another one lies there; nothing was written.
        PieceInUseError: another program is writing.
        PieceError: the folder cannot be written, or the piece is out of the file's limits.
    """
    with writing(folder, make=True) as writer:
        if expecting is not None and expecting != revision(folder):
            raise PieceChangedError(
                f"{folder} was changed by another program meanwhile; nothing was overwritten. "
                "Look at it again and repeat the change."
            )
        return writer.save(piece, step)


class Writer:
    """A held folder: the piece that lies there (an empty one where none does), and ways to add."""

    def __init__(self, folder: Path, held: _Held | None) -> None:
        self.piece = Piece() if held is None else _piece(held, folder)
        self._folder = folder
        self._held = held
        self._blobs = Blobs(folder)

    def save(self, piece: Piece, step: str | None) -> Piece:
        """Write the piece as the step ``step``; returns it as saved."""
        with _told(self._folder):
            return _write(piece, self._folder, self._held, step, self._blobs)

    def keep_photo(self, source: Path, content: str) -> str:
        """Bring a photograph into the folder; returns its place there."""
        with _told(self._folder):
            return originals.keep(source, content, self._blobs)

    def kept_ties(self, kind: type[Ties]) -> Ties | None:
        """What was found out about pairs of photos earlier, if it is still understood."""
        if self.piece.ties is None:
            return None
        path = self._blobs.path("readings", self.piece.ties, ".json")
        return reading_from(path, "ties", kind, self._folder)

    def keep_ties(self, ties: Any) -> str:
        """Keep what was found out about pairs of photos; returns its fingerprint."""
        with _told(self._folder):
            data = reading_bytes("ties", ties, lambda swatch: "")
            return self._blobs.put("readings", data, ".json")

    def keep_reading(self, key: str, reading: Any) -> tuple[str, tuple[str, ...]]:
        """Keep what a photo gave; returns its fingerprint and those of its swatches."""
        swatches: list[str] = []

        def keep(swatch: Swatch) -> str:
            swatches.append(_kept_swatch(swatch, self._folder, self._blobs))
            return swatches[-1]

        with _told(self._folder):
            data = reading_bytes(key, reading, keep)
            return self._blobs.put("readings", data, ".json"), tuple(swatches)


@contextmanager
def writing(folder: Path, make: bool = False) -> Iterator[Writer]:
    """Hold the folder against other writers; ``make``: also where no piece lies yet.

    Raises:
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    if not make:
        _bytes_there(folder)
    with locked(folder):
        there = os.path.lexists(folder / PIECE_FILE)
        yield Writer(folder, _held(folder) if there or not make else None)


def change(folder: Path, step: str, edit: Callable[[Piece], Piece]) -> Piece:
    """Make a quick change on what lies there now and save it as the step ``step``.

    Raises:
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    with writing(folder) as writer:
        return writer.save(edit(writer.piece), step)


@contextmanager
def _told(folder: Path) -> Iterator[None]:
    """What the system refuses, in the program's words."""
    try:
        yield
    except OSError as error:
        raise PieceError(f"{folder} cannot be written: {error.strerror or error}.") from None


def undo(folder: Path) -> tuple[Piece, Step]:
    """Take the last step back; returns the piece and the step.

    Raises:
        PieceError: there is none, or the state before is gone.
    """
    return _stepped(folder, back=True)


def redo(folder: Path) -> tuple[Piece, Step]:
    """Take the step that was taken back last again; returns the piece and the step.

    Raises:
        PieceError: there is none, or that state is gone.
    """
    return _stepped(folder, back=False)


# ── reading ───────────────────────────────────────────────────────────────────────────────


def _held(folder: Path) -> _Held:
    data = _bytes_there(folder)
    try:
        return _checked(data, folder)
    except DamagedError as error:
        raise PieceError(
            f"{folder / PIECE_FILE} is damaged: {error}. Put back a copy of it, or read the photos "
            "into a new folder."
        ) from None


def _bytes_there(folder: Path) -> bytes:
    path = folder / PIECE_FILE
    try:
        return read_ordinary(path, LARGEST)
    except FileNotFoundError:
        raise PieceError(
            f"{folder} holds no piece. Start one with: passalong read PHOTOS --out {folder}"
        ) from None
    except OSError as error:
        raise PieceError(f"{path} cannot be read: {error.strerror or error}.") from None


def _checked(data: bytes, folder: Path) -> _Held:
    schema = _schema(data)
    if schema == SCHEMA:
        record = decoded(data, PieceRecord)
        return _Held(record, record.history, fingerprint(data))
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
    return _Held(state, HistoryRecord(), fingerprint(data), 1, older)


def _schema(data: bytes) -> Any:
    """What kind of file it says it is."""

    class Kind(msgspec.Struct):
        schema: Any = None

    try:
        return msgspec.json.decode(data, type=Kind).schema
    except (ValueError, RecursionError) as error:
        raise DamagedError(str(error)[:200]) from None


def _piece(held: _Held, folder: Path) -> Piece:
    def swatch_of(name: str, one: PrintRecord) -> Swatch | None:
        matrix = None if one.swatch_matrix is None else tuple(one.swatch_matrix)
        return Swatch(held.older.get(name) or _swatch_path(folder, name), one.swatch_ppi, matrix)

    plan = _plan(folder, held.record.plan)
    return replace(
        from_record(held.record, swatch_of, plan),
        past=steps_of(held.history.past),
        future=steps_of(held.history.future),
        revision=held.revision,
    )


def _swatch_path(folder: Path, name: str) -> Path:
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


# ── writing ───────────────────────────────────────────────────────────────────────────────


def _write(
    piece: Piece, folder: Path, held: _Held | None, step: str | None, blobs: Blobs
) -> Piece:
    if held is not None and held.version == 1:
        piece = _adopted(piece, blobs)
    state = _recorded(piece, folder, blobs)
    if held is not None and held.version == 2 and _state_bytes(state) == _state_bytes(held.record):
        return _piece(held, folder)
    history = _continued(held, step, blobs)
    saved = _put(state, history, folder, blobs)
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
            swatches[one.id] = _kept_swatch(one.swatch, folder, blobs)
    plan = None
    if piece.plan is not None:
        plan = blobs.put("plans", msgspec.json.encode(piece.plan), ".json")
    try:
        state = as_record(piece, swatches, plan)
        check_state(state)
    except (msgspec.ValidationError, DamagedError) as error:
        raise PieceError(f"this cannot be kept: {error}") from None
    return state


def _kept_swatch(swatch: Swatch, folder: Path, blobs: Blobs) -> str:
    source = swatch.source
    if isinstance(source, Path):
        if is_fingerprint(source.stem) and source == _swatch_path(folder, source.stem):
            return source.stem
        return blobs.put("swatches", read_ordinary(source, LARGEST), ".png")
    packed = swatch.packed().source
    assert isinstance(packed, bytes)
    return blobs.put("swatches", packed, ".png")


def _continued(held: _Held | None, step: str | None, blobs: Blobs) -> HistoryRecord:
    """The history with this step, or as it was where the step goes on."""
    if held is None:
        return HistoryRecord()
    if step is None:
        return HistoryRecord(held.history.past, [])
    taken = Step(shown(step)[:200], _now(), _put_state(held.record, blobs))
    return HistoryRecord([*held.history.past, *step_records((taken,))][-STEPS:], [])


def _stepped(folder: Path, back: bool) -> tuple[Piece, Step]:
    with locked(folder):
        held = _held(folder)
        past, future = steps_of(held.history.past), steps_of(held.history.future)
        if not (past if back else future):
            what = "take back" if back else "take again"
            raise PieceError(f"{folder}: there is nothing to {what}.")
        blobs = Blobs(folder)
        try:
            here = _put_state(held.record, blobs)
            if back:
                step = past[-1]
                past, future = past[:-1], (*future, replace(step, state=here))
            else:
                step = future[-1]
                past, future = (*past, replace(step, state=here)), future[:-1]
            history = HistoryRecord(step_records(past), step_records(future))
            return _put(_state_of(step, folder), history, folder, blobs), step
        except OSError as error:
            raise PieceError(
                f"{folder} cannot be written: {error.strerror or error}."
            ) from None


def _put(state: StateRecord, history: HistoryRecord, folder: Path, blobs: Blobs) -> Piece:
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
    _sweep(record, folder, blobs)
    return _piece(_Held(record, history, fingerprint(data)), folder)


def _put_state(record: StateRecord, blobs: Blobs) -> str:
    needs = " ".join(sorted(_needs(record))).encode()
    return blobs.put("history", needs + b"\n" + zlib.compress(_state_bytes(record), 6), ".state")


def _state_of(step: Step, folder: Path) -> StateRecord:
    path = folder / "history" / f"{step.state}.state"
    try:
        packed = read_ordinary(path, LARGEST).partition(b"\n")[2]
        unpacked = zlib.decompressobj().decompress(packed, LARGEST)
        return decoded(unpacked, StateRecord)
    except (OSError, zlib.error, DamagedError) as error:
        raise PieceError(
            f"{path}, an earlier state of this piece, cannot be read ({error})."
        ) from None


def _state_bytes(record: StateRecord) -> bytes:
    fields = {name: getattr(record, name) for name in StateRecord.__struct_fields__}
    return msgspec.json.encode(StateRecord(**fields))


def _needs(record: StateRecord) -> set[str]:
    """Fingerprints of all files that a state needs."""
    of_photos = {name for photo in record.photos
                 for name in (photo.content, photo.reading, *photo.swatches)}
    of_prints = {one.swatch for one in record.prints}
    return {name for name in of_photos | of_prints | {record.plan, record.ties} if name is not None}


def _sweep(record: PieceRecord, folder: Path, blobs: Blobs) -> None:
    for kind in FOLDERS:
        sweep_parts(folder / kind, all_of_them=True)
    sweep_parts(folder)
    needed = _needs(record)
    for step in (*record.history.past, *record.history.future):
        needed.add(step.state)
        try:
            needed |= _needs_of(folder / "history" / f"{step.state}.state")
        except OSError:
            return  # what that state needs is not known: better to sweep nothing
    blobs.sweep(needed)


def _needs_of(path: Path) -> set[str]:
    """What an earlier state needs; nothing where that state itself is gone."""
    if not path.exists():
        return set()
    needs, _, _ = read_ordinary(path, LARGEST).partition(b"\n")
    return set(needs.decode("ascii", "replace").split())


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
