"""What patches of the strip's own size read as: the print averaged over squares of that size.

A large motif shows a different colour in every small patch. ΔE00 between the patches' means and
their common mean says how steady a print is at this strip width.
Constants are by hand, never fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import ciede2000, plain_name

Floats = NDArray[np.floating]

_COVERED = 0.85  # of a patch that is cloth
_LEAST = 1.5  # pixels across a patch: below it is none
_MOST = 80  # percentile of the patches: a fifth may exceed what is steady
_UNSTEADY = 10.0  # ΔE00 from the mean that such a patch lies off at most
_AT_END = 20  # one in so many patches lies at each end of a print's range, and gives its word


@dataclass(frozen=True, eq=False)
class ReadsAs:
    """``patches`` (n, 3): mean CIELAB of each patch; ``spread``: mean ΔE00 from their mean."""

    patches: Floats
    mean_lab: tuple[float, float, float]
    spread: float
    warnings: tuple[str, ...]


def reads_as(
    lab: Floats, mask: NDArray[np.bool_], ppi: float, strip: Fraction
) -> ReadsAs | None:
    """Patches of ``strip`` inches a side on a print at ``ppi`` pixels an inch.

    ``lab`` (h, w, 3), ``mask`` (h, w) True on cloth. None when fewer than two whole patches fit or
    a patch would be smaller than 1 1/2 pixels.
    """
    if ppi * float(strip) < _LEAST:
        return None
    patches = _patch_means(lab, mask, round(ppi * float(strip)))
    if len(patches) < 2:
        return None
    mean = patches.mean(axis=0)
    apart = ciede2000(patches, mean)
    spread = float(apart.mean())
    return ReadsAs(
        patches,
        (float(mean[0]), float(mean[1]), float(mean[2])),
        spread,
        (_unsteady(patches, strip),) if _is_unsteady(apart) else (),
    )


def _is_unsteady(apart: Floats) -> bool:
    return bool(np.percentile(apart, _MOST) > _UNSTEADY)


def _unsteady(patches: Floats, strip: Fraction) -> str:
    """The two ends of the patches' longest direction, in words."""
    centred = patches - patches.mean(axis=0)
    along = np.linalg.svd(centred, full_matrices=False)[2][0]
    along = along if along[0] >= 0 else -along
    ranked = patches[np.argsort(centred @ along, kind="stable")]
    few = max(1, len(ranked) // _AT_END)
    ends = [plain_name(part.mean(axis=0)) for part in (ranked[:few], ranked[-few:])]
    what = f"from {ends[0]} to {ends[1]}" if ends[0] != ends[1] else f"{ends[0]}, light and dark"
    return f"at {strip} in this print reads as anything {what}: its motif is larger than the strip"


def _patch_means(lab: Floats, mask: NDArray[np.bool_], side: int) -> Floats:
    """Means over squares of ``side`` pixels on the cloth, half a square apart.

    A square's sum is what lies above and left of its corners (Crow, "Summed-area tables for
    texture mapping", SIGGRAPH 1984).
    """
    height, width = mask.shape
    whole = np.zeros((4, height + 1, width + 1))
    np.multiply(np.moveaxis(lab, -1, 0), mask, out=whole[:3, 1:, 1:])
    whole[3, 1:, 1:] = mask
    for axis in (1, 2):
        np.cumsum(whole, axis=axis, out=whole)
    top, left = (np.arange(0, n - side + 1, max(1, side // 2)) for n in mask.shape)
    rows = whole[:, top + side] - whole[:, top]
    sums = rows[:, :, left + side] - rows[:, :, left]
    inside = sums[3] >= _COVERED * side * side
    return np.asarray((sums[:3, inside] / sums[3, inside]).T)
