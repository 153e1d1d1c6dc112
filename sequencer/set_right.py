"""What the maker knows better: names, sizes, and scraps that were found wrongly.

Each function is a step from piece to piece and touches no file; ``corrections`` does them to a
folder. Corrections of finds name them by outline, so that they survive a new reading.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from sequencer.errors import PieceError, UsageError
from sequencer.inches import parse_size, with_units
from sequencer.intake.places import ALIKE, overlap, smaller_part, where
from sequencer.intake.settling import plan_without_ids, settled, without_ids
from sequencer.models import Print
from sequencer.photo.shapes.shape import area
from sequencer.piece import Correction, Find, KeptPhoto, Outline, Piece

_LEAST_PART = 0.01
_LARGEST_IN = 1000
_LEAST_AREA = 100.0


def renamed(piece: Piece, names: Mapping[str, str]) -> Piece:
    """Prints with names of the maker's own, each unlike every other name and id.

    Raises:
        PieceError: an unknown print, or a name that another has.
        UsageError: a name that could not be typed or shown.
    """
    given = {piece.id_of(key): _name(text) for key, text in names.items()}
    called = {one.id.casefold(): one.id for one in piece.prints}
    called |= {one.name.casefold(): one.id for one in piece.prints if one.id not in given}
    for id_, name in given.items():
        other = called.setdefault(name.casefold(), id_)
        if other != id_:
            raise PieceError(f"'{name}' is what {other} is called; choose another name for {id_}.")
    plan = piece.plan if piece.sewn else None  # told by name; its wishes make it again
    return settled(replace(piece, names={**piece.names, **given}, plan=plan))


def unnamed(piece: Piece, ids: Iterable[str]) -> Piece:
    """Prints called by their ids again.

    Raises:
        PieceError: an unknown print.
    """
    gone = {piece.id_of(key) for key in ids}
    prints = tuple(replace(one, name=one.id) if one.id in gone else one for one in piece.prints)
    names = {id_: name for id_, name in piece.names.items() if id_ not in gone}
    plan = piece.plan if piece.sewn else None
    return replace(piece, prints=prints, names=names, plan=plan)


def _name(text: str) -> str:
    name = unicodedata.normalize("NFC", text.strip())
    if any(unicodedata.category(one) in ("Cc", "Cs", "Zl", "Zp") for one in name):
        raise UsageError(f"{name!r}: a name is one line of letters, without control characters.")
    if not name or len(name) > 120 or set(name) & set(",="):
        raise UsageError(f"'{name[:130]}': a name has 1 to 120 letters and neither , nor =.")
    return name


def resized(piece: Piece, sizes: Mapping[str, str]) -> Piece:
    """Prints with the scraps that were measured: ``9 1/2x3`` or ``20x8cm``, several with commas.

    Raises:
        UsageError: a size cannot be read, or is none that a scrap can have.
        PieceError: an unknown print.
    """
    units = str(piece.plan_wishes.get("units") or "in")
    read = {piece.id_of(key): _scraps(with_units(text, units)) for key, text in sizes.items()}
    return settled(replace(piece, sizes={**piece.sizes, **read}, plan=None))


def unsized(piece: Piece, ids: Iterable[str]) -> Piece:
    """Prints as large as they were measured in the photo again, whatever was typed.

    Raises:
        PieceError: an unknown print.
    """
    gone = {piece.id_of(key) for key in ids}
    kept = {id_: size for id_, size in piece.sizes.items() if id_ not in gone}
    return replace(piece, sizes=kept, plan=None)


def _scraps(text: str) -> list[list[str]]:
    scraps = [parse_size(one) for one in text.split(",")]
    for scrap in scraps:
        if not all(0 < side < _LARGEST_IN for side in scrap):
            raise UsageError(f"'{text}': a scrap's sides are above 0 and below {_LARGEST_IN} in.")
    return [[str(side) for side in scrap] for scrap in scraps]


def dropped(piece: Piece, ids: Iterable[str]) -> Piece:
    """The piece without these prints; wishes about them go too.

    Raises:
        PieceError: an unknown print.
    """
    gone = {piece.id_of(key) for key in ids}
    edits = [_edit("drop", piece, [id_]) for id_ in sorted(gone)]
    return replace(
        piece,
        prints=tuple(one for one in piece.prints if one.id not in gone),
        corrections=(*piece.corrections, *edits),
        sequence=None,
        plan=None,
        order_wishes=without_ids(piece.order_wishes, gone),
        plan_wishes=plan_without_ids(piece.plan_wishes, gone),
    )


def merged(piece: Piece, ids: Sequence[str]) -> Piece:
    """Several finds of one photo are one scrap; it is measured when the photo is read again.

    Raises:
        PieceError: an unknown print, fewer than two, or prints of different photos.
    """
    ids = list(dict.fromkeys(piece.id_of(key) for key in ids))
    if len(ids) < 2:
        raise PieceError("to merge takes at least two prints.")
    photos = {piece.photo_of(id_).id: piece.photo_of(id_).name for id_ in ids}
    if len(photos) > 1:
        raise PieceError(f"these lie in different photos ({', '.join(sorted(photos.values()))}).")
    return _with_edit(piece, _edit("merge", piece, ids))


def parted(piece: Piece, key: str, line: Outline) -> Piece:
    """One find is two scraps, parted along the straight line through two points of the photo.

    Raises:
        PieceError: an unknown print, or the line does not cut it.
    """
    one = piece.print_of(piece.id_of(key))
    if smaller_part(one.outline, line) < _LEAST_PART:
        raise PieceError(
            f"that line does not cut {one.name}, which lies at {where(one.outline)} of "
            f"{one.photo}. Give two points whose line runs through it."
        )
    return _with_edit(piece, replace(_edit("split", piece, [one.id]), line=tuple(line)))


def redrawn(piece: Piece, key: str, outline: Outline) -> Piece:
    """A find with its outline drawn anew, in pixels of the photo.

    Raises:
        PieceError: an unknown print; an outline of nothing, off the scrap, or on another one.
    """
    one = piece.print_of(piece.id_of(key))
    _check_drawn(piece, piece.photo_of(one.id), outline, one)
    if overlap(one.outline, outline).alike <= 0 and one.outline:
        raise PieceError(
            f"that outline does not touch {one.name}, which lies at {where(one.outline)} of "
            f"{one.photo}. A scrap that was missed is added by: passalong add FOLDER "
            f"'{one.photo}' --outline …"
        )
    return _with_edit(piece, replace(_edit("redraw", piece, [one.id]), line=tuple(outline)))


def added(piece: Piece, photo: str, outline: Outline) -> Piece:
    """A scrap that was missed, drawn by hand. ``photo``: its name, or the stem of its prints' ids.

    Raises:
        PieceError: an unknown photo; an outline of nothing, or on a scrap that was found.
    """
    shown = photo_called(piece, photo)
    _check_drawn(piece, shown, outline, None)
    return _with_edit(piece, Correction("add", shown.id, (), tuple(outline)))


def photo_called(piece: Piece, name: str) -> KeptPhoto:
    """The photo of this file name, or whose prints' ids begin with this stem.

    Raises:
        PieceError: there is none, or there are several.
    """
    stems = [photo for photo in piece.photos if name == photo.stem]
    found = stems or [photo for photo in piece.photos if name == photo.name]
    if len(found) == 1:
        return found[0]
    if found:
        told = ", ".join(photo.stem for photo in found)
        raise PieceError(f"several photos are called '{name}': say which by {told}.")
    there = ", ".join(photo.name for photo in piece.photos)
    raise PieceError(f"no photo of this piece is called '{name}'. There are: {there}.")


def alike(piece: Piece, keys: Sequence[str], same: bool) -> Piece:
    """Finds of different photos are one print (``same``), or are none; the last word counts.

    Raises:
        PieceError: an unknown print, fewer than two, or two of one photo.
    """
    op = "same" if same else "different"
    ids = list(dict.fromkeys(piece.id_of(key) for key in keys))
    if len(ids) < 2:
        raise PieceError(f"to say that finds are {op} takes at least two.")
    edit = _edit(op, piece, ids)
    photos = [find.photo for find in edit.finds]
    if len(set(photos)) < len(photos):
        raise PieceError(
            f"finds of one photo are told apart or joined by drop, merge and split; '{op}' is "
            "about finds of different photos."
        )
    kept = [one for one in piece.corrections
            if one.op not in ("same", "different") or len(set(one.finds) & set(edit.finds)) < 2]
    return replace(piece, corrections=(*kept, replace(edit, photo="")))


def _check_drawn(piece: Piece, photo: KeptPhoto, outline: Outline, own: Print | None) -> None:
    """Refuse an outline that is none, beyond the photo, or mostly on another find."""
    if len(outline) < 3 or area(np.asarray(outline, float)) < _LEAST_AREA:
        raise PieceError(
            "that outline holds nothing: draw three or more corners in order around the scrap."
        )
    if photo.found is not None:
        width, height = photo.found.size
        if not all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in outline):
            raise PieceError(
                f"that outline reaches beyond {photo.name}, a photo of {width} × {height} pixels."
            )
    for other in piece.prints:
        if other.photo_id == photo.id and (own is None or other.id != own.id):
            shared = overlap(outline, other.outline)
            if shared.of_first > ALIKE or shared.of_second > ALIKE:
                raise PieceError(
                    f"that outline lies on {other.name}, which is at {where(other.outline)} of "
                    f"{photo.name}. Merge the two, or drop {other.name} first."
                )


def _edit(op: str, piece: Piece, ids: Sequence[str]) -> Correction:
    prints = [piece.print_of(id_) for id_ in ids]
    finds = tuple(Find(one.photo_id, one.outline) for one in prints)
    return Correction(op, finds[0].photo, finds)


def _with_edit(piece: Piece, edit: Correction) -> Piece:
    return replace(piece, corrections=(*piece.corrections, edit))
