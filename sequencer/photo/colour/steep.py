"""A camera much steeper than usual, told by what would be whiter than white.

Read by a grey card, a photo from a camera that darkens shadows strongly comes out far too light
above the card. Where even a quarter of the picture would reflect more light than falls on it, the
response must be steeper: the least power at which that quarter is no lighter than white paper is
undone. Both limits are physical and fitted to no camera. A sheet says nothing of this kind: what
lies below it may well be dark. A sunlit patch or a lamp fills less than a quarter.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sequencer.models import Pixels
from sequencer.photo.colour.curves import Profile
from sequencer.photo.colour.light import Light
from sequencer.photo.colour.shoulder import Shoulder

_QUARTER = 75.0  # percentile; on 16 real photos read by L* 50 to 80 only a scanner's lie above
_DIFFUSER = 1.0
"""Luminance factor of the perfect reflecting diffuser (CIE 015:2018)."""
_PAPER = 0.876
"""Of white paper, L* 95 (ISO 12647-2:2013)."""
_STEEPEST = 3.5  # power; the steepest measured is 1.9
_EVERY = 6  # of pixels each way
_HALVINGS = 12  # to a thousandth of the power


def believable(
    profile_of: Callable[[Shoulder], Profile], usual: Shoulder, pixels: Pixels, light: Light
) -> Profile:
    """The profile by the ``usual`` shoulder, or by a steeper one where that makes light of nothing.

    ``pixels`` (h, w, 3) sRGB; ``light`` over them; ``profile_of`` a shoulder.
    """
    few = pixels[::_EVERY, ::_EVERY]
    lit = np.exp(light.over(*few.shape[:2])).ravel()
    encoded = few.reshape(-1, 3) / 255

    def lightest(profile: Profile) -> float:
        luminance = profile.linear(encoded) @ profile.matrix[1]
        return float(np.percentile(luminance / lit, _QUARTER))

    profile = profile_of(usual)
    if lightest(profile) <= _DIFFUSER:
        return profile
    low, high = usual.power, _STEEPEST
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        profile = profile_of(Shoulder(middle, usual.knee))
        low, high = (middle, high) if lightest(profile) > _PAPER else (low, middle)
    return profile
