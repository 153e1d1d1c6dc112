"""Published spectra: lamps, the 2° observer, cameras, target and dyes (colour-science, for tests).

Where each comes from is told in tests/made/simulator.py.
"""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]

WAVELENGTHS = np.arange(400, 701, 10)
ILLUMINANTS = ("A", "D50", "D65", "D75", "FL2", "FL7", "FL11", "LED-B1", "LED-B3", "LED-V2")
CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")


@cache
def library():  # type: ignore[no-untyped-def]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


def aligned(distribution) -> Floats:  # type: ignore[no-untyped-def]
    grid = np.asarray(distribution.wavelengths, float)
    values = np.asarray(distribution.values, float)
    if values.ndim == 1:
        return np.interp(WAVELENGTHS, grid, values)
    return np.stack([np.interp(WAVELENGTHS, grid, column) for column in values.T], axis=1)


@cache
def illuminant(name: str) -> Floats:
    return aligned(library().SDS_ILLUMINANTS[name])


@cache
def observer() -> Floats:
    return aligned(library().MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])


@cache
def checker(name: str = "BabelColor Average") -> Floats:
    """(24, 31) reflectances in the target's order."""
    return np.stack([aligned(s) for s in library().SDS_COLOURCHECKERS[name].values()])


@cache
def dyes() -> Floats:
    """(99, 31) reflectances that cloth is dyed and printed with here: none is a target's patch."""
    from colour.quality.cfi2017 import load_TCS_CIE2017

    return aligned(load_TCS_CIE2017(library().SpectralShape(380, 780, 5))).T


@cache
def camera_matrix(name: str, white: str) -> tuple[Floats, Floats]:
    """The maker's own balance for ``white`` and its white-keeping 3×3 to linear sRGB."""
    from sequencer.colour import adaptation_matrix, xyz_to_linear

    sensitivity = aligned(library().MSDS_CAMERA_SENSITIVITIES[name])
    light = illuminant(white)
    gains = 1 / (light @ sensitivity)
    raw = checker() @ (light[:, None] * sensitivity) * gains
    xyz = checker() @ (light[:, None] * observer()) / (light @ observer()[:, 1])
    seen = light @ observer() / (light @ observer()[:, 1])
    wanted = xyz_to_linear(xyz @ adaptation_matrix(seen, d65()).T)
    matrix = np.linalg.lstsq(raw, wanted, rcond=None)[0].T
    return gains, matrix / matrix.sum(axis=1, keepdims=True)


def lamp_matrix(camera: str, lamp: str) -> Floats:
    """Between the matrices for A and D65 by reciprocal colour temperature, as DNG 1.4 has it."""
    light = illuminant(lamp)
    xyz = light @ observer()
    x, y = xyz[:2] / xyz.sum()
    n = (x - 0.3320) / (0.1858 - y)
    kelvin = 449 * n**3 + 3525 * n**2 + 6823.3 * n + 5520.33  # McCamy 1992
    warm = np.clip((1 / kelvin - 1 / 6504) / (1 / 2856 - 1 / 6504), 0, 1)
    return warm * camera_matrix(camera, "A")[1] + (1 - warm) * camera_matrix(camera, "D65")[1]


@cache
def d65() -> Floats:
    light = illuminant("D65")
    return light @ observer() / (light @ observer()[:, 1])


def true_xyz(reflectance: Floats) -> Floats:
    """XYZ under D65, white at Y = 1, scaled to the project's exact D65 white."""
    from sequencer.colour import D65_WHITE

    light = illuminant("D65")
    xyz = reflectance @ (light[:, None] * observer()) / (light @ observer()[:, 1])
    return xyz / d65() * D65_WHITE
