"""The 24-patch target, found by its regular grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels

Floats = NDArray[np.floating]
Found = tuple[Floats, Floats, Floats]
"""polygon (4, 2), encoded (24, 3), centres (24, 2)."""


def find_target(pixels: Pixels) -> Found | None:
    """Look for a target anywhere in the picture."""
    return None


def read_target(pixels: Pixels, corners: Floats) -> Found | None:
    """Read the patches of a target whose outer corners are known."""
    return None
