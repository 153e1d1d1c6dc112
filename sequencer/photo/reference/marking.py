"""What the user says of the reference: where it lies, as typed and in analysis pixels, and which
patches of a target are spoilt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sequencer.errors import PhotoError, UsageError
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.patches import FEWEST, PATCHES_LAB
from sequencer.photo.reference.reference import Reference

_PATCHES = len(PATCHES_LAB)


def marked_corners(
    marked: Sequence[Sequence[float]] | None, reference: str
) -> tuple[tuple[float, float], ...] | None:
    """The marking as numbers, refused when it is no area."""
    if marked is None:
        return None
    if reference == "none":
        raise UsageError("a reference was marked, but 'none' was asked for: leave one of them out")
    try:
        corners = tuple((float(x), float(y)) for x, y in marked)
    except (TypeError, ValueError):
        raise UsageError(f"the marked corners {marked!r} are not pairs of x and y") from None
    if len(corners) not in (2, 4) or not np.isfinite(corners).all():
        raise UsageError("mark the reference by two opposite corners or by four corners in order")
    return corners


def marking_in(
    photo: Photo, marked: tuple[tuple[float, float], ...] | None
) -> list[tuple[float, float]] | None:
    """The user's marking in analysis pixels."""
    if marked is None:
        return None
    width, height = photo.full_size
    if not all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in marked):
        raise PhotoError(
            photo.name,
            f"the marked reference reaches beyond this photo of {width} × {height} pixels",
        )
    return [(x / photo.factor, y / photo.factor) for x, y in marked]


def patch_numbers(numbers: Sequence[int]) -> list[int]:
    """Rows of the patches 1 to 24 that take no part, refused where none or too few are left."""
    try:
        wrong = [one for one in numbers if one != int(one) or not 1 <= one <= _PATCHES]
    except (TypeError, ValueError, OverflowError):
        raise UsageError(
            f"the patches {numbers!r} are not a list of whole numbers, 1 to {_PATCHES}"
        ) from None
    if wrong:
        raise UsageError(
            f"a target has no patch {wrong[0]}: they are numbered 1 to {_PATCHES}, row by row from "
            "dark skin to black"
        )
    if _PATCHES - len(set(numbers)) < FEWEST:
        raise UsageError(f"leave at least {FEWEST} patches of the target in")
    return [int(one) - 1 for one in numbers]


def without(found: Reference | None, spoilt: Sequence[int]) -> Reference | None:
    """The reference, a target without its ``spoilt`` patches."""
    if found is None or found.kind != "target" or not spoilt:
        return found
    encoded = found.encoded.copy()
    encoded[list(spoilt)] = np.nan
    return replace(found, encoded=encoded)
