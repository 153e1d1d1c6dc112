"""Photographs into the piece: only what is new or changed is read, then all are brought together.

A change is a function from piece to piece. It is made on what lies there now, what it needs is
read without holding the folder, and only then, with the folder held, it is made again on what lies
there by then: what another program changed meanwhile (names, sizes, photos) is joined, not lost.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sequencer.errors import PieceError
from sequencer.intake.given import files_meant, with_photos
from sequencer.intake.joining import joined
from sequencer.intake.needed import Read, missing, read_missing
from sequencer.models import Progress, Rejected
from sequencer.piece import Growing, Piece, load, writing
from sequencer.reading.both_cores import Told
from sequencer.reading.photos import nothing_read, wishes_from

Change = Callable[[Piece], Piece]


def read_into(
    folder: Path,
    photos: Sequence[Path],
    wishes: Mapping[str, Any],
    progress: Progress | None = None,
    copy: bool = True,
    step: str | Growing = "read",
    told: Told | None = None,
    names: Mapping[Path, str] | None = None,
) -> Piece:
    """Read photographs into a new or existing piece folder and save it.

    Photos are told apart by content: one that is there already is read again only if ``wishes``
    ask for something else. Those read earlier stay as they are, moved or not; where photos share a
    print their colours are brought together anew. With ``copy`` the files are kept in the folder.
    ``told`` is called with each photo's name and what it gave as soon as that is known. ``names``:
    what files are called that lie there under another name.

    Raises:
        UsageError: a wish cannot be understood.
        NothingReadError: not one of the photographs could be used; the folder is as it was.
        PieceInUseError, PieceError: the folder cannot be read or written.
    """
    wishes_from(wishes)
    given = files_meant(folder, photos)
    if names:
        given = [replace(one, name=names.get(one.path, "")) for one in given]

    def asked(piece: Piece) -> Piece:
        return with_photos(piece, given, wishes, copy)

    read = Read({one.content: one.path for one in given}, told=told)
    piece = changed(folder, step, asked, progress, read)
    if piece is None:
        raise nothing_read(read.rejected())
    return piece


def corrected(
    folder: Path,
    step: str,
    change: Change,
    progress: Progress | None = None,
    told: Told | None = None,
) -> Piece:
    """Make a change that may ask for photos to be read again; save it as the step ``step``.

    Raises:
        PieceError: a photo that is to be read again is gone or can no longer be used; the piece
            is as it was.
    """
    read = Read(strict=True, told=told)
    piece = changed(folder, step, change, progress, read)
    if piece is None:
        raise PieceError("; ".join(f"{one.photo}: {one.why}" for one in read.rejected()))
    return piece


def changed(
    folder: Path, step: str | Growing, change: Change, progress: Progress | None, read: Read
) -> Piece | None:
    """The loop: read what the change needs, then make it on what lies there by then."""
    here = load(folder) if (folder / "piece.json").exists() else Piece()
    read_missing(change(here), here, folder, read, progress)
    if here.revision == "" and all(isinstance(one, Rejected) for one in read.results.values()):
        return None  # and no folder is made
    while True:
        with writing(folder, make=True) as writer:
            wanted = change(writer.piece)
            if not missing(wanted, writer.piece, folder, read):
                whole = joined(wanted, writer, read)
                return None if whole is None else writer.save(whole, step)
            here = writer.piece
        read_missing(change(here), here, folder, read, progress)
