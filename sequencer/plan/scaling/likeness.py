"""Does one panel look like another? Pictures of plain blocks, compared as eyes see them from afar.

Each patch is painted in its print's mean colour. Both pictures are blurred in an opponent space
with the widths of human contrast vision and then compared in CIELAB: the S-CIELAB idea of Zhang
and Wandell, 'A spatial extension of CIELAB for digital color-image reproduction', Journal of the
SID 5 (1997) 61. Kernel weights and spreads and the opponent matrix are those of the authors'
published method (the matrix with the sign of its last red-green term as in their program, which
keeps white neutral), written from memory. Left out is the wide negative kernel of light-dark:
over a whole panel it only takes away the average.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import lab_to_xyz, xyz_to_lab
from sequencer.models import Lab, Plan

Floats = NDArray[np.floating]
LONG_SIDE = 240
"""Pixels along a picture's longer side: five minutes of arc each from DIAGONALS_AWAY."""
DIAGONALS_AWAY = 2.5
"""Viewing distance in diagonals: the whole panel is taken in at one look (our choice)."""

_TO_OPPONENT = np.array([[0.279, 0.72, -0.107], [-0.449, 0.29, 0.077], [0.086, -0.59, 0.501]])
_KERNELS = (
    ((0.921, 0.0283), (0.105, 0.133)),
    ((0.531, 0.0392), (0.330, 0.494)),
    ((0.488, 0.0536), (0.371, 0.386)),
)
"""(weight, spread in degrees) for light-dark, red-green, blue-yellow: exp(-(x / spread)²)."""


@dataclass(frozen=True)
class Blocks:
    """A panel as plain blocks: ``order`` of prints, ``strips`` of one repeat, columns.

    Row r of column c shows ``order[(r + offsets[c]) % n]``; lengths in inches, finished.
    """

    order: tuple[str, ...]
    strips: tuple[Fraction, ...]
    repeats: int
    widths: tuple[Fraction, ...]
    offsets: tuple[int, ...]

    @property
    def size(self) -> tuple[Fraction, Fraction]:
        """Width and height in inches."""
        return sum(self.widths, Fraction(0)), sum(self.strips, Fraction(0)) * self.repeats


def blocks_of(plan: Plan) -> Blocks:
    """The plan's centre as blocks."""
    return Blocks(
        plan.prints,
        tuple(plan.finished_strip[key] for key in plan.prints),
        plan.repeats,
        tuple(column.finished_width for column in plan.columns),
        tuple(column.offset for column in plan.columns),
    )


def paint(blocks: Blocks, colours: Mapping[str, Lab], shape: tuple[int, int]) -> Floats:
    """XYZ picture (rows, columns, 3) of the blocks, stretched to ``shape``.

    Pixels on a seam are mixed in proportion, so that no stripe is lost between two pixels.
    """
    high, wide = shape
    n, tall = len(blocks.order), float(blocks.size[1])
    xyz = lab_to_xyz(np.array([colours[key] for key in blocks.order]))
    stripes: dict[int, Floats] = {}
    for offset in set(blocks.offsets):
        turned = [(row + offset) % n for row in range(n)] * blocks.repeats
        edges = np.array([0, *accumulate(blocks.strips[i] for i in turned)], dtype=float) / tall
        stripes[offset] = _coverage(edges, high) @ xyz[turned]
    across = np.array([0, *accumulate(blocks.widths)], dtype=float) / float(blocks.size[0])
    columns = np.stack([stripes[offset] for offset in blocks.offsets])
    picture: Floats = np.einsum("wc,chk->hwk", _coverage(across, wide), columns)
    return picture


def _coverage(edges: Floats, pixels: int) -> Floats:
    """(pixels, bands): share of each pixel that each band between two edges covers."""
    marks = np.arange(pixels + 1) / pixels
    low = np.clip(edges[None, :-1], marks[:-1, None], marks[1:, None])
    high = np.clip(edges[None, 1:], marks[:-1, None], marks[1:, None])
    return (high - low) * pixels


def from_afar(xyz: Floats, per_degree: float) -> Floats:
    """CIELAB of the picture as seen with ``per_degree`` pixels to a degree of sight."""
    from scipy.ndimage import gaussian_filter

    opponent = xyz @ _TO_OPPONENT.T
    seen = np.empty_like(opponent)
    for channel, kernel in enumerate(_KERNELS):
        total = sum(weight for weight, _ in kernel)
        seen[..., channel] = sum(
            weight / total * gaussian_filter(
                opponent[..., channel], spread / math.sqrt(2) * per_degree, mode="nearest"
            )
            for weight, spread in kernel
        )  # fmt: skip
    lab: Floats = xyz_to_lab(np.maximum(seen @ np.linalg.inv(_TO_OPPONENT).T, 0.0))
    return lab


@dataclass(frozen=True)
class Likeness:
    """How alike two panels look, brought to one size and seen from the same relative distance.

    ``mean`` and ``p95``: CIELAB difference. ``share``: root mean square difference over the first
    picture's own contrast; 0 alike, 1 as unlike as a plain cloth of its mean colour.
    ``distance``: inches from which the second is looked at.
    """

    mean: float
    p95: float
    share: float
    distance: float


def compare(
    before: Blocks, after: Blocks, colours: Mapping[str, Lab], distance: float | None = None
) -> Likeness:
    """Likeness of ``after`` to ``before``, both stretched to the shape of ``after``."""
    wide, tall = (float(side) for side in after.size)
    diagonal = math.hypot(wide, tall)
    away = DIAGONALS_AWAY * diagonal if distance is None else distance
    scale = LONG_SIDE / max(wide, tall)
    shape = max(8, round(tall * scale)), max(8, round(wide * scale))
    per_degree = scale * 2 * away * math.tan(math.radians(0.5))
    first, second = (
        from_afar(paint(blocks, colours, shape), per_degree) for blocks in (before, after)
    )
    miss = np.sqrt(((first - second) ** 2).sum(axis=-1))
    contrast = np.sqrt(((first - first.mean(axis=(0, 1))) ** 2).sum(axis=-1).mean())
    rms = np.sqrt((miss**2).mean())
    return Likeness(
        round(float(miss.mean()), 3),
        round(float(np.quantile(miss, 0.95)), 3),
        round(float(rms / max(contrast, 1e-9)), 3) if rms > 1e-9 else 0.0,
        round(away, 1),
    )
