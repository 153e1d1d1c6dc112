"""What was read, brought together with what lies in the folder by now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sequencer.intake.agreeing import agreements_of
from sequencer.intake.needed import Read, key_of_photo
from sequencer.intake.places import Names, without_dropped
from sequencer.intake.settling import plan_without_ids, settled, without_ids
from sequencer.models import Print, Rejected
from sequencer.photo.agreement.agree import Agreement
from sequencer.piece import KeptPhoto, Piece, Writer, as_kept
from sequencer.reading.photograph import ReadPhoto
from sequencer.reading.photos import moved


def joined(wanted: Piece, writer: Writer, read: Read) -> Piece | None:
    """The piece with what was read in it; None where nothing of what was asked could be used."""
    now = writer.piece
    before = {photo.id: photo for photo in now.photos}
    photos: list[KeptPhoto] = []
    readings: list[ReadPhoto | None] = []
    refused: list[Rejected] = []
    asked = 0
    for photo in wanted.photos:
        old, key = before.get(photo.id), key_of_photo(photo, wanted)
        result = read.results.get(key)
        touched = isinstance(result, Rejected) or old is None or key_of_photo(old, now) != key
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
    photo: KeptPhoto, result: ReadPhoto | None, key: str, writer: Writer, read: Read
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
