"""Finding the thing of known colour: a white sheet, a grey card or a 24-patch target.

A sheet or card is a smooth quadrilateral. The brightest one whose colour could be white for the
whole picture (nothing else in it outshines it in any channel) is taken for the sheet; the
smoothest, most neutral one for the grey card. Targets are found by their grid, see
:mod:`sequencer.photo.target`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_linear, srgb_to_linear
from sequencer.errors import PhotoError, UsageError
from sequencer.models import Pixels
from sequencer.photo.load import Photo
from sequencer.photo.quads import Quad, smooth_quads
from sequencer.photo.target import find_target, read_target

Floats = NDArray[np.floating]

KINDS = ("auto", "sheet", "grey", "target", "none")


@dataclass(frozen=True, eq=False)
class Reference:
    """What was found. ``kind``: sheet, grey or target.

    ``polygon`` (4, 2): corners in analysis pixels, x, y. ``encoded`` (k, 3): median sRGB, 0 to 1,
    of each measured patch: one row for a sheet or a card, 24 in the target's order. ``centres``
    (k, 2): where they were measured. ``marked``: the user pointed at it.
    """

    kind: str
    polygon: Floats
    encoded: Floats
    centres: Floats
    marked: bool = False


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
    if wanted not in KINDS:
        raise UsageError(f"reference {wanted!r} is not known: use one of {', '.join(KINDS)}")
    if wanted == "none":
        return None
    if rectangle is not None:
        return _marked(photo, wanted, _corners(rectangle))
    if wanted in ("auto", "target"):
        target = find_target(photo.pixels)
        if target is not None:
            return Reference("target", *target)
        if wanted == "target":
            return None
    quads = smooth_quads(photo.pixels)
    found = None
    if wanted in ("auto", "sheet"):
        found = _as_reference("sheet", _sheet(quads, photo.pixels, wanted == "sheet"))
    if found is None and wanted in ("auto", "grey"):
        found = _as_reference("grey", _grey(quads, wanted == "grey"))
    return found


def _as_reference(kind: str, quad: Quad | None) -> Reference | None:
    if quad is None:
        return None
    return Reference(kind, quad.corners, quad.encoded[None], quad.corners.mean(axis=0)[None])


# ── what could be white, what could be the grey card ──────────────────────────────────────


def _sheet(quads: list[Quad], pixels: Pixels, asked: bool) -> Quad | None:
    lit = srgb8_to_linear(pixels[::4, ::4]).reshape(-1, 3)
    fits = [quad for quad in quads if _could_be_white(quad, lit, asked)]
    return max(fits, key=lambda q: (round(q.luminance * q.fill, 4), q.area), default=None)


def _could_be_white(quad: Quad, lit: Floats, asked: bool) -> bool:
    """Nothing else outshines it: more than a highlight or fall-off explains."""
    if quad.fill < (0.85 if asked else 0.9) or quad.texture > (6.0 if asked else 3.0):
        return False
    white = quad.linear
    if white.min() < 0.02 or (not asked and quad.luminance < 0.25):
        return False
    return bool(((lit > 1.35 * white).any(axis=1)).mean() < 0.01)


def _grey(quads: list[Quad], asked: bool) -> Quad | None:
    fits = [
        quad
        for quad in quads
        if quad.fill > 0.88
        and 0.05 < quad.luminance < 0.5
        and quad.chroma < (45.0 if asked else 14.0)
        and quad.texture < (4.0 if asked else 1.2)
    ]
    return min(fits, key=lambda q: (round(q.texture + 0.05 * q.chroma, 4), -q.area), default=None)


# ── the user's own marking ────────────────────────────────────────────────────────────────


def _corners(rectangle: Sequence[Sequence[float]]) -> Floats:
    points = np.asarray(rectangle, dtype=float)
    if points.shape == (2, 2):
        (x0, y0), (x1, y1) = np.sort(points, axis=0)
        points = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    if points.shape != (4, 2):
        raise UsageError("mark the reference by two opposite corners or by four corners in order")
    x, y = points.T
    if abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2 < 16:
        raise UsageError("the marked reference is smaller than 16 pixels: mark a larger area")
    return points


def _marked(photo: Photo, wanted: str, corners: Floats) -> Reference | None:
    if wanted in ("auto", "target"):
        target = read_target(photo.pixels, corners)
        if target is not None:
            return replace(Reference("target", *target), marked=True)
        if wanted == "target":
            raise PhotoError(
                photo.name, "the marked area does not show the 24 patches of a target; "
                "mark its outer corners, or mark a white sheet or grey card instead"
            )
    encoded = _inner_median(photo.pixels, corners)
    kind = wanted
    if wanted == "auto":
        kind = "sheet" if srgb_to_linear(encoded).mean() > 0.4 else "grey"
    return Reference(kind, corners, encoded[None], corners.mean(axis=0)[None], marked=True)


def _inner_median(pixels: Pixels, corners: Floats) -> Floats:
    """Median sRGB of the inner 60 % of a quadrilateral, on a 40 × 40 grid."""
    u, v = np.meshgrid(np.linspace(0.2, 0.8, 40), np.linspace(0.2, 0.8, 40))
    weights = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1)
    x, y = np.moveaxis(weights @ corners, -1, 0)
    rows = np.clip(y.astype(int), 0, pixels.shape[0] - 1)
    columns = np.clip(x.astype(int), 0, pixels.shape[1] - 1)
    return np.asarray(np.median(pixels[rows, columns].reshape(-1, 3), axis=0) / 255)
