"""Everything of a piece as one zip: its folder, without what photographs tell of places and times,
its sheets and its pictures. Whoever opens it has the piece as it is now, without the way to it.
"""

from __future__ import annotations

import re
import tempfile
import unicodedata
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path, PurePath

from sequencer.errors import PhotoError
from sequencer.files import fingerprint
from sequencer.keeping.originals import place_of
from sequencer.models import Progress
from sequencer.opened.changes import pictured
from sequencer.photo.files.bare import bare
from sequencer.piece import Correction, Find, KeptPhoto, Piece, load, writing
from sequencer.planning import planned
from sequencer.written import write_preview, write_sequence_picture, write_sheets

_PACKED = frozenset({".png", ".jpg", ".webp", ".pdf", ".state"})
"""Endings of what is packed already."""
_DATE = (2000, 1, 1, 0, 0, 0)
"""A zip tells no time: the same piece gives the same zip."""


def write_bundle(
    folder: Path, out: Path, name: str, paper: str, units: str | None, progress: Progress
) -> None:
    """Write the zip to ``out``; what is in it lies in a folder called ``name``.

    Raises:
        PieceError: the piece cannot be read.
        SheetError: a sheet or picture cannot be made.
        OSError: the disk is full.
    """
    piece = load(folder)
    with tempfile.TemporaryDirectory(prefix="passalong-") as place:
        inside = Path(place) / (name or "piece")
        progress(0, 4, "taking the photographs' places out")
        told = stripped(piece, folder, inside)
        if told.plan is None:
            told = pictured(told)
        if told.plan is not None:
            _write_results(told, inside, paper, units, progress)
        progress(3, 4, "packing")
        _zip(inside, out, name)
    progress(4, 4, "done")


def _write_results(
    piece: Piece, inside: Path, paper: str, units: str | None, progress: Progress
) -> None:
    progress(1, 4, "drawing the pictures")
    piece, plan = planned(piece)
    write_preview(piece, plan, inside / "preview.png")
    write_preview(piece, plan, inside / "preview-value.png", view="value")
    write_sequence_picture(piece, inside / "sequence.png")
    progress(2, 4, "laying out the sheets")
    write_sheets(piece, plan, inside / "sheets.pdf", paper=paper, units=units, folder=inside)


def stripped(piece: Piece, folder: Path, inside: Path) -> Piece:
    """The piece saved anew in a folder of its own, its photographs bare and called as she knows
    them; returns it as saved.

    A photograph that cannot be taken apart, or is gone, is left out; what it gave stays.
    """
    taken: set[str] = set()
    with writing(inside, make=True) as writer:
        photos = {photo.id: _without_more(photo, folder, inside, taken) for photo in piece.photos}
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


def _without_more(photo: KeptPhoto, folder: Path, inside: Path, taken: set[str]) -> KeptPhoto:
    left = replace(photo, file=None, reading=None, swatches=())
    source = place_of(photo, folder)
    if source is None:
        return left
    try:
        data, ending = bare(source)
    except PhotoError:
        return left
    content = fingerprint(data)
    place = inside / "photos" / safe_name(photo.name, ending, taken)
    place.parent.mkdir(exist_ok=True)
    place.write_bytes(data)
    return replace(left, id=content, content=content, file=f"photos/{place.name}")


_UNSAFE = re.compile(r"[\x00-\x1f\x7f<>:\"/\\|?*]")
"""What a file may not be called on one system or another."""
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def safe_name(name: str, ending: str, taken: set[str]) -> str:
    """A name of hers as one that every system can write, unlike those ``taken``, which it joins."""
    stem = unicodedata.normalize("NFC", PurePath(name).stem)
    stem = "".join(one for one in stem if unicodedata.category(one) not in ("Cc", "Cf", "Cs"))
    stem = _UNSAFE.sub("-", stem).strip(" .-").encode()[:120].decode(errors="ignore") or "photo"
    stem = f"photo {stem}" if _DEVICES.fullmatch(stem) else stem
    number, free = 1, stem
    while f"{free}{ending}".casefold() in taken:
        number += 1
        free = f"{stem} ({number})"
    taken.add(f"{free}{ending}".casefold())
    return f"{free}{ending}"


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
