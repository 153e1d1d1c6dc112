"""The piece folder on disk: load, save, step back and again.

One moment changes everything: piece.json is renamed into place. Whatever it needs (photos,
swatches, plans, the state before) lies there by then under the name of its content, and whatever
nothing needs any more is swept afterwards. A crash at any point leaves the old piece or the new.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from sequencer.errors import PieceChangedError, PieceError
from sequencer.files import fingerprint, read_ordinary
from sequencer.keeping import originals
from sequencer.keeping.checking import LARGEST
from sequencer.keeping.converting import step_records, steps_of
from sequencer.keeping.disk.blobs import Blobs
from sequencer.keeping.disk.lock import locked
from sequencer.keeping.disk.readings import reading_bytes, reading_from
from sequencer.keeping.history import put_state, state_of
from sequencer.keeping.loading import PIECE_FILE, Held, bytes_there, held_of, piece_of
from sequencer.keeping.record import HistoryRecord
from sequencer.keeping.saving import kept_swatch, put, told, write
from sequencer.keeping.state import Growing, Piece, Step
from sequencer.models import Swatch

Ties = TypeVar("Ties")


def load(folder: Path) -> Piece:
    """Read a piece folder; pictures and plan stay where they are until they are looked at.

    Raises:
        PieceError: no piece there, damaged, or written by a newer version.
    """
    return piece_of(held_of(folder), folder)


def revision(folder: Path) -> str:
    """What tells the saved state from every other; empty where there is none."""
    try:
        return fingerprint(read_ordinary(folder / PIECE_FILE, LARGEST))
    except OSError:
        return ""


def save(piece: Piece, folder: Path, step: str | Growing, expecting: str | None = None) -> Piece:
    """Write the piece; returns it as saved.

    ``step`` names the change, so that it can be taken back.
    ``expecting``: the revision that must still lie there.

    Raises:
        PieceChangedError: another one lies there; nothing was written.
        PieceInUseError: another program is writing.
        PieceError: the folder cannot be written, or the piece is out of the file's limits.
    """
    with writing(folder, make=True) as writer:
        _check_revision(folder, expecting)
        return writer.save(piece, step)


def _check_revision(folder: Path, expecting: str | None) -> None:
    if expecting is not None and expecting != revision(folder):
        raise PieceChangedError(
            f"{folder} was changed by another program meanwhile; nothing was overwritten. "
            "Look at it again and repeat the change."
        )


class Writer:
    """A held folder: the piece that lies there (an empty one where none does), and ways to add."""

    def __init__(self, folder: Path, held: Held | None) -> None:
        self.piece = Piece() if held is None else piece_of(held, folder)
        self._folder = folder
        self._held = held
        self._blobs = Blobs(folder)

    def save(self, piece: Piece, step: str | Growing | None) -> Piece:
        """Write the piece as the step ``step``; returns it as saved. None: what was worked out of
        what lies there is laid beside it, and all that can be taken back or again stays so.
        """
        with told(self._folder):
            return write(piece, self._folder, self._held, step, self._blobs)

    def keep_photo(self, source: Path, content: str) -> str:
        """Bring a photograph into the folder; returns its place there."""
        with told(self._folder):
            return originals.keep(source, content, self._blobs)

    def kept_ties(self, kind: type[Ties]) -> Ties | None:
        """What was found out about pairs of photos earlier, if it is still understood."""
        if self.piece.ties is None:
            return None
        path = self._blobs.path("readings", self.piece.ties, ".json")
        return reading_from(path, "ties", kind, self._folder)

    def keep_ties(self, ties: Any) -> str:
        """Keep what was found out about pairs of photos; returns its fingerprint."""
        with told(self._folder):
            data = reading_bytes("ties", ties, lambda swatch: "")
            return self._blobs.put("readings", data, ".json")

    def keep_reading(self, key: str, reading: Any) -> tuple[str, tuple[str, ...]]:
        """Keep what a photo gave; returns its fingerprint and those of its swatches."""
        swatches: list[str] = []

        def keep(swatch: Swatch) -> str:
            swatches.append(kept_swatch(swatch, self._folder, self._blobs))
            return swatches[-1]

        with told(self._folder):
            data = reading_bytes(key, reading, keep)
            return self._blobs.put("readings", data, ".json"), tuple(swatches)


@contextmanager
def writing(folder: Path, make: bool = False) -> Iterator[Writer]:
    """Hold the folder against other writers; ``make``: also where no piece lies yet.

    Raises:
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    if not make:
        bytes_there(folder)
    with locked(folder):
        there = os.path.lexists(folder / PIECE_FILE)
        yield Writer(folder, held_of(folder) if there or not make else None)


def change(folder: Path, step: str, edit: Callable[[Piece], Piece]) -> Piece:
    """Make a quick change on what lies there now and save it as the step ``step``.

    Raises:
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    with writing(folder) as writer:
        return writer.save(edit(writer.piece), step)


def undo(folder: Path, expecting: str | None = None) -> tuple[Piece, Step]:
    """Take the last step back; returns the piece and the step.

    Raises:
        PieceChangedError: another piece lies there than the revision that was expected.
        PieceError: there is none, or the state before is gone.
    """
    return _stepped(folder, expecting, back=True)


def redo(folder: Path, expecting: str | None = None) -> tuple[Piece, Step]:
    """Take the step that was taken back last again; returns the piece and the step.

    Raises:
        PieceChangedError: another piece lies there than the revision that was expected.
        PieceError: there is none, or that state is gone.
    """
    return _stepped(folder, expecting, back=False)


def _stepped(folder: Path, expecting: str | None, back: bool) -> tuple[Piece, Step]:
    with locked(folder):
        _check_revision(folder, expecting)
        held = held_of(folder)
        past, future = steps_of(held.history.past), steps_of(held.history.future)
        if not (past if back else future):
            what = "take back" if back else "take again"
            raise PieceError(f"{folder}: there is nothing to {what}.")
        blobs = Blobs(folder)
        with told(folder):
            here = put_state(held.record, blobs)
            if back:
                step = past[-1]
                past, future = past[:-1], (*future, replace(step, state=here))
            else:
                step = future[-1]
                past, future = (*past, replace(step, state=here)), future[:-1]
            history = HistoryRecord(step_records(past), step_records(future))
            return put(state_of(step, folder), history, folder, blobs), step
