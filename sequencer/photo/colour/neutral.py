"""One neutral patch of known lightness, a white sheet or a grey card, put where it belongs.

What a phone gets wrong it gets wrong in its sensor's own axes, so the white is adapted in axes like
those (von Kries 1902; sharper than Bradford's, compare Finlayson, Drew, Funt 1994). What phones
then still have in common under ten lamps is taken out: a mean matrix and a drift of strong colours.
The constants follow from published spectra alone: ``benchmarks/fit_neutral.py`` derives them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import D65_WHITE, linear_to_xyz
from sequencer.photo.colour.curves import SRGB, Profile

Floats = NDArray[np.floating]

SHEET_Y = 0.88
"""Luminance factor of plain white paper: L* 95, the paper white of ISO 12647-2:2013."""
GREY_Y = 0.184
"""Luminance factor of an 18 % grey card."""

AXES: Floats = np.array([
    [1.8085, -0.4651, -0.2331],
    [-0.0519, 1.0118, 0.0345],
    [-0.09, 0.2826, 0.7373],
])  # fmt: skip
"""XYZ to the axes in which white is adapted."""
MEAN: Floats = np.array([
    [1.0411, -0.0495, 0.0096],
    [-0.0311, 0.987, 0.0391],
    [0.0314, -0.0137, 0.9852],
])  # fmt: skip
"""XYZ after that to the likeliest true XYZ; white stays white."""
DRIFT: Floats = np.array([-0.6635, -2.1483, 1.7724])
"""How far strong colours still are from the truth in CIELAB, see ``curves.drifted``."""


def adapted(xyz: Floats, white: Floats, axes: Floats) -> Floats:
    """XYZ (…, 3) with ``white`` brought to D65 at Y = 1, by gains along ``axes`` (3, 3)."""
    gains = (D65_WHITE @ axes.T) / (white @ axes.T)
    return np.asarray((xyz @ axes.T) * gains @ np.linalg.inv(axes).T)


def white_profile(encoded: Floats, light: float, luminance: float, bend: float) -> Profile:
    """Put one neutral patch of known ``luminance`` (0 to 1) where it belongs.

    ``encoded`` (3,): its sRGB, 0 to 1; ``light``: how brightly it is lit; ``bend`` of the tone
    curve, undone first. Exposure and adaptation to D65 follow.
    """
    bends = np.full(3, bend)
    seen = linear_to_xyz(np.maximum(Profile(bends, SRGB.matrix).linear(encoded) / light, 1e-4))
    matrix = adapted(SRGB.matrix.T, seen, AXES) * luminance
    return Profile(bends, MEAN @ matrix.T, drift=DRIFT)
