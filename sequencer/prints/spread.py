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
_FINE = 5  # pixels across a patch are enough for its mean
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
    side = ppi * float(strip)
    if side < _LEAST:
        return None
    step = max(1, int(side / _FINE))
    sums, counts = _blocks(lab, mask, step)
    patches = _patch_means(sums, counts, round(side / step), step)
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


def _blocks(lab: Floats, mask: NDArray[np.bool_], step: int) -> tuple[Floats, Floats]:
    """Sums of cloth colours (3, h, w) and of cloth pixels (h, w) in squares of ``step`` pixels.

    Every pixel counts: picking one in ``step`` would see fine stripes as broad ones.
    """
    height, width = (length // step * step for length in mask.shape)
    covered = mask[:height, :width]
    colours = lab[:height, :width] * covered[..., None]
    down, across = height // step, width // step
    rows = colours.reshape(down, step, width * 3).sum(axis=1).reshape(down, across, step, 3)
    tall = covered.reshape(down, step, width).sum(axis=1, dtype=np.uint16)
    counts = tall.reshape(down, across, step)
    sums = np.zeros((3, down, across))
    for k in range(step):
        sums += rows[:, :, k].transpose(2, 0, 1)
    return sums, counts.sum(axis=2, dtype=float)


def _patch_means(sums: Floats, counts: Floats, side: int, block: int) -> Floats:
    """Means over a grid of squares of ``side`` blocks on the cloth, half a square apart."""
    height, width = counts.shape
    step = max(1, side // 2)
    tops = np.arange(0, height - side + 1, step)
    lefts = np.arange(0, width - side + 1, step)
    if not len(tops) or not len(lefts):
        return np.zeros((0, 3))
    covered = _boxes(counts, tops, lefts, side)
    inside = covered >= _COVERED * (side * block) ** 2
    added = [_boxes(plane, tops, lefts, side) for plane in sums]
    return np.stack(added, axis=-1)[inside] / covered[inside][:, None]


def _boxes(plane: Floats, tops: NDArray[np.int_], lefts: NDArray[np.int_], side: int) -> Floats:
    """Sums over squares, down and then across."""
    tall, out = np.zeros((len(tops), plane.shape[1])), np.zeros((len(tops), len(lefts)))
    for k in range(side):
        tall += plane[tops + k]
    for k in range(side):
        out += tall[:, lefts + k]
    return out
