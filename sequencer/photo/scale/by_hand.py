"""The scale from a bank card whose corners the maker marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.errors import PhotoError, UsageError
from sequencer.photo.files.load import Photo
from sequencer.photo.scale.card import CARD_IN
from sequencer.photo.scale.scale import Scale
from sequencer.photo.shapes.perspective import homography

_LEAST_SIDE = 8.0  # analysis pixels; by hand, never fitted
_TURNED = (1, 2, 3, 0)  # the corners from the next one on, so that a long side is first


def card_corners(
    card: Sequence[Sequence[float]] | None,
) -> tuple[tuple[float, float], ...] | None:
    """The marking as numbers.

    Raises:
        UsageError: it is not four points.
    """
    if card is None:
        return None
    try:
        corners = tuple((float(x), float(y)) for x, y in card)
    except (TypeError, ValueError):
        raise UsageError(f"the card's corners {card!r} are not pairs of x and y") from None
    if len(corners) != 4 or not np.isfinite(corners).all():
        raise UsageError("mark a bank card by its four corners, in order around it")
    return corners


def card_at(photo: Photo, corners: Sequence[tuple[float, float]]) -> Scale:
    """The scale of a photo by four corners of a bank card (ISO/IEC 7810 ID-1), in photo pixels.

    In order around it, either way round, from any corner: the longer pair of sides is its length.

    Raises:
        PhotoError: they lie beyond the photo, or are no four-sided thing.
    """
    width, height = photo.full_size
    points = np.asarray(corners, float)
    low, high = points.min(axis=0), points.max(axis=0)
    if (low < -1).any() or high[0] > width + 1 or high[1] > height + 1:
        raise PhotoError(
            photo.name, f"the marked card reaches beyond this photo of {width} × {height} pixels"
        )
    seen = points / photo.factor
    run = np.roll(seen, -1, axis=0) - seen
    turns = run[:, 0] * np.roll(run[:, 1], -1) - run[:, 1] * np.roll(run[:, 0], -1)
    sides = np.hypot(run[:, 0], run[:, 1])
    if sides.min() < _LEAST_SIDE or not (turns > 0).all() ^ (turns < 0).all():
        raise PhotoError(
            photo.name,
            "the marked card is no four-sided thing: give its four corners in order around it",
        )
    if sides[0] + sides[2] < sides[1] + sides[3]:
        seen = seen[list(_TURNED)]
    long, short = CARD_IN
    flat = np.array([[0, 0], [long, 0], [long, short], [0, short]])
    if (turns < 0).all():
        flat[:, 1] = short - flat[:, 1]
    return Scale(homography(seen, flat), "bankcard", seen)
