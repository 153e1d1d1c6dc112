"""What a change needs read: photos that are new, or wished otherwise than they were read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sequencer.intake.agreeing import compare_ahead
from sequencer.keeping.disk.blobs import holds
from sequencer.keeping.disk.readings import key_of, reading_from
from sequencer.keeping.originals import place_of
from sequencer.models import Progress, Rejected
from sequencer.photo.colour.taught import Camera
from sequencer.photo.finds.edits import Edit
from sequencer.piece import Correction, KeptPhoto, Piece
from sequencer.reading.both_cores import Job, Told, read_each
from sequencer.reading.photograph import ReadPhoto, look_before
from sequencer.reading.photos import wishes_from
from sequencer.reading.seen import Wishes


@dataclass
class Read:
    """What is known of photos by key, and where the files of new ones lie, by content.

    ``strict``: a photo that the change is about and that cannot be used ends it. ``told``: called
    with each photo's name and what it gave, long before all is brought together.
    """

    sources: Mapping[str, Path] = field(default_factory=dict)
    strict: bool = False
    told: Told | None = None
    results: dict[str, ReadPhoto | Rejected] = field(default_factory=dict)

    def rejected(self) -> list[Rejected]:
        """The photos among them that could not be used."""
        return [one for one in self.results.values() if isinstance(one, Rejected)]


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


def key_of_photo(photo: KeptPhoto, piece: Piece) -> str:
    """What the photo's reading is kept by: its content and all it is read by."""
    return key_of(photo.content, _wishes(photo, piece))


def missing(piece: Piece, now: Piece, folder: Path, read: Read) -> dict[str, KeptPhoto]:
    """Photos, by key, that are new or wished otherwise than ``now`` and not yet read so.

    What was read earlier is taken from the folder on the way. A photo given as a file is read again
    also where what it gave is gone or damaged.
    """
    before = {photo.id: key_of_photo(photo, now) for photo in now.photos}
    needed = {}
    for photo in piece.photos:
        key = key_of_photo(photo, piece)
        if key in read.results:
            continue
        if photo.reading is not None:
            path = folder / "readings" / f"{photo.reading}.json"
            kept = reading_from(path, key, ReadPhoto, folder / "swatches")
            asked = photo.content in read.sources
            if kept is not None and not (asked and _spoiled(photo, folder)):
                read.results[key] = kept
                continue
            if asked:
                needed[key] = photo
        if before.get(photo.id) != key:
            needed[key] = photo
    return needed


def _spoiled(photo: KeptPhoto, folder: Path) -> bool:
    """Whether one of the photo's swatches is gone or another than was kept."""
    return not all(holds(folder / "swatches" / f"{name}.png", name) for name in photo.swatches)


def read_missing(
    piece: Piece, now: Piece, folder: Path, read: Read, progress: Progress | None
) -> None:
    """Read what is missing; a photo that cannot be used becomes a rejection."""
    jobs: dict[str, Job] = {}
    for key, photo in missing(piece, now, folder, read).items():
        path = read.sources.get(photo.content) or place_of(photo, folder)
        if path is None:
            read.results[key] = Rejected(photo.name, _gone(photo))
        else:
            jobs[key] = Job(path, _wishes(photo, piece), photo.name)
    if jobs:
        results = read_each(list(jobs.values()), progress, read.told)
        for key, result in zip(jobs, results, strict=True):
            read.results[key] = result


def look_ahead(piece: Piece, folder: Path, id_: str, say: Progress) -> None:
    """Have the photo of this id looked at, and its cloth compared, before a correction of it asks
    for that.
    """
    which = next((k for k, one in enumerate(piece.photos) if one.id == id_), None)
    path = None if which is None else place_of(piece.photos[which], folder)
    if which is None or path is None:
        return
    photo = piece.photos[which]
    look_before(path, _wishes(photo, piece), photo.name)
    read = Read()
    missing(piece, piece, folder, read)
    old = {one.id: [two for two in piece.prints if two.photo_id == one.id] for one in piece.photos}
    readings = [_reading(read.results.get(key_of_photo(one, piece))) for one in piece.photos]
    compare_ahead(piece.photos, readings, old, which, say)


def _reading(found: ReadPhoto | Rejected | None) -> ReadPhoto | None:
    return found if isinstance(found, ReadPhoto) else None


def _gone(photo: KeptPhoto) -> str:
    where = photo.file or "the piece folder"
    return (
        f"the photograph is no longer there, or is another by now ({where}); what was read "
        "from it stays. To read it anew, read the file from where it lies today"
    )
