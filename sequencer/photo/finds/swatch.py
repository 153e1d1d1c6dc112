"""A rectangle of photographed cloth, turned upright and corrected, for the render.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from sequencer.colour import lab_to_srgb8
from sequencer.models import Pixels, Swatch
from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.shapes.shape import Floats, Mask, sides

LONGEST = 1000
"""Longest side of a swatch, at most, in its own pixels."""
_INSET = 1.5
"""Analysis pixels by which the long sides of the rectangle are drawn in."""
_LESSON, _RIDGE = 1500, 1e-4
"""Pixels, about, that colours are learnt from; ridge, as a share of them."""
_TERMS = 10
"""Of a quadratic in three channels."""
_AT_ONCE = 8192
"""Pixels corrected at a time, for the cache alone."""


def cut_swatch(
    photo: Photo, rectangle: Floats, lab: Floats, scrap: Scrap, ppi: float | None
) -> Swatch:
    """Cut ``rectangle`` (4 corners in order, analysis pixels) out of the photo's finest pixels.

    ``lab``: the scrap's box of the analysis picture after colour correction, which teaches the
    finer pixels their colours. ``ppi``: analysis pixels per inch, or None.
    """
    pixels, factor = photo.finest
    scale = photo.factor / factor
    corners = _inset(_upright(rectangle)) * scale
    long, _short = sides(corners)
    shrink = min(1.0, LONGEST / max(long, 1.0))
    width = max(1, round(float(np.linalg.norm(corners[1] - corners[0])) * shrink))
    height = max(1, round(float(np.linalg.norm(corners[2] - corners[1])) * shrink))
    cut = _straightened(pixels, corners, width, height)
    return Swatch(
        _taught(cut, *_lesson(photo.pixels[scrap.box], lab, scrap.mask)),
        None if ppi is None else ppi * scale * shrink,
    )


def _upright(rectangle: Floats) -> Floats:
    """The same corners, beginning top left and going clockwise as seen."""
    corners = np.asarray(rectangle, float)
    first, second = corners[0], corners[1]
    turned = np.cross(np.append(second - first, 0), np.append(corners[2] - second, 0))[2]
    if turned < 0:
        corners = corners[::-1]
    start = min(range(4), key=lambda k: _lean(np.roll(corners, -k, axis=0)))
    return np.roll(corners, -start, axis=0)


def _lean(corners: Floats) -> float:
    """How far the first side is from running left to right."""
    x, y = corners[1] - corners[0]
    return abs(float(np.arctan2(y, x)))


def _inset(corners: Floats) -> Floats:
    """Corners drawn in so that no edge pixel, half table, comes along."""
    centre = corners.mean(axis=0)
    _long, short = sides(corners)
    return np.asarray(centre + (corners - centre) * max(0.5, 1 - 2 * _INSET / max(short, 1.0)))


def _straightened(pixels: Pixels, corners: Floats, width: int, height: int) -> Image.Image:
    """Bilinear: edges a tenth softer than bicubic, but less of the camera's noise, so that it is
    nearer to the cloth, for half the time."""
    low = np.clip(np.floor(corners.min(axis=0)) - 2, 0, None).astype(int)
    high = np.ceil(corners.max(axis=0)).astype(int) + 3
    part = Image.fromarray(np.ascontiguousarray(pixels[low[1] : high[1], low[0] : high[0]]))
    top_left, top_right, bottom_right, bottom_left = corners - low
    quad = (*top_left, *bottom_left, *bottom_right, *top_right)
    return part.transform(
        (width, height),
        Image.Transform.QUAD,
        [float(value) for value in quad],
        Image.Resampling.BILINEAR,
    )


def _lesson(pixels: Pixels, lab: Floats, mask: Mask) -> tuple[Pixels, Pixels]:
    """Some thousand pixels under the mask, before and after correction (n, 3)."""
    at = np.flatnonzero(mask)
    rows, columns = np.divmod(at[:: max(1, len(at) // _LESSON)], mask.shape[1])
    return pixels[rows, columns], lab_to_srgb8(lab[rows, columns])


def _taught(cut: Image.Image, before: Pixels, after: Pixels) -> Pixels:
    """Give ``cut`` the change that took ``before`` (n, 3) to ``after`` (n, 3).

    Within one scrap light is even, so the change is a smooth function of colour: a quadratic in
    the encoded channels, fitted by ridge regression on what it adds.
    """
    if not len(before) or np.array_equal(before, after):
        return np.asarray(cut)
    seen = before.astype(float) / 255
    change = after.astype(float) / 255 - seen
    design = _terms(seen)
    ridge = _RIDGE * len(design) * np.diag([0.0, *[1.0] * (design.shape[1] - 1)])
    weights = np.linalg.solve(design.T @ design + ridge, design.T @ change)
    weights[1:4] += np.eye(3)
    return _changed(np.asarray(cut), weights)


def _changed(pixels: Pixels, weights: Floats) -> Pixels:
    """``pixels`` (h, w, 3) by the ``weights`` (10, 3) of :func:`_terms`, some thousand at a time
    so that their terms stay in the processor's cache.
    """
    flat = pixels.reshape(-1, 3)
    out = np.empty_like(flat)
    turned = (255 * weights.T).astype(np.float32)
    terms = np.ones((_TERMS, _AT_ONCE), np.float32)
    for start in range(0, len(flat), _AT_ONCE):
        part = flat[start : start + _AT_ONCE]
        some = terms[:, : len(part)]
        np.multiply(part.T, np.float32(1 / 255), out=some[1:4])
        np.square(some[1:4], out=some[4:7])
        np.multiply(some[1:3], some[2:4], out=some[7:9])
        np.multiply(some[1], some[3], out=some[9])
        found = turned @ some + np.float32(0.5)
        out[start : start + _AT_ONCE] = np.clip(found, 0, 255).T
    return out.reshape(pixels.shape)


def _terms(rgb: Floats) -> Floats:
    r, g, b = rgb[:, 0], rgb[:, 1], rgb[:, 2]
    return np.stack([np.ones_like(r), r, g, b, r * r, g * g, b * b, r * g, g * b, r * b], axis=1)
