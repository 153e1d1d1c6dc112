"""How far apart two colours are: CIEDE2000 for small differences, HyAB for large ones.

CIEDE2000 (Sharma, Wu, Dalal 2005) is the measure for accuracy and for 'do these two blur'.
Between neighbours of a sequence differences run from 10 to 60, where CIEDE2000 is among the
worst against Munsell renotation; HyAB (Abasi, Tehran, Fairchild 2020) is among the best.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour.spaces import Floats


def ciede2000(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """ΔE00 with kL = kC = kH = 1; arrays (…, 3) broadcast against each other."""
    from skimage.color import deltaE_ciede2000

    first, second = np.broadcast_arrays(np.asarray(lab_a, float), np.asarray(lab_b, float))
    return np.asarray(deltaE_ciede2000(first, second))


def one_against_many(lab: ArrayLike, many: ArrayLike) -> Floats:
    """ΔE00 of one colour (3,) against rows of ``many`` (n, 3), by colormath: swatch-sized data."""
    from colormath.color_diff_matrix import delta_e_cie2000

    rows = np.atleast_2d(np.asarray(many, dtype=float))
    return np.asarray(delta_e_cie2000(np.asarray(lab, dtype=float), rows))


def hyab(lab_a: ArrayLike, lab_b: ArrayLike) -> Floats:
    """HyAB: |ΔL*| + hypot(Δa*, Δb*) (Abasi, Tehran, Fairchild, Color Res. Appl. 45, 2020)."""
    difference = np.asarray(lab_a, dtype=float) - np.asarray(lab_b, dtype=float)
    return np.asarray(np.abs(difference[..., 0]) + np.hypot(difference[..., 1], difference[..., 2]))
