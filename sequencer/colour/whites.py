"""Chromatic adaptation: what a colour under one white looks like under another."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour.spaces import Floats


def adaptation_matrix(from_white: ArrayLike, to_white: ArrayLike) -> Floats:
    """The 3×3 Bradford matrix M with ``xyz_to = M @ xyz_from``.

    Whites are XYZ, any common scale. Cone matrix from colormath's constants (Lam 1985, as used by
    ICC.1:2022 Annex E); whites are scaled to Y = 1 first, so the matrix never changes exposure.

    Raises:
        ValueError: a white has no positive luminance.
    """
    from colormath.color_constants import ADAPTATION_MATRICES

    cone = np.asarray(ADAPTATION_MATRICES["bradford"], dtype=float)
    source, target = (np.asarray(white, dtype=float) for white in (from_white, to_white))
    if source[1] <= 0 or target[1] <= 0:
        raise ValueError("a white needs a positive Y")
    gains = (cone @ (target / target[1])) / (cone @ (source / source[1]))
    return np.asarray(np.linalg.solve(cone, gains[:, None] * cone))
