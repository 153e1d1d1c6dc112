"""Uneven light, evened from the table's own surface.

The table is one surface, so slow change of its lightness is change of the light. Its log
luminance, averaged in blocks, is fitted by a quadratic surface with Huber weights. How far the
surface may be trusted is asked of the table itself: the surface is refitted with each block left
out, and the share of the blocks' variance that such fits foretell shrinks the correction. Wood
grain and patterned cloths are not foretold by a smooth surface, so there it fades to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]

_BLOCKS = 24
_FEWEST = 20
_LARGEST_FALL = 4.0


@dataclass(frozen=True, eq=False)
class Light:
    """Log of the light over the picture: a quadratic in x, y scaled to -1…1.

    ``trust``: 0 (nothing could be learnt) to 1.
    """

    coefficients: Floats
    trust: float

    def at(self, x: Floats, y: Floats) -> Floats:
        """Log light at points in -1…1."""
        return np.asarray(_design(x, y) @ self.coefficients)

    def over(self, height: int, width: int) -> NDArray[np.float32]:
        """Log light at every pixel, (height, width)."""
        x = ((np.arange(width) + 0.5) / width * 2 - 1).astype(np.float32)
        y = ((np.arange(height) + 0.5) / height * 2 - 1).astype(np.float32)[:, None]
        c0, cx, cy, cxx, cxy, cyy = (np.float32(c) for c in self.coefficients)
        return np.asarray((c0 + cx * x + cxx * x * x) + (cy * y + cyy * y * y) + cxy * (y * x))


EVEN = Light(np.zeros(6), 0.0)


def table_light(luminance: Floats, table: NDArray[np.bool_]) -> Light:
    """Fit the light from ``luminance`` (h, w), linear, where ``table`` (h, w) is True."""
    x, y, log, weight = _block_means(luminance, table)
    if len(log) < _FEWEST:
        return EVEN
    design = _design(x, y)
    coefficients, leverage, robust = _fit(design, log, weight)
    residual = (log - design @ coefficients) / np.maximum(1 - leverage, 0.2)
    total = np.average((log - np.average(log, weights=robust)) ** 2, weights=robust)
    left = np.average(residual**2, weights=robust)
    trust = float(np.clip(1 - left / max(total, 1e-9), 0, 1))
    coefficients = trust * coefficients
    fall = np.ptp(design @ coefficients)
    if fall > np.log(_LARGEST_FALL):
        coefficients *= np.log(_LARGEST_FALL) / fall
    coefficients[0] = 0.0
    return Light(coefficients, trust)


def _design(x: Floats, y: Floats) -> Floats:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _block_means(
    luminance: Floats, table: NDArray[np.bool_]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Centre in -1…1, log of mean luminance and pixel count of blocks that show the table."""
    height, width = luminance.shape
    side = max(4, max(height, width) // _BLOCKS)
    rows, columns = height // side, width // side
    if rows < 3 or columns < 3:
        return (np.zeros(0),) * 4
    cut = np.s_[: rows * side, : columns * side]
    shape = (rows, side, columns, side)
    count = table[cut].reshape(shape).sum(axis=(1, 3), dtype=float)
    total = np.where(table[cut], luminance[cut], 0).reshape(shape).sum(axis=(1, 3), dtype=float)
    mean = total / np.maximum(count, 1)
    full = (count > 0.4 * side * side) & (mean > 1e-4)
    r, c = np.nonzero(full)
    x = (c + 0.5) * side / width * 2 - 1
    y = (r + 0.5) * side / height * 2 - 1
    return x, y, np.log(mean[full]), count[full] / side**2


def _fit(design: Floats, log: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Huber-weighted least squares (Huber 1964): coefficients, leverage, weights."""
    robust = weight.copy()
    for _ in range(8):
        scaled = design * np.sqrt(robust)[:, None]
        coefficients = np.linalg.lstsq(scaled, log * np.sqrt(robust), rcond=None)[0]
        residual = np.abs(log - design @ coefficients)
        limit = 1.5 * 1.4826 * np.median(residual) + 1e-6
        robust = weight * np.minimum(1, limit / np.maximum(residual, 1e-9))
    inverse = np.linalg.pinv(scaled.T @ scaled)
    leverage = np.einsum("ij,jk,ik->i", scaled, inverse, scaled)
    return coefficients, leverage, robust
