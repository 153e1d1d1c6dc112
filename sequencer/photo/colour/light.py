"""Uneven light, read off patches of one colour.

Inside a smooth patch (the table, a sheet, one ink of a print) slow change of lightness is change
of the light. Every such patch is a witness: its blocks' log linear values are a constant of its
own plus one quadratic surface shared by all. Huber weights, and a scatter estimated for each patch,
let plain tables lead and wood grain or shaded cloth say little; a prior shrinks what little
evidence would exaggerate.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.colour.curves import unbent
from sequencer.photo.files.view import View

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

# Chosen, by hand, on simulated tables; no script refits them.
_SMOOTH = 3.0  # CIE76 change in the view (photo/files/view.py) up to which a patch is of one colour
_BLOCK = 8  # pixels of the view
_SMALLEST_PATCH = 150  # pixels of the view
_FEWEST_BLOCKS = 30  # with fewer the light is taken for even
_BLOCK_NOISE = 0.004  # encoded units, what a block's mean scatters by at best
_PRIOR = 0.3  # standard deviation of the surface's coefficients in log light
_TEMPER = 0.03  # neighbouring blocks err alike: each counts for this much of an independent one
_TOO_DARK, _TOO_LIGHT = 0.06, 0.97  # encoded values between which a block says something
_LEVELS = 512  # steps of the table of logs
_ACROSS = 9  # places in each direction at which the fall of light is told
_ROUNDS = 6  # of weighing anew
_SCATTER = 0.01  # encoded units, of a patch before it is known
_FARTHEST = 3.0  # scatters beyond which a block says no more of its patch's own
_HUBER = 1.5  # scatters beyond which a block's weight falls
_DARKEST = 1e-5  # linear value, so that logs exist
_BITS = 12  # for a block's row and for its column in its key; a view has far fewer
_SURFACE = 5  # terms of the surface beside its constant


@dataclass(frozen=True, eq=False)
class Light:
    """Log of the light over the picture: quadratic in x, y scaled to -1…1.

    ``coefficients`` (6,): of 1, x, y, x², xy, y².
    """

    coefficients: Floats

    def at(self, x: Floats, y: Floats) -> Floats:
        """Log light at points in -1…1."""
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        return np.asarray(self.coefficients[0] + _surface(x, y) @ self.coefficients[1:])

    def over(
        self, height: int, width: int, box: tuple[slice, slice] = (slice(None), slice(None))
    ) -> NDArray[np.float32]:
        """Log light at the pixels of a (height, width) picture, or of a ``box`` of it."""
        x = ((np.arange(width) + 0.5) / width * 2 - 1).astype(np.float32)[box[1]]
        y = ((np.arange(height) + 0.5) / height * 2 - 1).astype(np.float32)[box[0], None]
        c0, cx, cy, cxx, cxy, cyy = (np.float32(c) for c in self.coefficients)
        return np.asarray((c0 + cx * x + cxx * x * x) + (cy * y + cyy * y * y) + cxy * (y * x))

    def fall(self) -> float:
        """Darkest over brightest light in the picture, 0 to 1."""
        x, y = np.meshgrid(*[np.linspace(-1, 1, _ACROSS)] * 2)
        return float(np.exp(-np.ptp(self.at(x, y))))


EVEN = Light(np.zeros(6))
"""The same light all over the picture."""


@dataclass(frozen=True, eq=False)
class Witnesses:
    """Blocks of patches, one row for a channel of a block.

    ``x``, ``y`` (n,) in -1…1; ``level`` (n,): mean encoded value 0 to 1; ``channel`` (n,);
    ``patch`` (n,): numbers 0…k - 1 that never fall, a patch's channels numbered apart;
    ``weight`` (n,): filled share of the block.
    """

    x: Floats
    y: Floats
    level: Floats
    channel: NDArray[np.intp]
    patch: NDArray[np.intp]
    weight: Floats

    @property
    def enough(self) -> bool:
        """Whether a light may be fitted at all."""
        return len(self.x) >= 3 * _FEWEST_BLOCKS

    @cached_property
    def blocks(self) -> NDArray[np.intp]:
        """(k,): rows of each patch."""
        return np.bincount(self.patch)

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """(k,): first row of each patch."""
        return np.cumsum(self.blocks) - self.blocks

    def spread(self, values: Floats) -> Floats:
        """Each row's own of the patches' ``values`` (…, k), (…, n)."""
        return np.repeat(values, self.blocks, axis=-1)


def witnesses(view: View) -> Witnesses:
    """The smooth patches of a picture, in blocks."""
    from scipy.ndimage import label

    groups, count = label(view.change < _SMOOTH)
    height, width = groups.shape
    large = np.bincount(groups.ravel(), minlength=count + 1) >= _SMALLEST_PATCH
    large[0] = False
    start, long = _runs(groups)
    mine = np.flatnonzero(large[groups.ravel()[start]])
    row, column = np.divmod(start[mine], width)
    key = ((groups[row, column] << _BITS | row // _BLOCK) << _BITS) | column // _BLOCK
    blocks, where = np.unique(key, return_inverse=True)
    long = long[mine]
    filled = np.bincount(where, long)
    keep = filled >= _BLOCK * _BLOCK // 4

    def mean(sums: Floats) -> Floats:
        return np.asarray(np.bincount(where, sums, minlength=len(blocks)) / filled)[keep]

    seen = (view.pixels[..., channel].ravel() for channel in range(3))
    level = np.concatenate([
        mean(np.add.reduceat(one, start, dtype=np.int32)[mine] / 255.0) for one in seen
    ])  # fmt: skip
    x = mean(long * ((column + long / 2) / width * 2 - 1))
    y = mean(long * ((row + 0.5) / height * 2 - 1))
    channel = np.repeat(np.arange(3), len(x))
    patch = np.tile(blocks[keep] >> 2 * _BITS, 3) + (channel * (count + 1))
    use = (level > _TOO_DARK) & (level < _TOO_LIGHT)
    return Witnesses(
        np.tile(x, 3)[use], np.tile(y, 3)[use], level[use], channel[use],
        np.unique(patch[use], return_inverse=True)[1],
        np.tile(filled[keep] / _BLOCK**2, 3)[use],
    )


def _runs(groups: NDArray[np.int32]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where runs of one group inside a row of a block begin in the flat picture, and how long."""
    new = np.ones(groups.shape, bool)
    np.not_equal(groups[:, 1:], groups[:, :-1], out=new[:, 1:])
    new[:, ::_BLOCK] = True
    start = np.flatnonzero(new)
    return start, np.diff(start, append=groups.size)


# ── the light ─────────────────────────────────────────────────────────────────────────────


def fit_light(seen: Witnesses, bend: Floats) -> Light:
    """The quadratic log light that all patches agree on; ``bend`` (3,) of the tone curve.

    Weighted ridge regression with a constant for each patch, weights from Huber (1964) and from
    each patch's own scatter.
    """
    if not seen.enough:
        return EVEN
    shape = _surface(seen.x, seen.y)
    return Light(np.concatenate([[0.0], _shared(seen, bend, shape, np.full(_SURFACE, _PRIOR))]))


def _shared(seen: Witnesses, bend: Floats, shape: Floats, prior: Floats) -> Floats:
    """Coefficients (k,) of the terms ``shape`` (n, k) that all patches agree on."""
    log, slope = log_linear(seen, bend)
    scatter = np.full(len(seen.blocks), _SCATTER)
    filled = patch_sums(seen, seen.weight)
    weight = seen.weight / (slope * seen.spread(scatter)) ** 2
    ridge = np.diag(1 / (prior**2 * _TEMPER))
    every = np.concatenate([log[None], shape.T])
    for _ in range(_ROUNDS):
        # Sums of products about the patches' means, without taking the means off every row.
        weighted = every * weight
        sums = patch_sums(seen, weighted)
        means = sums / np.maximum(patch_sums(seen, weight), 1e-12)
        square = weighted @ every.T - sums @ means.T
        coefficients = np.linalg.solve(square[1:, 1:] + ridge, square[1:, 0])
        left = np.concatenate([[1.0], -coefficients])
        error = (left @ every - seen.spread(left @ means)) / slope
        limited = np.minimum(np.abs(error), _FARTHEST * seen.spread(scatter)) ** 2
        variance = patch_sums(seen, seen.weight * limited) / filled
        scatter = np.sqrt(variance + _BLOCK_NOISE**2)
        wide = seen.spread(scatter)
        weight = seen.weight / (slope * wide) ** 2
        weight *= np.minimum(1, _HUBER / np.maximum(np.abs(error) / wide, 1e-9))
    return np.asarray(coefficients)


def _surface(x: Floats, y: Floats) -> Floats:
    return np.stack([x, y, x * x, x * y, y * y], axis=-1)


def log_linear(seen: Witnesses, bend: Floats) -> tuple[Floats, Floats]:
    """Log linear value of each block and its slope against the encoded value."""
    levels = np.linspace(0, 1, _LEVELS)
    curves = np.log(np.maximum([unbent(levels, float(one)) for one in bend], _DARKEST))
    slopes = np.gradient(curves, levels, axis=1)
    at = seen.level * (_LEVELS - 1)
    below = np.minimum(at.astype(np.intp), _LEVELS - 2)
    share, below = at - below, below + seen.channel * _LEVELS

    def between(curve: Floats) -> Floats:
        low = curve.ravel()[below]
        return np.asarray(low + share * (curve.ravel()[below + 1] - low))

    return between(curves), between(slopes)


def patch_sums(seen: Witnesses, values: Floats) -> Floats:
    """Sum of ``values`` (…, n) over each patch, (…, k)."""
    return np.asarray(np.add.reduceat(values, seen.first, axis=-1))
