"""Which two colours are one dye, in light and shade, weave or noise.

Constants are by hand, never fitted.
"""

from __future__ import annotations

import numpy as np

from sequencer.prints.bins import Bins
from sequencer.prints.borders import Labels, sharpness
from sequencer.prints.pixels import Cloth, Floats

_TONE = 9.0  # ΔE00 within which only a sharp border parts two colours
_SHADED = 24.0  # ΔE00 up to which a fold's shade may part one dye
_SHARP = 0.55  # of the difference of two colours that a border of inks takes within 3 pixels
_OFF_SHADE = 6.0  # CIELAB a*, b* that a shade may be off where the light one's would be
_BESIDE, _BESIDE_LEAST = 0.25, 25.0  # squares: of two colours' distance, of ΔE76 off their axis
_HALF_WIDE = 0.15  # of the axis, to either side of a place on it that is counted
_VALLEY = 0.6  # of the lesser peak: with fewer pixels half way two colours are parted
_DIGITS = 6  # of a ΔE00 that count, so that last bits of the machine never do


def one_dye(
    cloth: Cloth, bins: Bins, labels: Labels, centres: Floats, gaps: Floats
) -> tuple[int, int] | None:
    """The closest pair of little difference, or of light and shade, that no sharp border parts.

    Thick threads have sharp borders too, so that light and shade must also be rarer half way.
    """
    gaps = np.triu(gaps)
    close = [(i, j) for i, j in np.argwhere((gaps > 0) & (gaps < _SHADED)).tolist()
             if gaps[i, j] < _TONE or as_in_shade(centres[i], centres[j])]  # fmt: skip
    if not close:
        return None
    sharp = sharpness(cloth.calm, labels, cloth.mask, centres)
    close = [
        (i, j) for i, j in close
        if sharp[i, j] < _SHARP
        or (as_in_shade(centres[i], centres[j]) and not _valley(bins, centres[i], centres[j]))
    ]  # fmt: skip
    return min(close, key=lambda pair: round(float(gaps[pair]), _DIGITS), default=None)


def as_in_shade(first: Floats, second: Floats) -> bool:
    """In shade chroma falls with lightness and hue stays."""
    light, dark = (first, second) if first[0] >= second[0] else (second, first)
    expected = light[1:] * (dark[0] / max(float(light[0]), 1.0))
    return bool(np.hypot(*(expected - dark[1:])) < _OFF_SHADE)


def _valley(bins: Bins, first: Floats, second: Floats) -> bool:
    """Whether fewer pixels lie half way between two colours than at either."""
    axis = second - first
    length = float(axis @ axis)
    along = (bins.colours - first) @ axis / length
    off = np.square(bins.colours - first - along[:, None] * axis).sum(axis=1)
    near = off < max(_BESIDE * length, _BESIDE_LEAST)

    def mass(at: float) -> float:
        return float(bins.pixels[near & (np.abs(along - at) < _HALF_WIDE)].sum())

    return mass(0.5) < _VALLEY * min(mass(0.0), mass(1.0))
