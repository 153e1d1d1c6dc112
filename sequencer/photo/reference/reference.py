"""Finding the thing of known colour: a white sheet, a grey card or a 24-patch target.

A sheet or card is a smooth quadrilateral; which one, if any, is told in
:mod:`sequencer.photo.reference.likeliest`. Targets are found by their grid, see
:mod:`sequencer.photo.reference.target`. Doubt is told either way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.errors import PhotoError, UsageError
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.likeliest import (
    SURE_ENOUGH,
    SURE_UNASKED,
    Candidate,
    likeliest,
)
from sequencer.photo.reference.patches import Target, read_target
from sequencer.photo.reference.target import find_target, part_of_a_target
from sequencer.photo.reference.telling import (
    doubt,
    how_it_lies,
    left_out,
    no_target,
    not_found,
    taken,
    too_little,
)

Floats = NDArray[np.floating]

_LEAST_MARKED = 16  # analysis pixels, area of what a hand marks
_LIGHT = 0.4  # linear light from which an unnamed one is white
_INNER, _LOOKED_AT = (0.2, 0.8), 40  # part of its sides that colour is taken from; places on it
_DARKEST = 15
"""L* below which a card is too dark to judge other colours by (an estimate)."""

KINDS = ("auto", "sheet", "grey", "target", "none")


@dataclass(frozen=True, eq=False)
class Reference:
    """What was found. ``kind``: sheet, grey or target.

    ``polygon`` (4, 2): corners in analysis pixels, x, y. ``encoded`` (k, 3): median sRGB, 0 to 1,
    of each measured patch: one row for a sheet or a card, 24 in the target's order. ``centres``
    (k, 2): where they were measured. ``marked``: the user pointed at it.
    ``sure``: how likely it is what it is taken for, 0 to 1. ``lightness``: the card's own L* where
    the user stated it. A target's row of ``encoded`` is NaN where the picture's edge cuts the patch
    off; ``mirrored``: the picture shows it left-handed.
    """

    kind: str
    polygon: Floats
    encoded: Floats
    centres: Floats
    marked: bool = False
    sure: float = 1.0
    lightness: float | None = None
    mirrored: bool = False


def stated(wanted: str) -> tuple[str, float | None]:
    """A reference as typed, ``grey=65``: its kind and, for a card, its L* where it is stated.

    Raises:
        UsageError: it is none of those known, or no card can have this lightness.
    """
    if not isinstance(wanted, str):
        raise UsageError(f"reference {wanted!r} is no text: use one of {', '.join(KINDS)}")
    kind, equals, level = wanted.partition("=")
    if kind not in KINDS or (equals and kind != "grey"):
        raise UsageError(
            f"reference '{wanted}' is not known: use one of {', '.join(KINDS)}, or grey=L for a "
            "card of that lightness, like grey=65"
        )
    try:
        lightness = float(level) if equals else None
    except ValueError:
        lightness = float("nan")
    if lightness is not None and not _DARKEST <= lightness <= 100:
        raise UsageError(
            f"reference '{wanted}': give the card's lightness as L*, {_DARKEST} (dark) to 100 "
            "(white), like grey=65"
        )
    return kind, lightness


def find_reference(
    photo: Photo, wanted: str = "auto", rectangle: Sequence[Sequence[float]] | None = None
) -> Reference | None:
    """Look for the reference ``wanted`` (auto, sheet, grey, target or none) in a photo.

    ``rectangle``: the user's own marking in analysis pixels, two opposite corners or four corners
    in order; with ``auto`` it is read as a target if a target's colours are there, else as a sheet
    or a grey card by its lightness. None when nothing is found or wanted.

    Raises:
        UsageError: ``wanted`` is not one of these, or the rectangle has no area.
        PhotoError: a target was marked whose colours are not there.
    """
    return look_for_reference(photo, wanted, rectangle)[0]


def look_for_reference(
    photo: Photo,
    wanted: str = "auto",
    rectangle: Sequence[Sequence[float]] | None = None,
    without: Sequence[int] = (),
) -> tuple[Reference | None, str | None]:
    """:func:`find_reference`, and in words what is doubtful about what was used or left out.

    What was asked for by name is taken where it is likeliest, however doubtful; the words then say
    where, and where nothing can be it, where was looked and what to type. ``without``: patches of a
    marked target, from 0, that are spoilt.
    """
    wanted, lightness = stated(wanted)
    found, words = _looked_for(photo, wanted, rectangle, without)
    return found if found is None else replace(found, lightness=lightness), words


def _looked_for(
    photo: Photo,
    wanted: str,
    rectangle: Sequence[Sequence[float]] | None,
    without: Sequence[int],
) -> tuple[Reference | None, str | None]:
    if wanted == "none":
        return None, None
    if rectangle is not None:
        return _marked(photo, wanted, _corners(rectangle), without)
    if wanted in ("auto", "target"):
        target = find_target(photo, closely=wanted == "target")
        if target is not None:
            return _as_reference(target), how_it_lies(target)
        if wanted == "target":
            why = "no grid of 24 such patches anywhere"
            part = part_of_a_target(photo)
            return None, too_little() if part else not_found("target", why, photo)
    best = likeliest(photo, wanted)
    if wanted != "auto":
        why = "nothing smooth and pale enough with four straight sides"
        if best is None:
            return None, not_found(wanted, why, photo)
        return _as_smooth(best), taken(best, photo)
    if best is None:
        return None, None
    used = best.sure >= SURE_UNASKED
    return _as_smooth(best) if used else None, doubt(best, used, photo.factor)


def unasked(photo: Photo) -> tuple[Reference | None, str | None]:
    """What is no cloth though nobody asked for it: a reference of which there is no doubt.

    And in words where it lies, since nothing is corrected by it. What may be a scrap is one.
    """
    target = find_target(photo)
    if target is not None:
        return _as_reference(target), None
    best = likeliest(photo, "auto")
    if best is None or best.sure < SURE_ENOUGH:
        return None, None
    return _as_smooth(best), left_out(best, photo)


def _as_smooth(best: Candidate) -> Reference:
    quad = best.quad
    return Reference(
        best.kind, quad.corners, quad.encoded[None], best.centre[None], sure=best.sure
    )


def _as_reference(target: Target, marked: bool = False) -> Reference:
    return Reference(
        "target", target.corners, target.encoded, target.centres, marked, mirrored=target.mirrored
    )


# ── the user's own marking ────────────────────────────────────────────────────────────────


def _corners(rectangle: Sequence[Sequence[float]]) -> Floats:
    points = np.asarray(rectangle, dtype=float)
    if points.shape == (2, 2):
        (x0, y0), (x1, y1) = np.sort(points, axis=0)
        points = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    if points.shape != (4, 2):
        raise UsageError("mark the reference by two opposite corners or by four corners in order")
    x, y = points.T
    area = (np.dot(y, np.roll(x, 1)) - np.dot(x, np.roll(y, 1))) / 2
    if abs(area) < _LEAST_MARKED:
        raise UsageError("the marked reference is smaller than 16 pixels: mark a larger area")
    return points if area > 0 else points[::-1]  # clockwise as seen, however they were typed


def _marked(
    photo: Photo, wanted: str, corners: Floats, without: Sequence[int]
) -> tuple[Reference | None, str | None]:
    if wanted in ("auto", "target"):
        target = read_target(photo.pixels, corners, without)
        if target is not None:
            return _as_reference(target, marked=True), how_it_lies(target)
        if wanted == "target":
            raise PhotoError(photo.name, no_target(photo, corners))
    encoded = _inner_median(photo.pixels, corners)
    kind = wanted
    if wanted == "auto":
        kind = "sheet" if srgb_to_linear(encoded).mean() > _LIGHT else "grey"
    centre = corners.mean(axis=0)[None]
    return Reference(kind, corners, encoded[None], centre, marked=True), None


def _inner_median(pixels: Pixels, corners: Floats) -> Floats:
    """Median sRGB of the inner 60 % of a quadrilateral, on a 40 × 40 grid."""
    u, v = np.meshgrid(*[np.linspace(*_INNER, _LOOKED_AT)] * 2)
    weights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)
    x, y = np.moveaxis(weights @ corners, -1, 0)
    rows = np.clip(y.astype(int), 0, pixels.shape[0] - 1)
    columns = np.clip(x.astype(int), 0, pixels.shape[1] - 1)
    return np.asarray(np.median(pixels[rows, columns].reshape(-1, 3), axis=0) / 255)
