"""The table under the scraps: its colour everywhere in the picture, and how far pixels are from it.

The table is taken to be what most of the picture's border shows. Its colour is a quadratic
surface in CIELAB, so that lamps and windows may fade across it, fitted by iteratively re-weighted
least squares (Tukey's biweight; Holland and Welsch 1977), first to the border, then to every
block of the picture that fits. Distance is Mahalanobis (1936): a wooden table that varies from
light to dark along its grain counts little along that direction and much across it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

_BLOCK = 12
_SKIP = 3
_SPREAD_FLOOR = (0.9, 0.6, 0.6)
"""Least standard deviation believed, L*, a*, b*: below it JPEG and 8-bit steps rule."""
_NEAR = 9.0
_TUKEY = 4.685
_FITS = 3.5
_LEAST_SHARE = 0.3
_LEAST_BLOCKS = 20
_RING = 0.03


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

    def residual(self, lab: Floats) -> Floats:
        """``lab`` (h, w, 3) less the table's colour there, float32."""
        return self.residual_rows(lab, 0, len(lab))

    def residual_rows(self, lab: Floats, first: int, last: int) -> Floats:
        """The residual of some rows of the picture ``lab`` alone."""
        height, width = lab.shape[:2]
        x, y = (_centres(n).astype(np.float32) for n in (width, height))
        y, lab = y[first:last], lab[first:last]
        out = np.empty((len(y), width, 3), np.float32)
        crossed = y[:, None] * x[None, :]
        for k in range(3):
            c = self.surface[:, k].astype(np.float32)
            plane = crossed * c[4]
            plane += (c[0] + c[2] * y + c[5] * y * y)[:, None]
            plane += c[1] * x + c[3] * x * x
            np.subtract(lab[..., k], plane, out=out[..., k])
        return out


def find_table(lab: Floats, usable: Mask | None = None) -> Table | None:
    """Model the table from ``lab`` (h, w, 3); ``usable`` (h, w) leaves pixels out.

    Returns None when the border shows nothing that one table could explain, or is too small.
    """
    height, width = (n // _BLOCK for n in lab.shape[:2])
    if min(height, width) < 6:
        return None
    seen = lab[: height * _BLOCK : _SKIP, : width * _BLOCK : _SKIP]
    cell = _BLOCK // _SKIP
    cut = seen.reshape(height, cell, width, cell, 3).swapaxes(1, 2).reshape(height, width, -1, 3)
    blocks = cut.mean(axis=2)
    allowed = np.ones((height, width), bool) if usable is None else _whole(usable, height, width)
    ring = _ring(height, width) & allowed
    if ring.sum() < _LEAST_BLOCKS:
        return None
    design = _design(height, width)
    fits = ring & (_size(blocks - _commonest(blocks[ring])) < 2 * _NEAR)
    surface, fits = _grown(blocks, design, ring, fits, rounds=2, terms=3)
    surface, fits = _grown(blocks, design, allowed, fits, rounds=4, terms=6)
    share = float(fits[ring].mean())
    if share < _LEAST_SHARE:
        return None
    samples = (cut - (design @ surface)[:, :, None, :])[_calm(cut, fits)]
    whitener, spread = _whitener(samples.reshape(-1, 3))
    return Table(surface, whitener, share, spread)


def _grown(
    blocks: Floats, design: Floats, allowed: Mask, fits: Mask, rounds: int, terms: int
) -> tuple[Floats, Mask]:
    """Fit the surface's first ``terms`` to ``fits``, take in what it explains, and again."""
    surface: Floats = np.zeros((6, 3))
    for _ in range(rounds):
        surface[:terms] = _robust_fit(design[fits][:, :terms], blocks[fits])
        apart = _size(blocks - design @ surface)
        tolerance = np.clip(_FITS * 1.4826 * np.median(apart[fits]), 2.5, _NEAR)
        fits = allowed & (apart < tolerance)
        if fits.sum() < _LEAST_BLOCKS:
            break
    return surface, fits


def _robust_fit(design: Floats, values: Floats) -> Floats:
    """Least squares with Tukey's biweight on the size of the residual, by normal equations."""
    weights: Floats = np.ones(len(design))
    fitted: Floats = np.zeros((design.shape[1], 3))
    for _ in range(6):
        weighted = design * weights[:, None]
        square = weighted.T @ design + 1e-6 * np.eye(design.shape[1])
        fitted = np.linalg.solve(square, weighted.T @ values)
        apart = _size(values - design @ fitted)
        scale = _TUKEY * max(1.4826 * float(np.median(apart)), 0.3)
        weights = np.clip(1 - (apart / scale) ** 2, 0, None) ** 2
    return np.asarray(fitted)


def _commonest(colours: Floats) -> Floats:
    """The colour with the most others near it, refined to their mean."""
    colours = colours[:: max(1, len(colours) // 500)]
    apart = _size(colours[:, None, :] - colours[None, :, :])
    best = int(np.argmax((apart < _NEAR).sum(axis=1)))
    return np.asarray(colours[apart[best] < _NEAR].mean(axis=0))


def _size(difference: Floats) -> Floats:
    """Lightness counts half: light falls off across a table, its colour hardly changes."""
    return np.asarray(np.sqrt(np.square(difference) @ np.array([0.25, 1, 1], difference.dtype)))


def _calm(cut: Floats, fits: Mask) -> Mask:
    """Table blocks that no scrap's edge runs through."""
    spread = cut.std(axis=2).sum(axis=-1)
    return np.asarray(fits & (spread <= 1.8 * np.median(spread[fits])))


def _whitener(residual: Floats) -> tuple[Floats, float]:
    covariance = np.cov(residual[:: max(1, len(residual) // 20000)].T)
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
