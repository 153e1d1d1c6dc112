"""The piece on the road: what the room that keeps it offers, and its documents.

::

    FOLDER/piece.json   prints, sequence, wishes, corrections, history (passalong.piece/2)
    FOLDER/photos/      the photographs; swatches/ readings/ plans/ history/: see sequencer/keeping
"""

from __future__ import annotations

from sequencer.keeping.converting import as_kept
from sequencer.keeping.folder import (
    PIECE_FILE,
    load,
    redo,
    revision,
    save,
    undo,
    writing,
)
from sequencer.keeping.record import SCHEMA
from sequencer.keeping.state import Correction, Find, KeptPhoto, Piece, Step, check_ids
from sequencer.models import Json

__all__ = [  # noqa: RUF022 - as they are used
    "Piece", "KeptPhoto", "Correction", "Find", "Step", "PIECE_FILE", "SCHEMA",
    "load", "save", "writing", "undo", "redo", "revision",
    "as_kept", "check_ids", "prints_json", "history_json",
]  # fmt: skip


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
