"""What the maker says of a photograph: where its white sheet and bank card lie, what a length is,
whether it shows one cloth; and a photograph taken out again.

As in :mod:`sequencer.corrections` the first functions are steps from piece to piece, those below do
them to a folder.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sequencer.errors import NoCornersError, PieceError, UsageError
from sequencer.intake import corrected
from sequencer.intake.settling import plan_without_ids, without_ids
from sequencer.keeping.originals import place_of
from sequencer.keeping.state import Point
from sequencer.models import Progress
from sequencer.photo.files.load import load as load_photo
from sequencer.photo.reference.tapped import thing_at
from sequencer.photo.shapes.perspective import quadrilateral
from sequencer.piece import KeptPhoto, Outline, Piece, load
from sequencer.reading.photos import wishes_from

SAID = ("reference", "marked", "card", "scale", "shows")
"""What can be said of one photograph, as the wishes of the same names; None takes it back."""


def marked(piece: Piece, photo: str, said: Mapping[str, Any]) -> Piece:
    """The photo with this id, to be read by what is ``said`` of it (see :data:`SAID`).

    What contradicts it gives way: a marked sheet ends 'there is none', corners of a card end a
    typed length, and the other way round. A grey card that lies elsewhere is as light as before.

    Raises:
        UsageError: something said cannot be understood.
        PieceError: an unknown photo, or corners beyond it.
    """
    if unknown := set(said) - set(SAID):
        raise UsageError(f"of a photo {', '.join(SAID)} can be said, not {', '.join(unknown)}.")
    shown = photo_with(piece, photo)
    said = {key: _plain(value) for key, value in said.items()}
    for corners in (said.get("marked"), said.get("card")):
        _check_within(shown, corners)
    before = shown.wishes.get("reference")
    if said.get("reference") == "grey" and said.get("marked") and str(before).startswith("grey="):
        said["reference"] = before
    wishes = {**shown.wishes, **_what_gives_way(said), **said}
    wishes = {key: value for key, value in wishes.items() if value is not None}
    wishes_from(wishes)
    fresh = replace(shown, wishes=wishes)
    return replace(piece, photos=tuple(
        fresh if one.id == shown.id else one for one in piece.photos
    ))


def _what_gives_way(said: Mapping[str, Any]) -> dict[str, None]:
    gone: list[str] = []
    if "reference" in said and "marked" not in said:
        gone.append("marked")
    if said.get("marked") is not None and "reference" not in said:
        gone.append("reference")
    if said.get("card") is not None:
        gone.append("scale")
    if said.get("scale") is not None:
        gone.append("card")
    return dict.fromkeys(gone)


def _plain(value: Any) -> Any:
    """Corners as the piece keeps them; what is none is refused where wishes are checked."""
    if not isinstance(value, (list, tuple)):
        return value
    try:
        return [(float(x), float(y)) for x, y in value]
    except (TypeError, ValueError):
        raise UsageError(f"{value!r} are no corners: give pairs of x and y.") from None


def _check_within(photo: KeptPhoto, corners: list[Point] | None) -> None:
    if corners is None or photo.found is None:
        return
    width, height = photo.found.size
    if not all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in corners):
        raise PieceError(
            f"these corners reach beyond {photo.name}, a photo of {width} × {height} pixels."
        )


def photo_with(piece: Piece, id_: str) -> KeptPhoto:
    """The photo with this id.

    Raises:
        PieceError: there is none.
    """
    for photo in piece.photos:
        if photo.id == id_:
            return photo
    raise PieceError("that photograph is no longer in this piece; look at it as it is now.")


def four_corners(outline: Outline) -> Outline:
    """The four corners of a find that is no cloth but a sheet or a card.

    Raises:
        PieceError: four sides do not fit round it.
    """
    corners = quadrilateral(np.asarray(outline, float))
    if corners is None:
        raise PieceError("that has no four sides: mark its four corners by hand.")
    return tuple((float(x), float(y)) for x, y in corners)


def without_photo(piece: Piece, photo: str) -> Piece:
    """The piece without a photo, its prints, and all that was said about those.

    Raises:
        PieceError: an unknown photo.
    """
    gone_photo = photo_with(piece, photo)
    gone = {one.id for one in piece.prints if one.photo_id == gone_photo.id}
    kept = [one for one in piece.corrections
            if gone_photo.id not in (one.photo, *(find.photo for find in one.finds))]
    return replace(
        piece,
        photos=tuple(one for one in piece.photos if one.id != gone_photo.id),
        prints=tuple(one for one in piece.prints if one.id not in gone),
        corrections=tuple(kept),
        names={id_: name for id_, name in piece.names.items() if id_ not in gone},
        sizes={id_: size for id_, size in piece.sizes.items() if id_ not in gone},
        sequence=None,
        plan=None,
        order_wishes=without_ids(piece.order_wishes, gone),
        plan_wishes=plan_without_ids(piece.plan_wishes, gone),
    )


# ── the same, done to a folder ────────────────────────────────────────────────────────────


def mark(
    folder: Path, photo: str, said: Mapping[str, Any], progress: Progress | None = None
) -> Piece:
    """Say something of a photo; it is read again if that changes how it is read."""
    step = f"mark {photo_with(load(folder), photo).name}"
    return corrected(folder, step, lambda piece: marked(piece, photo, said), progress)


def remove_photo(folder: Path, photo: str, progress: Progress | None = None) -> Piece:
    """Take a photo out; what the others share is brought together anew."""
    step = f"take out {photo_with(load(folder), photo).name}"
    return corrected(folder, step, lambda piece: without_photo(piece, photo), progress)


def pointed(
    folder: Path, photo: str, what: str, at: Point | None = None, find: str | None = None
) -> dict[str, Any]:
    """What is said by pointing: 'this is my white sheet' at a point of the photo, or at a find.

    ``what``: sheet, grey, target or card; the answer is for :func:`mark`.

    Raises:
        UsageError: it is none of these.
        PieceError: no four sides are seen there, an unknown photo or find, or its file is gone.
    """
    if what not in ("sheet", "grey", "target", "card"):
        raise UsageError(f"'{what}' cannot be pointed at: say sheet, grey, target or card.")
    if find is not None:
        piece = load(folder)
        corners: Outline | None = four_corners(piece.print_of(piece.id_of(find)).outline)
    else:
        corners = None if at is None else corners_at(folder, photo, at)
    if corners is None:
        raise NoCornersError(
            "Nothing with four straight sides is seen there: lay its corners by hand."
        )
    return {"card": corners} if what == "card" else {"reference": what, "marked": corners}


def corners_at(folder: Path, photo: str, point: Point) -> Outline | None:
    """Four corners of what lies at a point of a photo, as she tapped it; None if none are seen.

    Raises:
        PieceError: an unknown photo, or its file is gone.
        PhotoError: it can no longer be opened.
    """
    shown = photo_with(load(folder), photo)
    path = place_of(shown, folder)
    if path is None:
        raise PieceError(f"the file of {shown.name} is no longer there; mark its corners by hand.")
    opened = load_photo(path)
    corners = thing_at(opened, point)
    if corners is None:
        return None
    width, height = opened.full_size
    held = np.clip(corners * opened.factor, 0, (width, height))
    return tuple((float(x), float(y)) for x, y in held)
