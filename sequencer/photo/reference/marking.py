"""Where the user says that the reference lies: corners as typed, and in analysis pixels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.errors import PhotoError, UsageError
from sequencer.photo.files.load import Photo


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
