"""What the maker knows better, done to a piece folder: each one step, read anew where needed.

What may be refused, and why, is told where the steps are made: ``set_right``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from sequencer.intake import corrected
from sequencer.models import Progress
from sequencer.piece import Outline, Piece, change
from sequencer.set_right import (
    added,
    alike,
    dropped,
    merged,
    parted,
    redrawn,
    renamed,
    resized,
    unsized,
)


def rename(folder: Path, names: Mapping[str, str]) -> Piece:
    """Give prints names; an unknown print changes nothing."""
    step = "name " + ", ".join(names.values())
    return change(folder, step, lambda piece: renamed(piece, names))


def resize(folder: Path, sizes: Mapping[str, str]) -> Piece:
    """Set the scraps of prints."""
    step = "size " + ", ".join(sizes)
    return change(folder, step, lambda piece: resized(piece, sizes))


def unsize(folder: Path, ids: Sequence[str], progress: Progress | None = None) -> Piece:
    """Forget typed sizes: what was measured in the photo is laid there again."""
    step = "measured size " + ", ".join(ids)
    return corrected(folder, step, lambda piece: unsized(piece, ids), progress)


def drop(folder: Path, ids: Sequence[str]) -> Piece:
    """Take prints out."""
    return change(folder, "drop " + ", ".join(ids), lambda piece: dropped(piece, ids))


def say_alike(
    folder: Path, ids: Sequence[str], same: bool, progress: Progress | None = None
) -> Piece:
    """Finds are one print, or are none; the photos' colours are brought together anew."""
    step = ("same " if same else "different ") + ", ".join(ids)
    return corrected(folder, step, lambda piece: alike(piece, ids, same), progress)


def merge(folder: Path, ids: Sequence[str], progress: Progress | None = None) -> Piece:
    """Several finds are one scrap."""
    step = "merge " + ", ".join(ids)
    return corrected(folder, step, lambda piece: merged(piece, ids), progress)


def split(folder: Path, id_: str, line: Outline, progress: Progress | None = None) -> Piece:
    """One find is two scraps."""
    return corrected(folder, f"split {id_}", lambda piece: parted(piece, id_, line), progress)


def redraw(folder: Path, id_: str, outline: Outline, progress: Progress | None = None) -> Piece:
    """A scrap's outline, drawn anew."""
    return corrected(folder, f"redraw {id_}", lambda piece: redrawn(piece, id_, outline), progress)


def add(folder: Path, photo: str, outline: Outline, progress: Progress | None = None) -> Piece:
    """A scrap that was missed."""
    step = f"add to {photo}"
    return corrected(folder, step, lambda piece: added(piece, photo, outline), progress)
