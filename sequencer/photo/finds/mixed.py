"""A picture read whole as one print, whose parts are unlike: several scraps, or no cloth.

A print comes again: a ninth of it holds nearly the colours of the whole. How far it does not is the
mean distance between the quantiles of each ninth and those of the whole (Wasserstein's distance in
one dimension), by each axis of CIELAB. Large motifs seen close do not come again either, so this is
said with an 'if', and nothing is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_lab
from sequencer.models import Pixels

_SIDE = 3
"""The picture's parts in each direction."""
_EVERY = 4
"""Lines and columns of the analysis picture of which one is looked at."""
_RANKS = np.linspace(0.02, 0.98, 25)
"""Quantiles that are compared, without the outermost fiftieths: by hand, never fitted."""
_UNLIKE = 15.0
"""Mean distance, CIELAB, from which it is said. Chosen on 12 real cloths (two zigzags seen close
lie beyond, then 12.4), 5 sample prints (at most 8) and 16 pictures of faces, rooms, landscapes and
the like (8 beyond; a cat, 7, and others as even as cloth are not told)."""

_WORDS = (
    "the whole picture was read as one print, but its parts are unlike each other; if it shows "
    "several scraps, photograph them apart on a plain table, and if it shows no cloth, drop it"
)


def unlike_parts(pixels: Pixels) -> tuple[str, ...]:
    """What to say of ``pixels`` (h, w, 3), sRGB, that were read as one print; mostly nothing."""
    lab = np.asarray(srgb8_to_lab(pixels[::_EVERY, ::_EVERY]))
    if min(lab.shape[:2]) < _SIDE:
        return ()
    whole = _ranked(lab)
    rows = np.array_split(lab, _SIDE)
    ninths = (one for row in rows for one in np.array_split(row, _SIDE, axis=1))
    apart = [np.linalg.norm(np.abs(_ranked(one) - whole).mean(axis=0)) for one in ninths]
    return (_WORDS,) if float(np.mean(apart)) > _UNLIKE else ()


def _ranked(lab: NDArray[np.floating]) -> NDArray[np.floating]:
    """Quantiles (25, 3) of colours (h, w, 3)."""
    return np.asarray(np.quantile(lab.reshape(-1, 3), _RANKS, axis=0))
