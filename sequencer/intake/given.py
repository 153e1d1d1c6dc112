"""Files as they were given, and the photos of the piece that they are or become."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sequencer.files import fingerprint, shown
from sequencer.keeping.disk.blobs import fingerprint_of
from sequencer.keeping.disk.naming import bases, gone_id, nth_id
from sequencer.keeping.originals import place_of
from sequencer.piece import PICTURES, KeptPhoto, Piece, load
from sequencer.reading.cameras import chosen
from sequencer.reading.photos import photo_files


@dataclass(frozen=True)
class Given:
    """One file as it was given: its content, how many given before it are the same, its place.

    ``name``: what to call it, where that is not the file's own name.
    """

    content: str
    before: int
    path: Path
    name: str = ""

    @property
    def called(self) -> str:
        """Its name, for people."""
        return shown(self.name or self.path.name)


def files_meant(folder: Path, photos: Sequence[Path]) -> list[Given]:
    """The files behind what was typed: files, folders, and names that photos have in the piece."""
    return _given([*_of_the_piece(folder, photos), *_files(folder, photos)])


def _files(folder: Path, photos: Sequence[Path]) -> list[Path]:
    """The photographs meant, less the pictures that this program itself laid into the folder."""
    new = [path for path in photos if path.exists() or _called(folder, path) is None]
    if not new and photos:
        return []
    own = {(folder / name).absolute() for name in PICTURES}
    return [path for path in photo_files(new) if path in new or path.absolute() not in own]


def _of_the_piece(folder: Path, photos: Sequence[Path]) -> list[Path]:
    """Photos that were not given as files but called by the name they have in the piece."""
    named = [_called(folder, path) for path in photos if not path.exists()]
    return [path for path in named if path is not None]


def _called(folder: Path, name: Path) -> Path | None:
    if not (folder / "piece.json").exists():
        return None
    found = [photo for photo in load(folder).photos if str(name) in (photo.name, photo.stem)]
    return place_of(found[0], folder) if len(found) == 1 else None


def _given(files: Sequence[Path]) -> list[Given]:
    """The files by content; the second of two equal ones is a photo of its own."""
    met: Counter[str] = Counter()
    given = []
    for path in files:
        try:
            content = fingerprint_of(path) if path.is_file() else ""
        except (OSError, ValueError):
            content = ""
        content = content or fingerprint(str(path).encode("utf-8", "surrogateescape"))
        given.append(Given(content, met[content], path))
        met[content] += 1
    return given


def with_photos(
    piece: Piece, given: Sequence[Given], wishes: Mapping[str, Any], copy: bool
) -> Piece:
    """The piece with these files among its photos, to be read by these wishes."""
    photos = {photo.id: photo for photo in piece.photos}
    cameras = dict(piece.cameras)
    for one in given:
        camera = chosen(one.path, str(wishes.get("camera") or "auto"), piece.cameras)
        mine = {**wishes, "camera": camera.name} if camera else dict(wishes)
        if camera:
            cameras[camera.name] = camera.to_json()
        known = _known(one, list(photos.values())) or _new(one, list(photos.values()))
        file = None if copy else str(one.path.absolute())
        photos[known.id] = replace(known, wishes=mine, file=known.file or file)
    return replace(
        piece, photos=tuple(photos.values()), read_wishes=dict(wishes), cameras=cameras
    )


def _known(one: Given, photos: Sequence[KeptPhoto]) -> KeptPhoto | None:
    """The photo of the piece that this file is: of its bytes, or one of its name that was lost
    before its bytes were known.
    """
    same = [photo for photo in photos if photo.content == one.content]
    if len(same) > one.before:
        return same[one.before]
    name = one.called
    lost = [photo for photo in photos
            if photo.name == name and photo.content == gone_id(photo.file or "")]
    return replace(lost[0], content=one.content, file=None) if len(lost) == 1 else None


def _new(one: Given, photos: Sequence[KeptPhoto]) -> KeptPhoto:
    taken = {photo.stem.casefold() for photo in photos}
    name = one.called
    stem = next(base for base in bases(Path(name).stem) if base.casefold() not in taken)
    return KeptPhoto(nth_id(one.content, one.before), one.content, name, stem)
