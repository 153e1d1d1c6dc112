"""One piece folder held open: the piece as it lies there now, changed only by its revision.

The disk is the truth: another page or a terminal may write to the folder at any time, so what is
held is taken anew whenever piece.json is another file. A change names the revision that it was
made on and is refused where that no longer lies there.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from sequencer.errors import PassalongError, PieceChangedError
from sequencer.make import planned
from sequencer.models import ContrastReport, Json, Plan
from sequencer.opened.document import page_json
from sequencer.opened.kept import Kept
from sequencer.opened.pictures import cloth_picture, photo_screen
from sequencer.ordering.sequence import contrast
from sequencer.piece import PIECE_FILE, Piece, load, redo, save, undo

NEW = "new"
"""The revision of a folder in which no piece lies yet."""
_PICTURES = 60_000_000
"""Bytes of photographs and cloths that are kept ready to send."""


class Opened:
    """A piece folder held open by a page; every method may be called from any thread."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.lock = threading.RLock()
        self._piece = Piece()
        self._stamp: tuple[int, int, int] | None = None
        self._documents: Kept[Json] = Kept(4)
        self._plans: Kept[Plan | None] = Kept(4)
        self._pictures: Kept[bytes] = Kept(_PICTURES, len)

    @property
    def name(self) -> str:
        """What the folder is called."""
        return self.folder.resolve().name

    def piece(self) -> Piece:
        """The piece as it lies in the folder now; an empty one where none lies there.

        Raises:
            PieceError: it is damaged, or written by a newer version.
        """
        with self.lock:
            stamp = _stamp(self.folder / PIECE_FILE)
            if stamp != self._stamp:
                self._piece = Piece() if stamp is None else load(self.folder)
                self._stamp = stamp
            return self._piece

    @property
    def revision(self) -> str:
        """What tells the saved state from every other."""
        return self.piece().revision or NEW

    def document(self) -> Json:
        """The piece as a page shows it, ``passalong.page/1``."""
        piece = self.piece()
        return self._documents.get(piece.revision, lambda: self._document(piece))

    def _document(self, piece: Piece) -> Json:
        plan, report = self.plan(piece), None
        blocked = None
        if piece.sequence is not None:
            report = self._report(piece)
        told = page_json(piece, plan, report, self.name)
        return {"revision": piece.revision or NEW, "blocked": blocked, "said": [], **told}

    def plan(self, piece: Piece) -> Plan | None:
        """The plan kept with the piece, None where none is kept."""
        if piece.plan is None:
            return None
        return self._plans.get(piece.revision, lambda: planned(piece)[1])

    def _report(self, piece: Piece) -> ContrastReport | None:
        try:
            return contrast(piece)
        except PassalongError:
            return None

    def photo_screen(self, id_: str) -> bytes:
        """A photograph for the screen, as JPEG."""
        piece = self.piece()
        return self._pictures.get(("photo", id_), lambda: photo_screen(piece, self.folder, id_))

    def cloth(self, id_: str) -> bytes:
        """A print's cloth, as JPEG."""
        piece = self.piece()
        swatch = piece.print_of(id_).swatch
        key = ("cloth", id_, swatch and swatch.content, swatch and swatch.matrix)
        return self._pictures.get(key, lambda: cloth_picture(piece, id_))

    def change(self, revision: str, step: str, edit: Callable[[Piece], Piece]) -> Piece:
        """Make a change on the piece of this revision and save it as the step ``step``.

        Raises:
            PieceChangedError: another piece lies there; nothing was changed.
            PieceInUseError, PieceError: as for :func:`sequencer.piece.save`.
        """
        with self.lock:
            piece = self._expected(revision)
            return save(edit(piece), self.folder, step, expecting=piece.revision)

    def undo(self, revision: str) -> Piece:
        """Take the last step back. Raises as :meth:`change`; PieceError where there is none."""
        with self.lock:
            return undo(self.folder, self._expected(revision).revision)[0]

    def redo(self, revision: str) -> Piece:
        """Take the step taken back last again. Raises as :meth:`undo`."""
        with self.lock:
            return redo(self.folder, self._expected(revision).revision)[0]

    def _expected(self, revision: str) -> Piece:
        piece = self.piece()
        if (piece.revision or NEW) != revision:
            raise PieceChangedError(
                "The piece was changed elsewhere meanwhile; nothing was overwritten. Look at it "
                "and do it again."
            )
        return piece


def _stamp(path: Path) -> tuple[int, int, int] | None:
    """What tells one piece.json from the next, without reading it."""
    try:
        told = path.stat()
    except OSError:
        return None
    return told.st_mtime_ns, told.st_size, told.st_ino
