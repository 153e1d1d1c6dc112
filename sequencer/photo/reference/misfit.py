"""How well the colours of 24 patches are those of the target, whatever light and camera did.

All in cube-root light, where the steps between patches are even and an affine map stands for any
white balance, exposure and mild curve.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear

Floats = NDArray[np.floating]

_WITHOUT = 0.25  # share of the patches that a cast may spoil
_REST, _FORTH = 0.068, 0.07
"""Of targets under tungsten light balanced for daylight the worst reach .062 and .067; glared,
shifted or mixed-up ones .073 or .075, but for two pairs of like colours changed for each other.
Fitted on 60 simulated photos; tests/photo/test_target_cast.py tries others."""
_ROUNDS = 20  # at most, until the same patches are left out again; by hand
_PATCHES, _FREE = 24, 4  # of a target; numbers of an affine map for each channel
_GLARE, _NO_LESS = 0.15, -0.03
"""Cube-root light that a patch under glare lies above what the others say, in its middle channel
and in its least: of 384 patches of 16 photographed targets the most is .139, of 1,100 of
simulated ones .14; of those painted white nine in ten lie beyond."""


def even_light(encoded: Floats) -> Floats:
    """Cube roots of linear light of encoded sRGB, 0 to 1."""
    return np.cbrt(srgb_to_linear(encoded))


def misfit(encoded: Floats, wanted: Floats) -> float:
    """Root mean square error of the best affine map of patches (n, 3) to the published colours.

    ``encoded``: sRGB, 0 to 1; ``wanted``: cube-root light. Mixed-up patches leave several times as
    much as true ones.
    """
    return _error(_left(even_light(encoded), wanted))


def under_a_cast(encoded: Floats, wanted: Floats) -> bool:
    """Whether they are the target's under a light that takes a channel from most strong colours.

    No map brings back what a channel no longer tells. But the published colours still say what is
    seen, where a channel that is all but gone is nothing to be said, and without the quarter of
    the patches that lost most the map fits as ever. Glare and mixed-up patches fail the first,
    what has no colours at all the second.
    """
    seen = even_light(encoded)
    if _error(_left(wanted, seen)) > _FORTH:
        return False
    return misfit_of_most(encoded, wanted) <= _REST


def glared(encoded: Floats, wanted: Floats) -> list[int]:
    """Rows of the patches that are lighter than the other patches let expect.

    A channel that is nearly full already has no room for glare: two others must tell it.
    """
    seen = even_light(encoded)
    over = _off(wanted, seen, _most(wanted, seen))
    lit = (np.median(over, axis=1) > _GLARE) & (over.min(axis=1) > _NO_LESS)
    return [int(row) for row in np.flatnonzero(lit)]


def misfit_of_most(encoded: Floats, wanted: Floats) -> float:
    """:func:`misfit` without the quarter of the patches that fits worst."""
    seen = even_light(encoded)
    kept = _most(seen, wanted)
    return _error(_left(seen, wanted, kept)[kept])


def _most(given: Floats, wanted: Floats) -> NDArray[np.intp]:
    """Rows without those that fit worst: least trimmed squares (Rousseeuw 1984)."""
    count = len(given) - round(_WITHOUT * len(given))
    kept = np.arange(len(given))
    for _ in range(_ROUNDS):
        before, kept = kept, np.sort(np.argsort(_left(given, wanted, kept))[:count])
        if np.array_equal(before, kept):
            break
    return kept


def _left(given: Floats, wanted: Floats, kept: NDArray[np.intp] | slice = slice(None)) -> Floats:
    """Squared error (n,) of the map that fits the patches ``kept`` best."""
    return np.asarray((_off(given, wanted, kept) ** 2).sum(axis=1))


def _off(given: Floats, wanted: Floats, kept: NDArray[np.intp] | slice) -> Floats:
    """How far ``wanted`` (n, 3) lies above the affine map of ``given`` that fits ``kept`` best."""
    terms = np.column_stack([given, np.ones(len(given))])
    fit = np.linalg.lstsq(terms[kept], wanted[kept], rcond=None)[0]
    return np.asarray(wanted - terms @ fit)


def _error(left: Floats) -> float:
    # Each free number of the map counts as a patch less: few patches fit any map.
    return float(np.sqrt(left.sum() / (3 * (len(left) - _FREE)) * ((_PATCHES - _FREE) / _PATCHES)))
