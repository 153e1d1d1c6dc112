"""One neutral of known lightness, a white sheet or a card of grey, put where it belongs.

The camera's shoulder is undone (:mod:`sequencer.photo.colour.shoulder`), then gains on linear sRGB
bring the neutral to its colour (von Kries 1902). Nothing else: axes sharper than that, a mean
matrix and a drift of strong colours helped simulated cameras and no real ones.

A sheet's own colour is not known. Paper as it lies beside the cloth is darker than the L* 95 of
ISO 12647-2 and bluish by its brighteners, the bluer the more. So its expected L* and b* follow from
how blue it reads, between the limits of the table below. A light card loses a little to the
shoulder that is not undone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import (
    lab_to_xyz,
    linear_to_xyz,
    srgb_to_linear,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.photo.colour.curves import SRGB, Profile
from sequencer.photo.colour.taught import GENERAL, Expected

Floats = NDArray[np.floating]

GREY_L = 50.0
"""L* of an 18 % grey card (luminance factor 0.184)."""

# Expected colour of a sheet; b is the b* that the photo gives it. From 25 real photos of white
# patches and of paper beside targets, 7 cameras, by benchmarks/photo/fit_real.py.
_SHEET_L = (89.5, 0.5, 83.5, 91.0)
"""L*: at b = 0, for each unit of b, lowest, highest."""
_SHEET_B = (-1.0, 0.4, -5.0, 0.0)
"""b*: at b = 0, for each unit of b, lowest, highest."""
_BLOWN_L = 97.0
"""L* of a sheet with a clipped channel: what was cut off is not known, and more than nothing."""
_CLIPPED = 254 / 255  # encoded value from which a channel is cut off; by hand
_DARKEST = 1e-4  # linear value, so that nothing is divided by zero
_LIGHT_FROM, _LOST = 70.0, 0.16
"""A card loses 0.16 of each L* above 70 to the part of the shoulder that is not undone."""


def sheet_lab(encoded: Floats) -> tuple[float, float, float]:
    """The likeliest CIELAB of a white sheet that reads as ``encoded`` (3,) sRGB, 0 to 1."""
    b = float(xyz_to_lab(linear_to_xyz(srgb_to_linear(encoded)))[2])
    lightness = _line(b, *_SHEET_L)
    if encoded.max() >= _CLIPPED:
        lightness = _BLOWN_L
    return lightness, 0.0, _line(b, *_SHEET_B)


def card_lab(stated: float | None) -> tuple[float, float, float]:
    """CIELAB that a grey card of this L*, of an 18 % card if none is stated, is brought to."""
    lightness = GREY_L if stated is None else stated
    return lightness - _LOST * max(0.0, lightness - _LIGHT_FROM), 0.0, 0.0


def _line(x: float, start: float, slope: float, low: float, high: float) -> float:
    return float(np.clip(start + slope * x, low, high))


def bare_profile(expected: Expected, lift: float = 1.0) -> Profile:
    """Without a reference: as the file states it, or as the camera's lessons had it, lifted."""
    if expected.gains is None or expected.matrix is None:
        return SRGB if lift == 1 else Profile(np.zeros(3), SRGB.matrix * lift)
    whole = expected.matrix * expected.gains * lift
    return Profile(np.zeros(3), linear_to_xyz(whole.T).T, shoulder=expected.shoulder)


def neutral_profile(
    encoded: Floats, light: float, lab: tuple[float, float, float], expected: Expected = GENERAL
) -> Profile:
    """Bring a neutral that reads as ``encoded`` (3,) sRGB, 0 to 1, to CIELAB ``lab``.

    ``light``: how brightly it is lit, 1 at the picture's middle. ``expected`` of the camera.
    """
    shoulder = expected.shoulder
    mixing = np.eye(3) if expected.matrix is None else expected.matrix
    seen = shoulder.whole(shoulder.half(encoded)[:, None])[:, 0] / light
    balanced = np.linalg.solve(mixing, xyz_to_linear(lab_to_xyz(lab)))
    gains = balanced / np.maximum(seen, _DARKEST)
    return Profile(np.zeros(3), linear_to_xyz((mixing * gains).T).T, shoulder=shoulder)
