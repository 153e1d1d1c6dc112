"""How far a photo without a reference is lifted: dark ones a little, nothing else.

Half of what is wrong without a reference is exposure alone. A photo in which even the lightest
hundredth is dark was mostly exposed too low; how light it is says by how much, as far as it says
anything. Colour is left alone: cues of it (grey world and its moments, Finlayson 2013) made real
photos worse, and so did darkening light ones. Where highlights are clipped nothing is known.
Constants by benchmarks/photo/fit_bare.py (ridge regression on real and simulated photos).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import linear_to_xyz, srgb8_to_lab, srgb_to_linear
from sequencer.models import Pixels

Floats = NDArray[np.floating]

_EVERY = 4  # of pixels each way
_LIGHTEST = 99.0  # percentile
_DARKEST = 1e-4  # luminance factor, so that logs exist
_DARK = 5.0  # percentile
_RANGE = 2.0
"""Logs between the darkest twentieth and the lightest hundredth of a photo that shows more than one
thing: real photos of targets span 2.4 and more (chosen, not fitted)."""
_CLIPPED = 254  # 8-bit value
_CLIPPED_SHARE = 0.01
"""Of pixels with two channels clipped: from here on nothing is lifted (chosen, not fitted)."""
_LEVEL, _SLOPE, _MOST = -0.45, 1.5, 0.6
"""Natural logs: luminance from which on nothing is lifted, lift for each log unit below it, limit;
the limit was chosen among .4, .6 and .8."""


def shows_several(pixels: Pixels) -> bool:
    """Whether a photo (h, w, 3) sRGB spans so much light that it hardly is of one print."""
    luminance = _luminance(pixels[::_EVERY, ::_EVERY].reshape(-1, 3))
    dark, light = np.percentile(luminance, [_DARK, _LIGHTEST])
    return bool(np.log(max(light, _DARKEST) / max(dark, _DARKEST)) >= _RANGE)


def cues(pixels: Pixels) -> tuple[float, float]:
    """Log luminance of the lightest hundredth of sRGB ``pixels`` (h, w, 3), share clipped."""
    few = pixels[::_EVERY, ::_EVERY].reshape(-1, 3)
    lightest = max(float(np.percentile(_luminance(few), _LIGHTEST)), _DARKEST)
    return float(np.log(lightest)), float((np.sort(few, axis=1)[:, 1] >= _CLIPPED).mean())


def tint_of(pixels: Pixels) -> float:
    """Chroma in CIELAB of the mean colour of sRGB ``pixels`` (h, w, 3): a cast, or a red table."""
    _, a, b = srgb8_to_lab(pixels[::_EVERY, ::_EVERY]).reshape(-1, 3).mean(axis=0)
    return float(np.hypot(a, b))


def lift_by(lightest: float, clipped: float, slope: float = _SLOPE, level: float = _LEVEL) -> float:
    """Log of the gain on linear light that cues ask for."""
    sure = max(0.0, 1 - clipped / _CLIPPED_SHARE)
    return float(np.clip(slope * (level - lightest), 0, _MOST)) * sure


def lift_of(pixels: Pixels) -> float:
    """The gain on linear light, 1 to 1.8, of a photo (h, w, 3) sRGB of things on a table."""
    return float(np.exp(lift_by(*cues(pixels))))


def _luminance(colours: Pixels) -> Floats:
    return np.asarray(linear_to_xyz(srgb_to_linear(colours / 255))[:, 1])
