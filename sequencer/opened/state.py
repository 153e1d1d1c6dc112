"""One piece folder held open: the piece as it lies there now, changed only by its revision.

The disk is the truth: another page or a terminal may write to the folder at any time, so what is
held is taken anew whenever piece.json is another file. A change names the revision that it was
made on and is refused where that no longer lies there.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sequencer.errors import PieceChangedError
from sequencer.kept import Kept
from sequencer.models import Json, Plan
from sequencer.opened import changes
from sequencer.opened.earlier import Earlier, Stays, print_stays
from sequencer.opened.hanging import Packet, Wall, light_ppi
from sequencer.opened.orders import Orders
from sequencer.opened.pictures import cloth_picture, photo_screen
from sequencer.opened.shown.document import page_json
from sequencer.opened.shown.said import blocked, said
from sequencer.opened.trying import Move
from sequencer.piece import PIECE_FILE, Piece, load, redo, save, undo
from sequencer.planning import planned

NEW = "new"
"""The revision of a folder in which no piece lies yet."""
_PICTURES = 30_000_000
"""Bytes of photographs and cloths that are kept ready to send."""
_TRIES = 4
_CHANGED = ("The piece was changed elsewhere meanwhile; nothing was overwritten. Look at it and do "
            "it again.")  # fmt: skip


class Opened:
    """A piece folder held open by a page; every method may be called from any thread.

    Changes answer the document after them.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._piece = Piece()
        self._stamp: tuple[int, int, int] | None = None
        self._earlier = Earlier()
        self._documents: Kept[Json] = Kept(4)
        self._plans: Kept[Plan | None] = Kept(4)
        self._whole: Kept[Piece] = Kept(2)
        self._orders = Orders()
        self._pictures: Kept[bytes] = Kept(_PICTURES, len)
        self._wall = Wall()

    # ── as it lies there ──────────────────────────────────────────────────────────────────

    @property
    def name(self) -> str:
        """What the folder is called."""
        return self.folder.resolve().name

    def piece(self) -> Piece:
        """The piece as it lies in the folder now; an empty one where none lies there.

        Raises:
            PieceError: it is damaged, or written by a newer version.
        """
        with self._lock:
            stamp = _stamp(self.folder / PIECE_FILE)
            if stamp != self._stamp:
                self._piece = Piece() if stamp is None else load(self.folder)
                self._stamp = stamp
                self._earlier.remember(self._piece)
            return self._piece

    @property
    def revision(self) -> str:
        """What tells the saved state from every other."""
        return self.piece().revision or NEW

    def _shown(self, piece: Piece) -> Piece:
        """The piece with a plan, where a terminal left its sequence without one (a size typed)."""
        if piece.plan is not None or piece.sequence is None:
            return piece
        return self._whole.get(piece.revision, lambda: changes.pictured(piece))

    def document(self) -> Json:
        """The piece as a page shows it, ``passalong.page/1``."""
        piece = self._shown(self.piece())
        return self._documents.get(piece.revision, lambda: self._document(piece))

    def _document(self, piece: Piece) -> Json:
        plan, report, graph = self.plan(piece), None, None
        if piece.sequence is not None:
            report = self._orders.report(piece, piece.sequence)
            graph = self._orders.graph(piece)
        return {
            "revision": piece.revision or NEW,
            **page_json(piece, plan, report, self.name),
            "blocked": blocked(piece, plan),
            "said": said(piece, plan, report, graph),
        }

    def plan(self, piece: Piece) -> Plan | None:
        """The plan kept with the piece, None where none is kept."""
        if piece.plan is None:
            return None
        return self._plans.get(piece.revision, lambda: planned(piece)[1])

    def hung(self, cut: Callable[[Wall, Piece, Plan | None], Packet]) -> Packet:
        """What is cut of the piece and plan that lie there now."""
        piece = self._shown(self.piece())
        return cut(self._wall, piece, self.plan(piece))

    def warm_cloth(self) -> None:
        """Have cloth ready to be cut at the scale that a page asks for first."""
        piece = self.piece()
        plan = self.plan(piece)
        if plan is not None:
            self._wall.bands(piece, plan, light_ppi(plan), "colour")

    def photo_screen(self, id_: str) -> bytes:
        """A photograph for the screen, as JPEG."""
        piece = self.piece()
        return self._pictures.get(("photo", id_), lambda: photo_screen(piece, self.folder, id_))

    def cloth(self, id_: str, end: str = "as-is") -> bytes:
        """A print's cloth, as JPEG; as it is, or at the light or dark end of what it may be."""
        piece = self.piece()
        one = piece.print_of(id_)
        swatch = one.swatch
        key = ("cloth", id_, end, one.uncertainty, swatch and (swatch.content, swatch.matrix))
        return self._pictures.get(key, lambda: cloth_picture(piece, id_, end))

    # ── questions ─────────────────────────────────────────────────────────────────────────

    def price(self, order: Sequence[str]) -> Json:
        """What an order costs against the best of the same prints, while cloth is moved.

        Raises:
            SequenceError: it names a print that is not there, or one twice.
        """
        return self._orders.price(self.piece(), order)

    # ── changes ───────────────────────────────────────────────────────────────────────────

    def lay(self, revision: str, order: Sequence[str]) -> Json:
        """Her own order."""
        def edit(piece: Piece) -> Piece:
            best = self._orders.best(piece, order)
            return changes.laid(piece, order, self._orders.graph(piece), best)

        return self._change(revision, "order by hand", edit)

    def order(self, revision: str, wishes: Mapping[str, Any]) -> Json:
        """The best order under the wishes kept, with these changed."""
        return self._change(revision, "order",
                            lambda piece: changes.ordered(piece, wishes, self._orders.graph(piece)))

    def move(self, revision: str, move: Move, step: str) -> Json:
        """One thing of the plan moved."""
        return self._change(revision, step, lambda piece: changes.moved(piece, move))

    def rename(self, revision: str, id_: str, name: str) -> Json:
        """A print's name; joined where nobody else touched that print."""
        return self._change(revision, f"name {name}",
                            lambda piece: changes.named(piece, id_, name), print_stays(id_))

    def resize(self, revision: str, id_: str, sizes: Sequence[Sequence[str]]) -> Json:
        """A print's scraps; joined where nobody else touched that print."""
        return self._change(revision, f"size {id_}",
                            lambda piece: changes.sized(piece, id_, sizes), print_stays(id_))

    def take(self, revision: str, way: Mapping[str, Any]) -> Json:
        """A way out that was tried."""
        return self._change(revision, "way out",
                            lambda piece: changes.took(piece, way, self._orders.graph(piece)))

    def dismiss(self, revision: str, number: int) -> Json:
        """A photograph that could not be used is no longer told of."""
        return self._change(revision, "dismiss", lambda piece: changes.dismissed(piece, number))

    def stands(self, offered: str, revision: str) -> bool:
        """Whether what was offered for one revision can be taken on the other: the same prints in
        the same plan, with no step between.
        """
        return self._earlier.same_plan(offered, revision)

    def expect(self, revision: str) -> Piece:
        """The piece, where it is still that of this revision.

        Raises:
            PieceChangedError: another one lies there.
        """
        return self._expected(revision, None)

    def undo(self, revision: str) -> Json:
        """Take the last step back."""
        return self._made(revision, lambda piece: undo(self.folder, piece.revision))

    def redo(self, revision: str) -> Json:
        """Take the step taken back last again."""
        return self._made(revision, lambda piece: redo(self.folder, piece.revision))

    def _change(
        self, revision: str, step: str, edit: Callable[[Piece], Piece], stays: Stays | None = None
    ) -> Json:
        """Make a change on the piece of this revision and save it as the step ``step``.

        Raises:
            PieceChangedError: another piece lies there and what the change rests on does not stay
                as it was; nothing was changed.
            PieceInUseError, PieceError: as for :func:`sequencer.piece.save`.
        """
        return self._made(
            revision, lambda piece: save(edit(piece), self.folder, step, expecting=piece.revision),
            stays)

    def _made(
        self, revision: str, make: Callable[[Piece], object], stays: Stays | None = None
    ) -> Json:
        """What is made on the piece of this revision; made again where that went on meanwhile."""
        with self._lock:
            for _ in range(_TRIES):
                piece = self._expected(revision, stays)
                try:
                    make(piece)
                except PieceChangedError:
                    continue
                return self.document()
            raise PieceChangedError(_CHANGED)

    def _expected(self, revision: str, stays: Stays | None) -> Piece:
        piece = self.piece()
        same = (piece.revision or NEW) == revision
        if same or self._earlier.holds(revision, piece, stays):
            return self._shown(piece)
        raise PieceChangedError(_CHANGED)


def _stamp(path: Path) -> tuple[int, int, int] | None:
    """What tells one piece.json from the next, without reading it."""
    try:
        told = path.stat()
    except OSError:
        return None
    return told.st_mtime_ns, told.st_size, told.st_ino
