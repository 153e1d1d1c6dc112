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
from sequencer.photo.curves import GREY_Y, SHEET_Y, SRGB, USUAL_BEND, white_profile
from sequencer.photo.load import Photo
from sequencer.photo.quads import Quad, smooth_quads
from sequencer.photo.target import find_target, read_target
from sequencer.photo.view import View, view_of

Floats = NDArray[np.floating]

_SQUARE_ENOUGH = 0.87
_OUTSHONE = 1.6
_WARM = (40.0, 116.0)
_COLD = (225.0, 295.0)
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)

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
        target = find_target(photo.pixels, view_of(photo))
        if target is not None:
            return Reference("target", *target)
        if wanted == "target":
            return None
    return _neutral(photo, wanted)


# ── what could be white, what could be the grey card ──────────────────────────────────────


def _neutral(photo: Photo, wanted: str) -> Reference | None:
    view = view_of(photo)
    quads = _alone([quad for quad in smooth_quads(view) if quad.fill > _SQUARE_ENOUGH])
    lit = srgb8_to_linear(photo.pixels[::4, ::4]).reshape(-1, 3)
    brightest = float(np.quantile(lit @ _LUMINANCE, 0.99))
    asked = wanted != "auto"
    sheet = grey = None
    if wanted in ("auto", "sheet"):
        white = [quad for quad in quads if _could_be_white(quad, lit, brightest, asked)]
        white = [quad for quad in white if asked or not _adds_tint(quad, view)]
        sheet = max(white, key=_whiteness, default=None)
    if wanted in ("auto", "grey"):
        greys = [quad for quad in quads if _could_be_grey(quad, view, brightest, asked)]
        grey = min(greys, key=lambda quad: _greyness(quad, brightest), default=None)
    if sheet and grey and _rather_grey(sheet, grey, view):
        sheet = None
    kind, quad = ("sheet", sheet) if sheet else ("grey", grey)
    if quad is None:
        return None
    return Reference(kind, quad.corners, quad.encoded[None], quad.corners.mean(axis=0)[None])


def _rather_grey(sheet: Quad, grey: Quad, view: View) -> bool:
    """A fifth to a third as light, and as a card it leaves the picture clearly less tinted."""
    card_like = 0.15 < grey.luminance / sheet.luminance < 0.4
    return card_like and _tint(view, grey, GREY_Y) + 1 < _tint(view, sheet, SHEET_Y)


def _adds_tint(quad: Quad, view: View) -> bool:
    """A tinted white that would leave the picture far more tinted than it is: a pale scrap."""
    return quad.chroma > 9 and _tint(view, quad, SHEET_Y) > _tint(view, None, 0) + 7


def _tint(view: View, quad: Quad | None, luminance: float) -> float:
    """Chroma of the picture's mean colour if ``quad`` is neutral; as the photo stands for None.

    Only guesses are judged by this; no colour is ever corrected by the picture's mean.
    """
    profile = SRGB if quad is None else white_profile(quad.encoded, 1.0, luminance, USUAL_BEND)
    encoded = view.pixels[::4, ::4].reshape(-1, 3) / 255
    _, a, b = profile.lab(profile.linear(encoded).T)
    return float(np.hypot(np.clip(a, -60, 60).mean(), np.clip(b, -60, 60).mean()))


def _alone(quads: list[Quad]) -> list[Quad]:
    """Without those that look alike: a motif comes again and again, a reference lies there once."""

    def alike(a: Quad, b: Quad) -> bool:
        size = abs(np.log(a.area / b.area)) < 0.5
        return bool(size and np.abs(a.encoded - b.encoded).max() < 0.06)

    return [q for q in quads if not any(alike(q, other) for other in quads if other is not q)]


def _whiteness(quad: Quad) -> tuple[float, float]:
    """Bright and neutral, quiet and four-cornered."""
    return (
        round(quad.luminance * quad.fill - 0.004 * quad.chroma - 0.1 * quad.texture, 4),
        quad.area,
    )


def _greyness(quad: Quad, brightest: float) -> tuple[float, float]:
    """Quiet, neutral, four-cornered, and about a fifth as light as the lightest thing."""
    off = abs(np.log(quad.luminance / (0.22 * brightest)))
    return (round(quad.texture + 0.04 * quad.chroma - 2 * quad.fill + 0.5 * off, 4), -quad.area)


def _could_be_white(quad: Quad, lit: Floats, brightest: float, asked: bool) -> bool:
    """Its cast is one that lamps give, and nothing outshines it beyond highlights and fall-off."""
    lamp_cast = _WARM[0] < quad.hue < _WARM[1] or _COLD[0] < quad.hue < _COLD[1]
    if quad.chroma > (45 if asked else 38 if lamp_cast else 16):
        return False
    if not asked and quad.touches > 1:
        return False
    dimmest = (0.5 if asked else 0.7) * brightest
    if quad.texture > (2.5 if asked else 0.9) or quad.luminance < dimmest:
        return False
    outshone = (lit > _OUTSHONE * np.maximum(quad.linear, 0.02)).any(axis=1)
    return bool(outshone.mean() < (0.04 if asked else 0.025))


def _could_be_grey(quad: Quad, view: View, brightest: float, asked: bool) -> bool:
    """Neither too dark nor too light for the light there is; unasked, clearly quiet and neutral.

    A tinted one passes unasked if the picture as a whole is clearly tinted the same way.
    """
    if not 0.08 * brightest < quad.luminance < 0.6:
        return False
    if asked:
        return quad.chroma < 45 and quad.texture < 2.5
    if quad.touches or quad.texture > 0.7 or quad.chroma > 16:
        return False
    return quad.chroma < 6 or _tint(view, quad, GREY_Y) < _tint(view, None, 0) - 3


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
