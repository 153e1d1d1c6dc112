"""What colour-blind eyes see: protan, deutan and tritan simulation.

Matrices for linear sRGB from Machado, Oliveira and Fernandes, "A physiologically-based model for
simulation of color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, table of the
supplement, severity 1.0 (dichromacy). Milder severities are blended in a straight line between
normal sight and dichromacy: an approximation to the paper's own, slightly bent, steps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sequencer.colour.spaces import Floats, lab_to_xyz, linear_to_xyz, xyz_to_lab, xyz_to_linear

KINDS = ("protan", "deutan", "tritan")

_DICHROMAT: dict[str, Floats] = {
    "protan": np.array([
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ]),
    "deutan": np.array([
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]),
    "tritan": np.array([
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ]),
}  # fmt: skip


def simulation_matrix(kind: str, severity: float = 1.0) -> Floats:
    """The 3×3 matrix for linear sRGB columns; rows add up to 1, so greys stay as they are.

    Raises:
        ValueError: an unknown kind, or a severity outside 0 to 1.
    """
    if kind not in _DICHROMAT:
        raise ValueError(f"kind is one of {', '.join(KINDS)}, not {kind!r}")
    if not 0.0 <= severity <= 1.0:
        raise ValueError(f"severity runs from 0 to 1, not {severity}")
    matrix: Floats = severity * _DICHROMAT[kind] + (1.0 - severity) * np.eye(3)
    return matrix


def simulate(linear_rgb: ArrayLike, kind: str, severity: float = 1.0) -> Floats:
    """Linear sRGB (…, 3), 0 to 1, as such eyes see it; clipped to 0 to 1, dtype kept."""
    rgb = np.asarray(linear_rgb)
    matrix = simulation_matrix(kind, severity)
    dtype = rgb.dtype if rgb.dtype.kind == "f" else np.dtype(float)
    seen: Floats = np.clip(rgb.astype(dtype) @ matrix.T.astype(dtype), 0.0, 1.0)
    return seen


def simulate_lab(lab: ArrayLike, kind: str, severity: float = 1.0) -> Floats:
    """The same for CIELAB colours (…, 3), D65."""
    linear = np.clip(xyz_to_linear(lab_to_xyz(lab)), 0.0, 1.0)
    return xyz_to_lab(linear_to_xyz(simulate(linear, kind, severity)))
