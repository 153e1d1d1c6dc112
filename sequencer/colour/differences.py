"""How far apart two colours are: CIEDE2000 for small differences, strip units for large ones.

CIEDE2000 (Sharma, Wu, Dalal 2005) is the measure for accuracy. Between neighbours of a sequence
differences run from 10 to 60, where it is among the worst against Munsell renotation and against
OSA-UCS. There, and for 'do these two blur', counts the distance in strip space: CIELAB with its
chroma compressed by a logarithm, as DIN99 does (Rohner and Rich 1996; DIN 6176), since a step
from vivid to more vivid looks smaller than the same step from grey.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour.spaces import Floats, lch


def ciede2000(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """ΔE00 with kL = kC = kH = 1; arrays (…, 3) broadcast against each other.

    Sharma, Wu, Dalal (Color Res. Appl. 30, 2005), equations 2 to 22. Our own, since the library
    that has it takes a fifth of a second to open, and nothing else of it is needed for a sequence.
    """
    first, second = np.broadcast_arrays(np.asarray(lab_a, float), np.asarray(lab_b, float))
    (l_1, a_1, b_1), (l_2, a_2, b_2) = np.moveaxis(first, -1, 0), np.moveaxis(second, -1, 0)
    stretch = 1.5 - 0.5 * _vivid((np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2)
    c_1, h_1 = _polar(stretch * a_1, b_1)
    c_2, h_2 = _polar(stretch * a_2, b_2)
    grey, apart = c_1 * c_2 == 0, h_2 - h_1
    around = np.where(apart > np.pi, -2 * np.pi, np.where(apart < -np.pi, 2 * np.pi, 0.0))
    turn = np.where(grey, 0.0, apart + around)
    both = h_1 + h_2
    other_side = np.where(both < 2 * np.pi, both + 2 * np.pi, both - 2 * np.pi)
    hue = np.where(grey, both, np.where(around == 0, both, other_side) / 2)
    chroma = (c_1 + c_2) / 2
    s_l, s_c, s_h = _weights((l_1 + l_2) / 2, chroma, hue)
    light, vivid = (l_2 - l_1) / s_l, (c_2 - c_1) / s_c
    tint = 2 * np.sqrt(c_1 * c_2) * np.sin(turn / 2) / s_h
    blues = np.radians(60) * np.exp(-(((np.degrees(hue) - 275) / 25) ** 2))
    tilt = -2 * _vivid(chroma) * np.sin(blues) * vivid * tint
    return np.asarray(np.sqrt(light**2 + vivid**2 + tint**2 + tilt))


def _polar(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Chroma and hue angle in [0, 2π)."""
    return np.hypot(a, b), np.arctan2(b, a) % (2 * np.pi)


def _vivid(chroma: Floats) -> Floats:
    """From 0 for greys to 1 for vivid colours."""
    square = chroma * chroma
    seventh = square * square * square * chroma  # chroma**7 is a slow power
    return np.asarray(np.sqrt(seventh / (seventh + 25.0**7)))


def _weights(light: Floats, chroma: Floats, hue: Floats) -> tuple[Floats, Floats, Floats]:
    """S_L, S_C and S_H at a lightness, chroma and hue angle."""
    off = (light - 50.0) ** 2
    bumps = (1 - 0.17 * np.cos(hue - np.pi / 6) + 0.24 * np.cos(2 * hue)
             + 0.32 * np.cos(3 * hue + np.radians(6)) - 0.20 * np.cos(4 * hue - np.radians(63)))
    return 1 + 0.015 * off / np.sqrt(20 + off), 1 + 0.045 * chroma, 1 + 0.015 * chroma * bumps


def one_against_many(lab: ArrayLike, many: ArrayLike) -> Floats:
    """ΔE00 of one colour (3,) against rows of ``many`` (n, 3), by colormath: swatch-sized data."""
    from colormath.color_diff_matrix import delta_e_cie2000

    rows = np.atleast_2d(np.asarray(many, dtype=float))
    return np.asarray(delta_e_cie2000(np.asarray(lab, dtype=float), rows))


def hyab(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """HyAB: |ΔL*| + hypot(Δa*, Δb*) (Abasi, Tehran, Fairchild, Color Res. Appl. 45, 2020)."""
    difference = np.asarray(lab_a, dtype=float) - np.asarray(lab_b, dtype=float)
    return np.asarray(np.abs(difference[..., 0]) + np.hypot(difference[..., 1], difference[..., 2]))


CHROMA_LOG = 0.02
STRIP_UNIT = 1.671
"""Strip units per L*: fitted so that a median pair of prints is as far apart as by HyAB."""


def strip_space(lab: ArrayLike) -> Floats:
    """CIELAB (…, 3), D65, 2° → coordinates whose Euclidean distances are strip units.

    Lightness as it is, chroma C to ln(1 + 0.02 C) / 0.02, both times STRIP_UNIT. Where there are
    no numbers there is no colour: nan stays nan.
    """
    points = np.array(lab, dtype=float)
    chroma = np.hypot(points[..., 1], points[..., 2])
    scaled = CHROMA_LOG * chroma
    factor = np.where(scaled > 1e-9, np.log1p(scaled) / np.where(scaled > 1e-9, scaled, 1.0), 1.0)
    points[..., 1:] *= factor[..., None]
    return points * STRIP_UNIT


def strip_units(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """Distance in strip space; arrays (…, 3) broadcast against each other."""
    return np.asarray(np.linalg.norm(strip_space(lab_a) - strip_space(lab_b), axis=-1))


def moved_by(labs: Floats, draws: Floats) -> Floats:
    """Colours (…, 3) moved by ΔE00 amounts along lightness, chroma and hue (…, 3).

    Each amount is stretched by CIEDE2000's S_L, S_C, S_H at the colour (Sharma, Wu, Dalal 2005,
    equations 15 to 20, on the ellipse's own chroma without its small correction of a*, and without
    the rotation term for blues).
    """
    light, chroma, hue = np.moveaxis(lch(labs), -1, 0)
    angle = np.radians(hue)
    along = draws * np.stack(_weights(light, chroma, angle), axis=-1)
    cos, sin = np.cos(angle), np.sin(angle)
    return np.asarray(labs + np.stack([
        along[..., 0],
        along[..., 1] * cos - along[..., 2] * sin,
        along[..., 1] * sin + along[..., 2] * cos,
    ], axis=-1))
