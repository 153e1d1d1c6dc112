"""The picture as other eyes, or the same eyes from across the room, see it.

All on linear sRGB (h, w, 3), 0 to 1, in and out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.colour import D65_WHITE, lab_to_xyz, linear_to_xyz, xyz_to_lab, xyz_to_linear
from sequencer.colour.vision import simulate
from sequencer.rendering.textures import Light

ACROSS_ROOM = 120.0
"""Viewing distance of the across-room view: 10 ft, in inches."""

_FILTERS = (
    ((0.05, 0.897631), (0.225, 0.102369)),
    ((0.0685, 0.616725), (0.826, 0.383275)),
    ((0.0920, 0.567885), (0.6451, 0.432115)),
)
"""For light-dark, red-green and yellow-blue: (full width at half height in degrees, weight) of
the Gaussians. The authors' published filter parameters, weights scaled to a sum of one; left out
is the wide negative Gaussian of light-dark, which flattens slow changes: whoever looks at the
picture does that with their own eyes."""
_FWHM = 2 * np.sqrt(2 * np.log(2))
_COARSE = 4.0
_BAND = 256


def as_value(light: Light) -> Light:
    """Grey of the same luminance, and so of the same L*, as each point: the picture's value."""
    grey = np.clip(linear_to_xyz(light)[..., 1:2], 0.0, 1.0)
    return np.repeat(np.asarray(grey, dtype=np.float32), 3, axis=2)


def as_seen_by(light: Light, kind: str) -> Light:
    """What protan, deutan or tritan eyes see (see sequencer.colour.vision)."""
    return np.asarray(simulate(light, kind), dtype=np.float32)


def from_afar(light: Light, ppi: float, distance: float = ACROSS_ROOM) -> Light:
    """What is left of the picture for an eye ``distance`` inches away.

    The eye's pattern filters of S-CIELAB (Zhang and Wandell, J. Soc. Inf. Display 5(1), 1997),
    reaching half a degree as the authors' do: luminance keeps finer patterns than colour. There
    the filters run over linear opponent channels and serve to compare two pictures; looked at,
    those tint the dark neighbours of bright colours beyond any real colour. Here they run over
    luminance and over a* and b*.
    """
    per_degree = ppi * distance * np.tan(np.radians(1.0))
    bands = [slice(top, top + _BAND) for top in range(0, len(light), _BAND)]
    planes = np.empty((3, *light.shape[:2]), dtype=np.float32)
    for band in bands:
        xyz = linear_to_xyz(light[band])
        planes[:, band] = np.moveaxis(xyz_to_lab(xyz), 2, 0)
        planes[0, band] = xyz[..., 1]
    for k, gaussians in enumerate(_FILTERS):
        planes[k] = sum(
            np.float32(weight) * _blurred(planes[k], width * per_degree / _FWHM, per_degree / 2)
            for width, weight in gaussians
        )
    seen = np.empty_like(light)
    for band in bands:
        seen[band] = _relit(planes[:, band])
    return seen


def _relit(planes: NDArray[np.float32]) -> Light:
    """Luminance, a* and b* (3, h, w) back to linear sRGB, as much of it as the screen can show."""
    luminance = np.clip(planes[0], 0.0, 1.0)[..., None]
    lightness = xyz_to_lab(luminance * D65_WHITE.astype(np.float32))[..., 0]
    linear = xyz_to_linear(lab_to_xyz(np.stack([lightness, planes[1], planes[2]], axis=-1)))
    return np.asarray(np.clip(linear, 0.0, 1.0), dtype=np.float32)


def _blurred(
    plane: NDArray[np.float32], sigma: float, reach: float
) -> NDArray[np.float32]:
    """Gaussian cut off at ``reach`` pixels; wide ones are drawn on a coarser grid."""
    from scipy import ndimage

    step = max(1, int(min(sigma, reach / 2) / _COARSE))
    height, width = plane.shape
    small = (max(1, round(width / step)), max(1, round(height / step)))
    coarse = plane if step == 1 else np.asarray(
        Image.fromarray(plane).resize(small, Image.Resampling.BOX)
    )
    radius = max(1, round(min(reach, 4 * sigma) / step))
    soft = ndimage.gaussian_filter(coarse, sigma / step, radius=radius, mode="nearest")
    if step == 1:
        return np.asarray(soft, dtype=np.float32)
    grown = Image.fromarray(soft).resize((width, height), Image.Resampling.BICUBIC)
    return np.asarray(grown, dtype=np.float32)
