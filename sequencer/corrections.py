"""What the maker knows better: names, sizes, and scraps that were found wrongly.

Each correction is kept in the piece, so that it survives when the photographs are read again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from sequencer.errors import PieceError
from sequencer.inches import parse_size
from sequencer.models import Print, Progress
from sequencer.piece import Correction, Find, Piece, check_ids, load, save

Point = tuple[float, float]


def rename(folder: Path, names: Mapping[str, str]) -> Piece:
    """Give prints names; an unknown id changes nothing."""
    piece = load(folder)
    check_ids(list(names), [one.id for one in piece.prints])
    named = settled(replace(piece, names={**piece.names, **names}))
    return save(named, folder, "name " + ", ".join(names.values()))


def resize(folder: Path, sizes: Mapping[str, str]) -> Piece:
    """Set the scraps of prints: ``9 1/2x3`` or ``20x8cm``, several with commas between.

    Raises:
        UsageError: a size cannot be read.
        PieceError: an unknown id.
    """
    piece = load(folder)
    check_ids(list(sizes), [one.id for one in piece.prints])
    read = {
        id_: [[str(side) for side in parse_size(one)] for one in text.split(",")]
        for id_, text in sizes.items()
    }
    sized = settled(replace(piece, sizes={**piece.sizes, **read}, plan=None))
    return save(sized, folder, "size " + ", ".join(sizes))


def drop(folder: Path, ids: Iterable[str]) -> Piece:
    """Take prints out for good; wishes about them go too."""
    piece, gone = load(folder), set(ids)
    check_ids(sorted(gone), [one.id for one in piece.prints])
    edits = [_edit("drop", piece, [id_]) for id_ in sorted(gone)]
    left = replace(
        piece,
        prints=tuple(one for one in piece.prints if one.id not in gone),
        corrections=(*piece.corrections, *edits),
        sequence=None,
        plan=None,
        order_wishes=_without(piece.order_wishes, gone),
    )
    return save(left, folder, "drop " + ", ".join(sorted(gone)))


def merge(folder: Path, ids: list[str], progress: Progress | None = None) -> Piece:
    """Several finds of one photo are one scrap."""
    piece = load(folder)
    check_ids(ids, [one.id for one in piece.prints])
    if len(set(ids)) < 2:
        raise PieceError("to merge takes at least two prints.")
    photos = {piece.print_of(id_).photo for id_ in ids}
    if len(photos) > 1:
        raise PieceError(f"these lie in different photos ({', '.join(sorted(photos))}).")
    return _reread(piece, _edit("merge", piece, ids), folder, progress)


def split(
    folder: Path, id_: str, line: tuple[Point, Point], progress: Progress | None = None
) -> Piece:
    """One find is two scraps, parted along a straight line in photo pixels."""
    piece = load(folder)
    check_ids([id_], [one.id for one in piece.prints])
    return _reread(piece, replace(_edit("split", piece, [id_]), line=line), folder, progress)


def redraw(
    folder: Path, id_: str, outline: list[Point], progress: Progress | None = None
) -> Piece:
    """A scrap's outline, drawn anew in photo pixels."""
    piece = load(folder)
    check_ids([id_], [one.id for one in piece.prints])
    edit = replace(_edit("redraw", piece, [id_]), line=tuple(outline))
    return _reread(piece, edit, folder, progress)


def settled(piece: Piece) -> Piece:
    """The piece with the maker's names and sizes laid over what was read."""
    prints = (
        replace(one, name=piece.names.get(one.id, one.name)) for one in piece.prints
    )
    return replace(piece, prints=tuple(
        _sized(one, piece.sizes[one.id]) if one.id in piece.sizes else one for one in prints
    ))


def _sized(one: Print, sizes: Any) -> Print:
    scraps = tuple((Fraction(length), Fraction(width)) for length, width in sizes)
    largest = max(scraps, key=lambda scrap: scrap[0] * scrap[1])
    return replace(one, scraps=scraps, size_in=(float(max(largest)), float(min(largest))))


def _edit(op: str, piece: Piece, ids: list[str]) -> Correction:
    prints = [piece.print_of(id_) for id_ in ids]
    finds = tuple(Find(one.photo_id, one.outline) for one in prints)
    return Correction(op, finds[0].photo, finds)


def _reread(
    piece: Piece, edit: Correction, folder: Path, progress: Progress | None
) -> Piece:
    from sequencer.make import read_again

    missing = [photo.name for photo in piece.photos if not Path(photo.file or "").exists()]
    if missing:
        raise PieceError(f"the photograph is no longer there: {', '.join(missing)}.")
    changed = replace(piece, corrections=(*piece.corrections, edit))
    return read_again(changed, folder, edit.op, progress)


def _without(wishes: Mapping[str, Any], gone: set[str]) -> dict[str, Any]:
    """Order wishes that no longer speak of ``gone``."""
    kept = {key: value for key, value in wishes.items()
            if key not in ("first", "last") or value not in gone}
    for key in ("include", "exclude"):
        if key in kept:
            kept[key] = [id_ for id_ in kept[key] if id_ not in gone]
    for key in ("together", "apart", "before"):
        if key in kept:
            kept[key] = [pair for pair in kept[key] if not gone & set(pair)]
    return kept
