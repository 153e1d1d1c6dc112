"""sRGB, linear light, XYZ and CIELAB.

Arrays end in a colour axis of three. XYZ is scaled to Y = 1 for the white. Sources: IEC
61966-2-1:1999 (sRGB transfer curve; primaries of ITU-R BT.709, white D65 at x 0.3127, y 0.3290)
and ISO/CIE 11664-4 (CIELAB). The RGB to XYZ matrix is computed here from those
chromaticities, so no constant stands without its origin.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.floating]

_D65_XY = (0.3127, 0.3290)
_PRIMARIES_XY = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
_EPSILON = (6 / 29) ** 3
_SLOPE = (29 / 6) ** 2 / 3
_CHUNK = 16384


def _xyz_of(x: float, y: float) -> list[float]:
    return [x / y, 1.0, (1 - x - y) / y]


D65_WHITE: Floats = np.array(_xyz_of(*_D65_XY))
"""XYZ of the reference white, (0.9505, 1, 1.0891): D65, 2° observer."""


def _rgb_to_xyz() -> Floats:
    primaries = np.array([_xyz_of(*xy) for xy in _PRIMARIES_XY]).T
    return np.asarray(primaries * np.linalg.solve(primaries, D65_WHITE))


_TO_XYZ = _rgb_to_xyz()
_TO_RGB = np.linalg.inv(_TO_XYZ)


def srgb_to_linear(srgb: ArrayLike) -> Floats:
    """Undo the sRGB curve; both sides 0 to 1 (IEC 61966-2-1)."""
    values = np.asarray(srgb, dtype=float)
    curved = ((np.maximum(values, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(values <= 0.04045, values / 12.92, curved)


def linear_to_srgb(linear: ArrayLike) -> Floats:
    """Apply the sRGB curve; values outside 0 to 1 are clipped first."""
    values = np.clip(np.asarray(linear, dtype=float), 0.0, 1.0)
    curved = 1.055 * values ** (1 / 2.4) - 0.055
    return np.asarray(np.where(values <= 0.0031308, values * 12.92, curved))


@cache
def _linear_table() -> NDArray[np.float32]:
    table = srgb_to_linear(np.arange(256) / 255).astype(np.float32)
    table.setflags(write=False)
    return table


def srgb8_to_linear(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """8-bit sRGB to linear light, float32, by table."""
    return _linear_table().take(pixels)


_LEVELS = 65535


@cache
def _srgb8_table() -> NDArray[np.uint8]:
    return np.round(linear_to_srgb(np.arange(_LEVELS + 1) / _LEVELS) * 255).astype(np.uint8)


def linear_to_srgb8(linear: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Linear light to 8-bit sRGB by table; values outside 0 to 1 are clipped first."""
    steps = np.clip(linear * _LEVELS + 0.5, 0, _LEVELS).astype(np.uint16)
    return np.asarray(_srgb8_table().take(steps))


def linear_to_xyz(linear: ArrayLike) -> Floats:
    """Linear sRGB (…, 3) to XYZ."""
    rgb = np.asarray(linear)
    return np.asarray(rgb @ _TO_XYZ.T.astype(rgb.dtype if rgb.dtype.kind == "f" else float))


def xyz_to_linear(xyz: ArrayLike) -> Floats:
    """XYZ to linear sRGB; out-of-gamut values are returned as they are."""
    return np.asarray(np.asarray(xyz, dtype=float) @ _TO_RGB.T)


def xyz_to_lab(xyz: ArrayLike) -> Floats:
    """XYZ to CIELAB under D65 (ISO/CIE 11664-4)."""
    array = np.asarray(xyz)
    ratio = array / D65_WHITE.astype(array.dtype if array.dtype.kind == "f" else float)
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), ratio * _SLOPE + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def planes_to_lab(planes: NDArray[np.floating], matrix: ArrayLike = _TO_XYZ) -> Floats:
    """Linear light in planes (3, n) to CIELAB planes (3, n); ``matrix`` (3, 3) leads to XYZ,
    by default from sRGB's primaries.

    The same as :func:`xyz_to_lab`, laid out for whole pictures: three times as fast in float32.
    """
    f = planes_to_roots(planes, matrix)
    lab: Floats = np.empty_like(f)
    np.subtract(116 * f[1], 16, out=lab[0])
    np.multiply(f[0] - f[1], 500, out=lab[1])
    np.multiply(f[1] - f[2], 200, out=lab[2])
    return lab


LAB_OF_ROOTS: Floats = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
"""What makes CIELAB of :func:`planes_to_roots`, but for the 16 taken off L*."""


def planes_to_roots(planes: NDArray[np.floating], matrix: ArrayLike = _TO_XYZ) -> Floats:
    """Linear light in planes (3, n) to the cube roots of XYZ over the white's, straight near black,
    that CIELAB is made of; ``matrix`` as for :func:`planes_to_lab`."""
    to_ratio = np.asarray(matrix, dtype=float) / D65_WHITE[:, None]
    # einsum and not @: thin products gain nothing from BLAS threads, and wait for them.
    ratio = np.einsum("ij,jn->in", to_ratio.astype(planes.dtype), planes)
    f = np.cbrt(ratio)
    low = ratio <= _EPSILON
    if low.any():
        np.copyto(f, ratio * _SLOPE + 4 / 29, where=low)
    return np.asarray(f)


def lab_to_xyz(lab: ArrayLike) -> Floats:
    """CIELAB under D65 to XYZ."""
    values = np.asarray(lab, dtype=float)
    y = (values[..., 0] + 16) / 116
    f = np.stack([y + values[..., 1] / 500, y, y - values[..., 2] / 200], axis=-1)
    ratio = np.where(f > 6 / 29, f * f * f, (f - 4 / 29) / _SLOPE)  # f**3 is a slow power
    return ratio * D65_WHITE


def lab_planes_to_xyz(planes: NDArray[np.float32]) -> NDArray[np.float32]:
    """CIELAB planes (3, n) to XYZ planes, float32: :func:`lab_to_xyz` for whole pictures."""
    y = (planes[0] + 16) / 116
    f = np.stack([y + planes[1] / 500, y, y - planes[2] / 200])
    low = (f - np.float32(4 / 29)) / np.float32(_SLOPE)
    return np.where(f > 6 / 29, f * f * f, low) * D65_WHITE.astype(np.float32)[:, None]


def srgb8_to_lab(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """8-bit sRGB (…, 3) to CIELAB, float32 throughout (within 0.01 of float64)."""
    flat = pixels.reshape(-1, 3)
    out = np.empty(flat.shape, np.float32)
    for first in range(0, len(flat), _CHUNK):  # a chunk at a time stays in the cache
        part = slice(first, first + _CHUNK)
        out[part] = planes_to_lab(srgb8_planes(flat[part])).T
    return out.reshape(pixels.shape)


def srgb8_planes(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """8-bit sRGB (…, 3) to linear light in planes (3, …)."""
    out = np.empty((3, *pixels.shape[:-1]), np.float32)
    for k in range(3):
        _linear_table().take(pixels[..., k], out=out[k], mode="clip")
    return out


def lab_to_srgb8(lab: ArrayLike) -> NDArray[np.uint8]:
    """CIELAB to the nearest 8-bit sRGB, channels clipped to the gamut."""
    srgb = linear_to_srgb(xyz_to_linear(lab_to_xyz(lab)))
    return np.rint(srgb * 255).astype(np.uint8)


def lch(lab: ArrayLike) -> Floats:
    """CIELAB to lightness, chroma and hue angle in degrees, 0 to 360."""
    values = np.asarray(lab, dtype=float)
    chroma = np.hypot(values[..., 1], values[..., 2])
    hue = np.degrees(np.arctan2(values[..., 2], values[..., 1])) % 360
    return np.stack([values[..., 0], chroma, hue], axis=-1)
