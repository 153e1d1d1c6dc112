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
_ROUNDS = 20


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
    return _error_of_most(seen, wanted) <= _REST


def _error_of_most(given: Floats, wanted: Floats) -> float:
    """The same but for the patches that fit worst: least trimmed squares (Rousseeuw 1984)."""
    count = len(given) - round(_WITHOUT * len(given))
    kept = np.arange(len(given))
    for _ in range(_ROUNDS):
        left = _left(given, wanted, kept)
        before, kept = kept, np.sort(np.argsort(left)[:count])
        if np.array_equal(before, kept):
            break
    return _error(left[kept])


def _left(given: Floats, wanted: Floats, kept: NDArray[np.intp] | slice = slice(None)) -> Floats:
    """Squared error (n,) of the affine map of ``given`` (n, 3) to ``wanted`` that fits those
    ``kept`` best."""
    terms = np.column_stack([given, np.ones(len(given))])
    fit = np.linalg.lstsq(terms[kept], wanted[kept], rcond=None)[0]
    return np.asarray(((wanted - terms @ fit) ** 2).sum(axis=1))


def _error(left: Floats) -> float:
    # Each free number of the map counts as a patch less: few patches fit any map.
    return float(np.sqrt(left.sum() / (3 * (len(left) - 4)) * (20 / 24)))
