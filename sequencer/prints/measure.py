"""One print's pixels → mean, palette, and what it reads as at strip scale."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Lab, PaletteColour
from sequencer.prints.palette import picture_palette
from sequencer.prints.spread import reads_as

Floats = NDArray[np.floating]


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
    # A product and not lab[mask].mean(): picking pixels takes twenty times as long.
    mean = mask.ravel().astype(float) @ lab.reshape(-1, 3).astype(float) / np.count_nonzero(mask)
    wide = reads_as(lab, mask, ppi, strip) if ppi else None
    return Measured(
        (float(mean[0]), float(mean[1]), float(mean[2])),
        picture_palette(lab, mask),
        wide.spread if wide else None,
        wide.warnings if wide else (),
    )


def _cropped(
    lab: Floats, mask: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return lab[box], mask[box]
