"""One print's pixels → mean, palette, and what it reads as at strip scale."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Lab, PaletteColour
from sequencer.prints.palette import palette_of
from sequencer.prints.spread import reads_as

Floats = NDArray[np.floating]

_ENOUGH = 80_000
_MIXED = 9.0


@dataclass(frozen=True)
class Measured:
    """A print's colours, CIELAB D65.

    ``mean_lab``: arithmetic mean over the cloth. ``palette``: shares add up to 1, largest first.
    ``spread``: mean ΔE00 of strip-sized patches from their mean, None without scale.
    """

    mean_lab: Lab
    palette: tuple[PaletteColour, ...]
    spread: float | None
    warnings: tuple[str, ...]


def measure_print(
    lab: Floats,
    mask: NDArray[np.bool_],
    ppi: float | None = None,
    strip: Fraction = Fraction(1, 4),
) -> Measured:
    """Measure the cloth under ``mask`` (h, w) in ``lab`` (h, w, 3).

    ``ppi``: pixels of ``lab`` for an inch of cloth. ``strip``: finished strip width in inches.

    Raises:
        ValueError: the mask holds no pixel.
    """
    if not mask.any():
        raise ValueError("no cloth under the mask")
    lab, mask = _cropped(lab, mask)
    mean = lab[mask].mean(axis=0, dtype=float)
    wide = reads_as(lab, mask, ppi, strip) if ppi else None
    return Measured(
        (float(mean[0]), float(mean[1]), float(mean[2])),
        _palette(lab, mask),
        wide.spread if wide else None,
        wide.warnings if wide else (),
    )


def _cropped(
    lab: Floats, mask: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return lab[box], mask[box]


def _palette(lab: Floats, mask: NDArray[np.bool_]) -> tuple[PaletteColour, ...]:
    step = max(1, round(float(np.sqrt(mask.sum() / _ENOUGH))))
    if mask[::step, ::step].any():
        lab, mask = np.ascontiguousarray(lab[::step, ::step]), mask[::step, ::step]
    calm = _denoised(lab)
    smooth = _gradient(calm) < _MIXED
    return palette_of(calm[mask], smooth[mask], lab[mask])


# Exchanges that bring the median of nine to place 4 (Paeth, "Median finding on a 3×3 grid",
# Graphics Gems, 1990; the order is Devillard's, 1998).
_EXCHANGES = (
    (1, 2), (4, 5), (7, 8), (0, 1), (3, 4), (6, 7), (1, 2), (4, 5), (7, 8), (0, 3),
    (5, 8), (4, 7), (3, 6), (1, 4), (2, 5), (4, 7), (4, 2), (6, 4), (4, 2),
)  # fmt: skip


def _denoised(lab: Floats) -> Floats:
    """3 × 3 median of each channel: noise and single threads go, borders stay."""
    height, width = lab.shape[:2]
    padded = np.pad(lab, ((1, 1), (1, 1), (0, 0)), mode="edge")
    nine = [padded[y : y + height, x : x + width].copy() for y in range(3) for x in range(3)]
    for low, high in _EXCHANGES:
        smaller = np.minimum(nine[low], nine[high])
        np.maximum(nine[low], nine[high], out=nine[high])
        nine[low] = smaller
    return nine[4]


def _gradient(lab: Floats) -> Floats:
    """Largest CIE76 step to the pixels one to the left and right, above and below."""
    across = np.zeros(lab.shape[:2], dtype=lab.dtype)
    across[:, 1:-1] = np.linalg.norm(lab[:, 2:] - lab[:, :-2], axis=-1)
    down = np.zeros_like(across)
    down[1:-1] = np.linalg.norm(lab[2:] - lab[:-2], axis=-1)
    return np.maximum(across, down)
