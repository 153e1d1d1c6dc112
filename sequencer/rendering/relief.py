"""How seams, pressing and binding catch the light: shading factors around 1.

Cloth dips into a seam and rises over the folded allowance beside it. With light from the upper
left, a patch is a little brighter along its upper and left edges and darker along the others.
Depths and widths below were set by eye against photographs of pressed patchwork: no source.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Factor = NDArray[np.float32]

VALLEY = 0.22
"""Share of light lost in the very seam line."""
VALLEY_WIDTH = 0.013
"""Half width of that line, inches."""
RISE = 0.075
"""Brightening and darkening beside a seam."""
RISE_WIDTH = 0.055
"""Inches over which cloth rises out of the seam."""
_FINE = 600.0


@lru_cache(maxsize=1024)
def across(length: float, pixels: int, before: float = 1.0, after: float = 1.0) -> Factor:
    """Shading (pixels,) across cloth of ``length`` inches with a seam at either end.

    ``before`` and ``after`` say how strongly each end shows: 1 a seam, 0 none.
    """
    fine = max(1, int(np.ceil(_FINE * length / pixels)))
    at = (np.arange(pixels * fine) + 0.5) * (length / (pixels * fine))
    light = np.ones_like(at)
    for distance, sign, strength in ((at, 1.0, before), (length - at, -1.0, after)):
        light -= strength * VALLEY * np.exp(-((distance / VALLEY_WIDTH) ** 2))
        light += strength * sign * RISE * np.exp(-distance / RISE_WIDTH)
    shading = np.asarray(light.reshape(pixels, fine).mean(axis=1), dtype=np.float32)
    shading.setflags(write=False)
    return shading


def rolled(width: float, pixels: int, towards_light: bool) -> Factor:
    """Shading (pixels,) across a binding, from the outer edge in to the seam it is sewn along.

    The binding is a roll: its outer half faces away from the piece, its inner half into it, with a
    dark ditch at the seam and a soft turn to the back at the edge.
    """
    t = (np.arange(pixels) + 0.5) / pixels
    facing = np.cos(np.pi * t) * (0.11 if towards_light else -0.11)
    edge = 0.30 * np.exp(-((t * width / 0.022) ** 2))
    ditch = 0.34 * np.exp(-(((1 - t) * width / 0.02) ** 2))
    return np.asarray(1.02 + facing - edge - ditch, dtype=np.float32)
