"""The piece on the road: what the room that keeps it offers, and its documents.

::

    FOLDER/piece.json   prints, sequence, wishes, corrections, history (passalong.piece/2)
    FOLDER/photos/      the photographs; swatches/ readings/ plans/ history/: see sequencer/keeping
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from sequencer.errors import PieceChangedError
from sequencer.keeping.converting import as_kept
from sequencer.keeping.folder import (
    Writer,
    change,
    load,
    redo,
    revision,
    save,
    undo,
    writing,
)
from sequencer.keeping.loading import PIECE_FILE
from sequencer.keeping.record import SCHEMA
from sequencer.keeping.state import (
    Correction,
    Find,
    Growing,
    KeptPhoto,
    Outline,
    Piece,
    Step,
    check_ids,
)
from sequencer.models import Json, Print, Sequence

__all__ = [  # noqa: RUF022 - as they are used
    "Piece", "KeptPhoto", "Correction", "Find", "Outline", "Step", "Growing", "Writer",
    "PICTURES", "PIECE_FILE", "SCHEMA", "load", "save", "change", "worked", "laid_beside",
    "writing", "undo", "redo", "revision", "as_kept", "check_ids", "prints_json", "history_json",
]  # fmt: skip


Result = TypeVar("Result")
PICTURES = ("sequence.png", "preview.png", "preview-value.png", "scale.png")
"""Pictures that are laid into the folder: none of them is a photograph."""
_TRIES = 4


def worked(
    folder: Path, step: str | Growing, work: Callable[[Piece], tuple[Piece, Result]]
) -> tuple[Piece, Result]:
    """Do long work on the piece without holding the folder, and save it as the step ``step``.

    What others changed meanwhile stays: if the work does not rest on it, it is joined, else the
    work is done again on what lies there now. Returns the piece as saved and the work's result.

    Raises:
        PieceChangedError: it was changed again and again.
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    piece = load(folder)
    for _ in range(_TRIES):
        done, result = work(piece)
        with writing(folder) as writer:
            now = writer.piece
            if _rests_on(now) == _rests_on(piece):
                joined = replace(
                    now,
                    sequence=done.sequence,
                    order_wishes=done.order_wishes,
                    plan=done.plan,
                    plan_wishes=done.plan_wishes,
                    sewn=done.sewn,
                )
                return writer.save(joined, step), result
        piece = now
    raise PieceChangedError(
        f"{folder} is being changed by another program all the time; nothing was saved. Try again "
        "when that is done."
    )


def laid_beside(folder: Path, piece: Piece, found: Sequence) -> bool:
    """Keep ``found``, the sequence of ``piece`` worked out further; no step. False, and nothing is
    saved, where by now another sequence lies there, or other prints.

    Raises:
        PieceInUseError, PieceError: as for :func:`save` and :func:`load`.
    """
    with writing(folder) as writer:
        now = writer.piece
        if (now.sequence, _looks(now)) != (piece.sequence, _looks(piece)):
            return False
        writer.save(replace(now, sequence=found), None)
        return True


def _looks(piece: Piece) -> list[Print]:
    """The prints without what is only said of them."""
    return [replace(one, name="", warnings=()) for one in piece.prints]


def _rests_on(piece: Piece) -> tuple[object, ...]:
    """What sequence and plan are made of: everything but names and remarks."""
    return (_looks(piece), piece.sequence, piece.order_wishes, piece.plan, piece.plan_wishes,
            piece.sewn)  # fmt: skip


def prints_json(piece: Piece) -> Json:
    """Document ``passalong.prints/1``."""
    return {
        "schema": "passalong.prints/1",
        "prints": [one.to_json() for one in piece.prints],
        "rejected": [one.to_json() for one in piece.rejected],
    }


def history_json(piece: Piece) -> Json:
    """Document ``passalong.history/1``: the steps in their order; those taken back come last."""
    done = [{"step": one.name, "at": one.at, "done": True} for one in piece.past]
    taken_back = [{"step": one.name, "at": one.at, "done": False} for one in piece.future[::-1]]
    return {"schema": "passalong.history/1", "steps": done + taken_back}
