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
from sequencer.photo.curves import SRGB, Profile

Floats = NDArray[np.floating]

SHEET_Y = 0.88
"""Luminance factor of plain white paper: L* 95, the paper white of ISO 12647-2:2013."""
GREY_Y = 0.184
"""Luminance factor of an 18 % grey card."""

AXES: Floats = np.array([
    [1.8169, -0.4616, -0.2436],
    [-0.0377, 0.9929, 0.0394],
    [-0.116, 0.3094, 0.7353],
])  # fmt: skip
"""XYZ to the axes in which white is adapted."""
MEAN: Floats = np.array([
    [1.042, -0.0542, 0.0131],
    [-0.0337, 0.9813, 0.0466],
    [0.0422, -0.0266, 0.9876],
])  # fmt: skip
"""XYZ after that to the likeliest true XYZ; white stays white."""
DRIFT: Floats = np.array([-0.6676, -2.1868, 1.8941])
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
