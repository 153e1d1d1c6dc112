"""The table under the scraps: its colour everywhere in the picture, and how far pixels are from it.

The table is taken to be what most of the picture's border shows. Its colour is a quadratic
surface in CIELAB, so that lamps and windows may fade across it, fitted by iteratively re-weighted
least squares (Tukey's biweight; Holland and Welsch 1977), first to the border, then to every
block of the picture that fits. Distance is Mahalanobis (1936): a wooden table that varies from
light to dark along its grain counts little along that direction and much across it.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import LAB_OF_ROOTS, planes_to_roots, srgb8_planes, srgb8_to_lab
from sequencer.models import Pixels

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]
Places = NDArray[np.integer]

_BLOCK, _SKIP = 12, 3
"""Analysis pixels: side of a block of the table, and the step from one that is read to the next."""
_SPREAD_FLOOR = (0.9, 0.6, 0.6)
"""Least standard deviation believed, L*, a*, b*: below it JPEG and 8-bit steps rule."""
_NEAR = 9.0
"""Distance in CIELAB, lightness by half, up to which a block can be the table."""
_TUKEY = 4.685
"""Robust standard deviations beyond which a block counts nothing (Holland and Welsch 1977)."""
_FITS = 3.5
"""Robust standard deviations up to which a block is taken for table."""
_LEAST_SHARE = 0.3
"""Least share of the border that one table must explain."""
_LEAST_BLOCKS = 20
"""Fewest blocks that a surface is fitted to."""
_ENOUGH = 1000
"""Blocks that are enough for it: of twice as many, every other one is taken, and so on."""
_RING = 0.03
"""Width of the border that is looked at, as a share of the picture's shorter side."""
_AT_LEAST = 6
"""Blocks of the picture's shorter side that a table is looked for in."""
_TERMS = 6
"""Of a quadratic surface; a plane has the first three."""
_ROUNDS_LEANING, _ROUNDS_BENT, _ROUNDS_OF_FIT = 2, 4, 6
"""Of taking in what the surface explains, before it bends and after; of weighing anew in a fit."""
_SCATTER = 1.4826
"""Standard deviations of a normal distribution in its median absolute deviation."""
_TIGHTEST, _TIGHTEST_FIT = 2.5, 0.3
"""Least distance up to which a block is taken for table, and least scatter that a fit believes."""
_RIDGE = 1e-6
"""Share of a block that keeps a fit of too few possible."""
_COLOURS, _SAMPLED = 400, 20_000
"""Blocks by which the commonest colour is told, and pixels by which its scatter is told: about."""
_CALM = 1.8
"""Times the usual scatter within a block beyond which a scrap's edge runs through it."""
_OF_LIGHTNESS = 0.5
"""What a difference of lightness counts: light falls off across a table, its colour hardly."""
_OFFSET = 16
"""Of L* = 116 f(Y) - 16 (CIE 15)."""
_GAUSSIAN = np.exp(-0.5 * np.square(np.array([-2, -1, 0]) / 0.8))
_GAUSSIAN = (_GAUSSIAN / (2 * _GAUSSIAN.sum() - 1)).astype(np.float32)
"""Half a Gaussian of .8 analysis pixels, the middle last; five weights sum to 1."""


@dataclass(frozen=True, eq=False)
class Table:
    """The table in one picture of (h, w) pixels.

    ``surface``: coefficients (6, 3) of 1, x, y, x², xy, y² over -1 to 1, in CIELAB.
    ``whitener``: (3, 3), turns a difference from the surface into standard deviations.
    ``border_share``: how much of the picture's border is table, 0 to 1. ``spread``: standard
    deviation of the table's L* about its surface.
    """

    surface: Floats
    whitener: Floats
    border_share: float
    spread: float

    def away(
        self, pixels: Pixels, rows: Places, columns: Places, shape: tuple[int, ...]
    ) -> Floats:
        """How far ``pixels`` (n, m, 3), sRGB, are from the table: planes (3, n, m), float32.

        In standard deviations. ``rows`` (n,), ``columns`` (m,): which they are of a picture of
        ``shape`` (h, w).
        """
        roots = planes_to_roots(srgb8_planes(pixels).reshape(3, -1))
        to_away = (self.whitener @ LAB_OF_ROOTS).astype(np.float32)
        out = np.einsum("ij,jn->in", to_away, roots).reshape(3, len(rows), len(columns))
        surface = self.surface.copy()
        surface[0, 0] += _OFFSET  # what the roots leave out
        y, x = (_centres(n).astype(np.float32) for n in shape[:2])
        y, x = y[rows][:, None], x[columns]
        for plane, c in zip(out, (surface @ self.whitener).T.astype(np.float32), strict=True):
            plane -= (c[0] + c[2] * y + c[5] * y * y) + (c[4] * y) * x
            plane -= c[1] * x + c[3] * x * x
        return np.asarray(out)


def find_table(pixels: Pixels, usable: Mask | None = None) -> Table | None:
    """Model the table from ``pixels`` (h, w, 3), sRGB; ``usable`` (h, w) leaves some out.

    Returns None when the border shows nothing that one table could explain, or is too small.
    """
    height, width = (n // _BLOCK for n in pixels.shape[:2])
    if min(height, width) < _AT_LEAST:
        return None
    some = pixels[: height * _BLOCK : _SKIP, : width * _BLOCK : _SKIP]
    seen = srgb8_to_lab(np.ascontiguousarray(some))
    cell = _BLOCK // _SKIP
    cut = seen.reshape(height, cell, width, cell, 3).swapaxes(1, 2).reshape(height, width, -1, 3)
    blocks, spread = _mean_and_spread(cut)
    allowed = np.ones((height, width), bool) if usable is None else _whole(usable, height, width)
    ring = _ring(height, width) & allowed
    if ring.sum() < _LEAST_BLOCKS:
        return None
    design = _design(height, width)
    fits = ring & (_size(blocks - _commonest(blocks[ring])) < 2 * _NEAR)
    surface, fits = _grown(blocks, design, ring, fits, _ROUNDS_LEANING, 3)
    surface, fits = _grown(blocks, design, allowed, fits, _ROUNDS_BENT, _TERMS)
    share = float(fits[ring].mean())
    if share < _LEAST_SHARE:
        return None
    calm = _calm(spread, fits)
    samples = cut[calm] - (design[calm] @ surface)[:, None, :].astype(np.float32)
    whitener, deviation = _whitener(samples.reshape(-1, 3))
    return Table(surface, whitener, share, deviation)


def calm_away(pixels: Pixels, table: Table, box: tuple[slice, slice]) -> Floats:
    """How far a box of the picture is from the table, planes (3, rows, columns), float32.

    In standard deviations, smoothed by a Gaussian of 0.8 pixels, five wide, mirrored at the edge.
    """
    height, width = pixels.shape[:2]
    rows, columns = (
        _mirrored(np.arange(part.start - 2, part.stop + 2), n)
        for part, n in zip(box, (height, width), strict=True)
    )
    whole = box[1] == slice(0, width)
    near = pixels[rows] if whole else pixels[rows][:, columns]
    places = np.arange(width) if whole else columns
    sharp = table.away(near, rows, places, (height, width))
    sharp = sharp[..., columns] if whole else sharp
    far, close, here = _GAUSSIAN
    down = sharp[:, :-4] + sharp[:, 4:]
    down *= far
    down += close * (sharp[:, 1:-3] + sharp[:, 3:-1])
    down += here * sharp[:, 2:-2]
    calm = down[..., :-4] + down[..., 4:]
    calm *= far
    calm += close * (down[..., 1:-3] + down[..., 3:-1])
    calm += here * down[..., 2:-2]
    return np.asarray(calm)


def _mirrored(at: NDArray[np.intp], count: int) -> NDArray[np.intp]:
    at = np.where(at < 0, -1 - at, at)
    return np.where(at >= count, 2 * count - 1 - at, at)


def _grown(
    blocks: Floats, design: Floats, allowed: Mask, fits: Mask, rounds: int, terms: int
) -> tuple[Floats, Mask]:
    """Fit the surface's first ``terms`` to ``fits``, take in what it explains, and again."""
    surface: Floats = np.zeros((_TERMS, 3))
    for _ in range(rounds):
        surface[:terms] = _robust_fit(design[fits][:, :terms], blocks[fits])
        apart = _size(blocks - design @ surface)
        tolerance = np.clip(_FITS * _SCATTER * np.median(apart[fits]), _TIGHTEST, _NEAR)
        before, fits = fits, allowed & (apart < tolerance)
        if fits.sum() < _LEAST_BLOCKS or np.array_equal(before, fits):
            break
    return surface, fits


def _robust_fit(design: Floats, values: Floats) -> Floats:
    """Least squares with Tukey's biweight on the size of the residual, by normal equations."""
    step = max(1, len(design) // _ENOUGH)
    design, values = design[::step], values[::step]
    weights: Floats = np.ones(len(design))
    fitted: Floats = np.zeros((design.shape[1], 3))
    for _ in range(_ROUNDS_OF_FIT):
        weighted = design * weights[:, None]
        square = weighted.T @ design + _RIDGE * np.eye(design.shape[1])
        fitted = np.linalg.solve(square, weighted.T @ values)
        apart = _size(values - design @ fitted)
        spread = max(_SCATTER * float(np.median(apart)), _TIGHTEST_FIT)
        scale = _TUKEY * spread
        weights = np.clip(1 - (apart / scale) ** 2, 0, None) ** 2
    return np.asarray(fitted)


def _commonest(colours: Floats) -> Floats:
    """The colour with the most others near it, refined to their mean."""
    colours = colours[:: max(1, len(colours) // _COLOURS)]
    weighed = (colours - colours.mean(axis=0)) * np.array([_OF_LIGHTNESS, 1, 1], colours.dtype)
    # Plane by plane and not @: thin products gain nothing from BLAS threads, and wait for them.
    near = sum(np.square(plane[:, None] - plane) for plane in weighed.T) < _NEAR**2
    return np.asarray(colours[near[np.argmax(near.sum(axis=1))]].mean(axis=0))


def _size(difference: Floats) -> Floats:
    """Lightness counts half."""
    counts = np.array([_OF_LIGHTNESS**2, 1, 1], difference.dtype)
    return np.asarray(np.sqrt(np.square(difference) @ counts))


def _mean_and_spread(cut: Floats) -> tuple[Floats, Floats]:
    """Mean (h, w, 3) of each block's pixels (h, w, n, 3), and their deviations from it, summed."""
    count = cut.shape[2]
    mean = np.einsum("hwnc->hwc", cut) / np.float32(count)
    square = np.einsum("hwnc,hwnc->hwc", cut, cut) / np.float32(count)
    return mean, np.sqrt(np.maximum(square - mean * mean, 0)).sum(axis=-1)


def _calm(spread: Floats, fits: Mask) -> Mask:
    """Table blocks that no scrap's edge runs through."""
    return np.asarray(fits & (spread <= _CALM * np.median(spread[fits])))


def _whitener(residual: Floats) -> tuple[Floats, float]:
    some = residual[:: max(1, len(residual) // _SAMPLED)].astype(float)
    some -= some.mean(axis=0)
    covariance = np.einsum("ni,nj->ij", some, some) / (len(some) - 1)
    covariance += np.diag(np.square(_SPREAD_FLOOR))
    values, vectors = np.linalg.eigh(covariance)
    whitener = (vectors / np.sqrt(values)) @ vectors.T
    return whitener.astype(np.float32), float(residual[:, 0].std())


def _centres(count: int) -> Floats:
    return np.asarray((np.arange(count) + 0.5) / count * 2 - 1)


def _design(height: int, width: int) -> Floats:
    y, x = np.meshgrid(_centres(height), _centres(width), indexing="ij")
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _ring(height: int, width: int) -> Mask:
    ring = np.ones((height, width), bool)
    depth = max(1, round(_RING * min(height, width)))
    ring[depth:-depth, depth:-depth] = False
    return ring


def _whole(usable: Mask, height: int, width: int) -> Mask:
    cut = usable[: height * _BLOCK, : width * _BLOCK]
    return np.asarray(cut.reshape(height, _BLOCK, width, _BLOCK).all(axis=(1, 3)))
