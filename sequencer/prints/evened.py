"""A copy of a print in which neither cast nor dim light hides one ink from another.

Each channel is stretched until its lightest half per cent is as light as pale cloth (von Kries
1902, the white by quantile): under a bluish lamp brown and black, or two reds, lie so close that
they would pass for one dye. Which inks there are is decided in the copy, so that it hardly matters
what lamp and camera made of them; what is told of them is turned back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import (
    lab_planes_to_xyz,
    lab_to_xyz,
    linear_to_xyz,
    xyz_to_lab,
    xyz_to_linear,
)

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

_QUANTILE = 0.995  # of a channel that is stretched to _PALE; by hand, never fitted
_PALE = 0.7
"""Of white, linear: chosen among .35 to 1 by simulated prints (seeds 0 to 39, 100 to 139) and real
cloths; above it noise of dark prints passes for inks, below it pale inks are lost."""
_LEAST = 0.04
"""Of white, linear: a channel that is darker is stretched as if it reached that; what is in it is
rounding and noise. By hand."""
_SAMPLED = 8_000  # pixels by which a print is judged, or up to twice as many; by hand


@dataclass(frozen=True)
class Stretch:
    """``gains`` (3,): what each channel of linear sRGB is times in the copy."""

    gains: Floats

    def copied(self, lab: Floats) -> Floats:
        """Colours (…, 3), CIELAB, as they are in the copy."""
        return _times(lab, self.gains)

    def turned_back(self, colours: Floats) -> Floats:
        """Colours (…, 3) of the copy as they are in the print, CIELAB."""
        return _times(colours, 1 / self.gains)


def stretch_of(lab: Floats, mask: Mask) -> Stretch:
    """For the print under ``mask`` (h, w) of ``lab`` (h, w, 3)."""
    at = np.flatnonzero(mask)
    rows, columns = np.divmod(at[:: max(1, len(at) // _SAMPLED)], mask.shape[1])
    some = lab[rows, columns].T.astype(np.float32)
    linear = xyz_to_linear(lab_planes_to_xyz(some).T).T
    place = int(_QUANTILE * (linear.shape[1] - 1))
    white = np.partition(linear, place, axis=1)[:, place]
    return Stretch(_PALE / np.maximum(white, _LEAST))


def _times(colours: Floats, gains: Floats) -> Floats:
    linear = xyz_to_linear(lab_to_xyz(np.asarray(colours, float)))
    return np.asarray(xyz_to_lab(linear_to_xyz(linear * gains)))
