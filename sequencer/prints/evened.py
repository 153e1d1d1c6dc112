"""A copy of a print in which a cast or a dim light no longer hides one ink from another.

Each channel is stretched until its lightest half per cent reaches white (von Kries 1902, the white
by quantile): under a bluish lamp brown and black, or two reds, lie so close that they would pass
for one dye. Which inks there are is decided in the copy; what is told of them is turned back.
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

_WHITE = 0.995  # quantile of a channel that becomes white; by hand, never fitted
_MOST = 3.0
"""Times a channel is stretched at most: beyond it noise would pass for colour."""
_BLACK = 1e-3  # linear light, so that nothing is divided by zero
_CAST = 1.9
"""Ratio of largest to smallest stretch from which the copy is looked at: below it (a print of
sand and night has 1.8) what the copy finds is as often a blur (chosen, not fitted)."""
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


def stretch_of(lab: Floats, mask: Mask) -> Stretch | None:
    """For the print under ``mask`` (h, w) of ``lab`` (h, w, 3); None where it changes little."""
    at = np.flatnonzero(mask)
    rows, columns = np.divmod(at[:: max(1, len(at) // _SAMPLED)], mask.shape[1])
    some = lab[rows, columns].T.astype(np.float32)
    linear = xyz_to_linear(lab_planes_to_xyz(some).T).T
    place = int(_WHITE * (linear.shape[1] - 1))
    white = np.partition(linear, place, axis=1)[:, place]
    gains = np.clip(1 / np.maximum(white, _BLACK), 1, _MOST)
    return None if gains.max() < _CAST * gains.min() else Stretch(gains)


def _times(colours: Floats, gains: Floats) -> Floats:
    linear = xyz_to_linear(lab_to_xyz(np.asarray(colours, float)))
    return np.asarray(xyz_to_lab(linear_to_xyz(linear * gains)))
