"""Everything of a piece as one zip: its folder, without what photographs tell of places and times,
its sheets and its pictures. Whoever opens it has the piece as it is now, without the way to it.
"""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from sequencer.errors import PhotoError
from sequencer.files import fingerprint
from sequencer.keeping.originals import place_of
from sequencer.make import planned, write_preview, write_sequence_picture, write_sheets
from sequencer.models import Progress
from sequencer.opened.changes import pictured
from sequencer.photo.files.bare import bare
from sequencer.piece import Correction, Find, KeptPhoto, Piece, Writer, load, writing

_PACKED = frozenset({".png", ".jpg", ".webp", ".pdf", ".state"})
"""Endings of what is packed already."""
_DATE = (2000, 1, 1, 0, 0, 0)
"""A zip tells no time: the same piece gives the same zip."""


def write_bundle(
    folder: Path, out: Path, name: str, title: str | None, paper: str, units: str | None,
    progress: Progress,
) -> None:
    """Write the zip to ``out``; what is in it lies in a folder called ``name``, and its sheets are
    called ``title``.

    Raises:
        PieceError: the piece cannot be read.
        SheetError: a sheet or picture cannot be made.
        OSError: the disk is full.
    """
    piece = load(folder)
    with tempfile.TemporaryDirectory(prefix="passalong-") as place:
        inside = Path(place) / "piece"
        progress(0, 4, "taking the photographs' places out")
        told = stripped(piece, folder, inside)
        if told.plan is None:
            told = pictured(told)
        if told.plan is not None:
            _write_results(told, inside, title, paper, units, progress)
        progress(3, 4, "packing")
        _zip(inside, out, name)
    progress(4, 4, "done")


def _write_results(
    piece: Piece, inside: Path, title: str | None, paper: str, units: str | None,
    progress: Progress,
) -> None:
    progress(1, 4, "drawing the pictures")
    piece, plan = planned(piece)
    write_preview(piece, plan, inside / "preview.png")
    write_preview(piece, plan, inside / "preview-value.png", view="value")
    write_sequence_picture(piece, inside / "sequence.png")
    progress(2, 4, "laying out the sheets")
    write_sheets(piece, plan, inside / "sheets.pdf", paper=paper, units=units, folder=inside,
                 title=title)


def stripped(piece: Piece, folder: Path, inside: Path) -> Piece:
    """The piece saved anew in a folder of its own, its photographs bare; returns it as saved.

    A photograph that cannot be taken apart, or is gone, is left out; what it gave stays.
    """
    with writing(inside, make=True) as writer:
        photos = {photo.id: _without_more(photo, folder, inside, writer) for photo in piece.photos}
        ids = {old: photo.id for old, photo in photos.items()}
        fresh = replace(
            piece,
            photos=tuple(photos.values()),
            prints=tuple(replace(one, photo_id=ids.get(one.photo_id, one.photo_id))
                         for one in piece.prints),
            corrections=tuple(_moved(one, ids.__getitem__) for one in piece.corrections),
            ties=None, past=(), future=(),
        )  # fmt: skip
        return writer.save(fresh, "zip")


def _without_more(photo: KeptPhoto, folder: Path, inside: Path, writer: Writer) -> KeptPhoto:
    left = replace(photo, file=None, reading=None, swatches=())
    source = place_of(photo, folder)
    if source is None:
        return left
    try:
        data, ending = bare(source)
    except PhotoError:
        return left
    content = fingerprint(data)
    place = inside.parent / f"photo{ending}"
    place.write_bytes(data)
    file = writer.keep_photo(place, content)
    place.unlink()
    return replace(left, id=content, content=content, file=file)


def _moved(one: Correction, id_of: Callable[[str], str]) -> Correction:
    finds = tuple(Find(id_of(find.photo), find.outline) for find in one.finds)
    return replace(one, photo=one.photo and id_of(one.photo), finds=finds)


def _zip(inside: Path, out: Path, name: str) -> None:
    with zipfile.ZipFile(out, "w") as packed:
        for path in sorted(one for one in inside.rglob("*") if one.is_file()):
            if path.name.startswith("."):
                continue
            entry = zipfile.ZipInfo(f"{name}/{path.relative_to(inside).as_posix()}", _DATE)
            entry.external_attr = 0o644 << 16
            entry.compress_type = (
                zipfile.ZIP_STORED if path.suffix in _PACKED else zipfile.ZIP_DEFLATED)
            packed.writestr(entry, path.read_bytes())
