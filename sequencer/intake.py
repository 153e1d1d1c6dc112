"""Photographs into the piece: only what is new or changed is read, then all are brought together.

A change is a function from piece to piece. It is made on what lies there now, what it needs is
read without holding the folder, and only then, with the folder held, it is made again on what lies
there by then: what another program changed meanwhile (names, sizes, photos) is joined, not lost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from sequencer.agreeing import agreements_of
from sequencer.both_cores import Job, read_each
from sequencer.cameras import chosen
from sequencer.errors import PieceError
from sequencer.files import shown
from sequencer.keeping.blobs import fingerprint, fingerprint_of
from sequencer.keeping.naming import bases, gone_id, nth_id
from sequencer.keeping.originals import place_of
from sequencer.keeping.readings import key_of, reading_from
from sequencer.models import Print, Progress, Rejected
from sequencer.photo.agreement.agree import Agreement
from sequencer.photo.colour.taught import Camera
from sequencer.photo.finds.edits import Edit
from sequencer.photograph import ReadPhoto, Wishes
from sequencer.piece import PICTURES, Correction, KeptPhoto, Piece, Writer, as_kept, load, writing
from sequencer.places import Names, without_dropped
from sequencer.reading import moved, nothing_read, photo_files, wishes_from
from sequencer.settling import plan_without_ids, settled, without_ids

Change = Callable[[Piece], Piece]


@dataclass(frozen=True)
class _Given:
    """One file as it was given: its content, how many given before it are the same, its place."""

    content: str
    before: int
    path: Path


@dataclass
class _Read:
    """What is known of photos by key, and where the files of new ones lie, by content.

    ``strict``: a photo that the change is about and that cannot be used ends it.
    """

    sources: Mapping[str, Path] = field(default_factory=dict)
    strict: bool = False
    results: dict[str, ReadPhoto | Rejected] = field(default_factory=dict)

    def rejected(self) -> list[Rejected]:
        return [one for one in self.results.values() if isinstance(one, Rejected)]


def read_into(
    folder: Path,
    photos: Sequence[Path],
    wishes: Mapping[str, Any],
    progress: Progress | None = None,
    copy: bool = True,
    step: str = "read",
) -> Piece:
    """Read photographs into a new or existing piece folder and save it.

    Photos are told apart by content: one that is there already is read again only if ``wishes``
    ask for something else. Those read earlier stay as they are, moved or not; where photos share a
    print their colours are brought together anew. With ``copy`` the files are kept in the folder.

    Raises:
        UsageError: a wish cannot be understood.
        NothingReadError: not one of the photographs could be used; the folder is as it was.
        PieceInUseError, PieceError: the folder cannot be read or written.
    """
    wishes_from(wishes)
    given = _given([*_of_the_piece(folder, photos), *_files(folder, photos)])

    def asked(piece: Piece) -> Piece:
        return _with_photos(piece, given, wishes, copy)

    read = _Read({one.content: one.path for one in given})
    piece = changed(folder, step, asked, progress, read)
    if piece is None:
        raise nothing_read(read.rejected())
    return piece


def corrected(
    folder: Path, step: str, change: Change, progress: Progress | None = None
) -> Piece:
    """Make a change that may ask for photos to be read again; save it as the step ``step``.

    Raises:
        PieceError: a photo that is to be read again is gone or can no longer be used; the piece
            is as it was.
    """
    read = _Read(strict=True)
    piece = changed(folder, step, change, progress, read)
    if piece is None:
        raise PieceError("; ".join(f"{one.photo}: {one.why}" for one in read.rejected()))
    return piece


def changed(
    folder: Path, step: str, change: Change, progress: Progress | None, read: _Read
) -> Piece | None:
    """The loop: read what the change needs, then make it on what lies there by then."""
    here = load(folder) if (folder / "piece.json").exists() else Piece()
    _read_missing(change(here), here, folder, read, progress)
    if here.revision == "" and all(isinstance(one, Rejected) for one in read.results.values()):
        return None  # and no folder is made
    while True:
        with writing(folder, make=True) as writer:
            wanted = change(writer.piece)
            if not _missing(wanted, writer.piece, folder, read):
                joined = _joined(wanted, writer, read)
                return None if joined is None else writer.save(joined, step)
            here = writer.piece
        _read_missing(change(here), here, folder, read, progress)


# ── what is to be read ────────────────────────────────────────────────────────────────────


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


def _given(files: Sequence[Path]) -> list[_Given]:
    """The files by content; the second of two equal ones is a photo of its own."""
    met: Counter[str] = Counter()
    given = []
    for path in files:
        try:
            content = fingerprint_of(path) if path.is_file() else ""
        except (OSError, ValueError):
            content = ""
        content = content or fingerprint(str(path).encode("utf-8", "surrogateescape"))
        given.append(_Given(content, met[content], path))
        met[content] += 1
    return given


def _with_photos(
    piece: Piece, given: Sequence[_Given], wishes: Mapping[str, Any], copy: bool
) -> Piece:
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


def _known(one: _Given, photos: Sequence[KeptPhoto]) -> KeptPhoto | None:
    """The photo of the piece that this file is: of its bytes, or one of its name that was lost
    before its bytes were known.
    """
    same = [photo for photo in photos if photo.content == one.content]
    if len(same) > one.before:
        return same[one.before]
    name = shown(one.path.name)
    lost = [photo for photo in photos
            if photo.name == name and photo.content == gone_id(photo.file or "")]
    return replace(lost[0], content=one.content, file=None) if len(lost) == 1 else None


def _new(one: _Given, photos: Sequence[KeptPhoto]) -> KeptPhoto:
    taken = {photo.stem.casefold() for photo in photos}
    name = shown(one.path.name)
    stem = next(base for base in bases(Path(name).stem) if base.casefold() not in taken)
    return KeptPhoto(nth_id(one.content, one.before), one.content, name, stem)


def _wishes(photo: KeptPhoto, piece: Piece) -> Wishes:
    """All that decides what the photo gives, besides its content."""
    mine = tuple(
        _edit(one, photo) for one in piece.corrections
        if one.photo == photo.id and one.op in ("merge", "split", "redraw", "add")
    )
    camera = piece.cameras.get(str(photo.wishes.get("camera") or ""))
    taught = None if camera is None else Camera.from_json(camera)
    return wishes_from(photo.wishes, mine, camera=taught)


def _edit(one: Correction, photo: KeptPhoto) -> Edit:
    op = "redraw" if one.op == "add" else one.op
    return Edit(op, photo.name, tuple(find.outline for find in one.finds), one.line)


def _key(photo: KeptPhoto, piece: Piece) -> str:
    return key_of(photo.content, _wishes(photo, piece))


def _missing(piece: Piece, now: Piece, folder: Path, read: _Read) -> dict[str, KeptPhoto]:
    """Photos, by key, that are new or wished otherwise than ``now`` and not yet read so.

    What was read earlier is taken from the folder on the way.
    """
    before = {photo.id: _key(photo, now) for photo in now.photos}
    missing = {}
    for photo in piece.photos:
        key = _key(photo, piece)
        if key in read.results:
            continue
        if photo.reading is not None:
            path = folder / "readings" / f"{photo.reading}.json"
            kept = reading_from(path, key, ReadPhoto, folder / "swatches")
            if kept is not None:
                read.results[key] = kept
                continue
        if before.get(photo.id) != key:
            missing[key] = photo
    return missing


def _read_missing(
    piece: Piece, now: Piece, folder: Path, read: _Read, progress: Progress | None
) -> None:
    jobs: dict[str, Job] = {}
    for key, photo in _missing(piece, now, folder, read).items():
        path = read.sources.get(photo.content) or place_of(photo, folder)
        if path is None:
            read.results[key] = Rejected(photo.name, _gone(photo))
        else:
            jobs[key] = Job(path, _wishes(photo, piece), photo.name)
    if jobs:
        for key, result in zip(jobs, read_each(list(jobs.values()), progress), strict=True):
            read.results[key] = result


def _gone(photo: KeptPhoto) -> str:
    where = photo.file or "the piece folder"
    return (
        f"the photograph is no longer there, or is another by now ({where}); what was read "
        "from it stays. To read it anew, read the file from where it lies today"
    )


# ── bringing it together ──────────────────────────────────────────────────────────────────


def _joined(wanted: Piece, writer: Writer, read: _Read) -> Piece | None:
    """The piece with what was read in it; None where nothing of what was asked could be used."""
    now = writer.piece
    before = {photo.id: photo for photo in now.photos}
    photos: list[KeptPhoto] = []
    readings: list[ReadPhoto | None] = []
    refused: list[Rejected] = []
    asked = 0
    for photo in wanted.photos:
        old, key = before.get(photo.id), _key(photo, wanted)
        result = read.results.get(key)
        touched = old is None or _key(old, now) != key
        asked += touched
        if isinstance(result, Rejected):
            refused.append(result)
            if old is None:
                continue
            photo, result = old, None
        photos.append(_kept(photo, result, key, writer, read))
        readings.append(result)
    if refused and (read.strict or len(refused) >= asked):
        return None
    wanted = replace(wanted, photos=tuple(photos))
    return _assembled(wanted, writer, readings, refused)


def _kept(
    photo: KeptPhoto, result: ReadPhoto | None, key: str, writer: Writer, read: _Read
) -> KeptPhoto:
    """The photo with its file and what it gave in the folder."""
    source = read.sources.get(photo.content)
    if photo.file is None and source is not None:
        photo = replace(photo, file=writer.keep_photo(source, photo.content))
    if result is None:
        return photo
    reading, swatches = writer.keep_reading(key, result)
    return replace(photo, found=result.found, reading=reading, swatches=swatches)


def _assembled(
    piece: Piece, writer: Writer, readings: Sequence[ReadPhoto | None], refused: Sequence[Rejected]
) -> Piece:
    """All photos' prints, agreed anew, with the ids they had."""
    now = writer.piece
    old = {photo.id: [one for one in now.prints if one.photo_id == photo.id]
           for photo in piece.photos}
    taken = Names.of(now)
    photos, prints = [], []
    agreements, ties = agreements_of(piece.photos, readings, old, piece.corrections, writer)
    for photo, reading, agreement in zip(piece.photos, readings, agreements, strict=True):
        found = old[photo.id]
        if reading is not None:
            made = _made(photo, reading, agreement)
            found = taken.named(photo.stem, made, old[photo.id], reading.prints[0][0] > 0)
        photos.append(photo)
        prints += without_dropped(found, piece.corrections)
    fresh = replace(
        piece,
        photos=tuple(photos),
        prints=tuple(prints),
        ties=ties,
        rejected=(*refused, *_still_rejected(now, refused, photos)),
    )
    return _without_stale(settled(fresh), now)


def _made(photo: KeptPhoto, reading: ReadPhoto, agreement: Agreement) -> list[Print]:
    """A photo's prints in the common standard."""
    return [
        replace(as_kept(moved(one, agreement)),
                photo=photo.name, photo_id=photo.id, number=number or 1)
        for number, one in reading.prints
    ]


def _still_rejected(
    now: Piece, refused: Sequence[Rejected], photos: Sequence[KeptPhoto]
) -> list[Rejected]:
    """Photos that were rejected before and have not been read since."""
    done = {one.photo for one in refused} | {photo.name for photo in photos}
    return [one for one in now.rejected if one.photo not in done]


def _without_stale(piece: Piece, now: Piece) -> Piece:
    """Sequence and plan go where the prints they were made of are others by now."""
    if [_looks(one) for one in piece.prints] == [_looks(one) for one in now.prints]:
        return piece
    there = {one.id for one in piece.prints}
    gone = {one.id for one in now.prints} - there
    return replace(
        piece,
        sequence=None,
        plan=None,
        order_wishes=without_ids(piece.order_wishes, gone),
        plan_wishes=plan_without_ids(piece.plan_wishes, gone),
    )


def _looks(one: Print) -> tuple[object, ...]:
    return one.id, one.mean_lab, one.palette, one.spread, one.size_in, one.usable_in, one.scraps
