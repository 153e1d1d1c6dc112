"""Photographed cloth at the picture's scale, in linear light.

Averages of light are only right in linear light, so cloth is reduced and enlarged there: reduced
with a filter as wide as the pixel it makes (no moiré from the weave), enlarged with Lanczos.
"""

from __future__ import annotations

import zlib
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.colour import (
    lab_to_xyz,
    linear_to_srgb,
    srgb8_to_linear,
    xyz_to_linear,
)
from sequencer.models import Pixels, Print, Swatch

Light = NDArray[np.float32]
"""Linear light (h, w, 3), 0 to 1."""
Cloth = NDArray[np.uint16]
"""Cloth ready to be cut (h, w, 4): square roots of linear red, green and blue in 65535ths, and one
that fills the eight bytes by which a pixel is copied. A shade of light is a factor on roots too."""

ASSUMED_SHORT_SIDE = 5.0
"""Inches of cloth that a swatch without scale is taken to show along its short side."""
_LARGEST_SIDE = 4000
"""Pixels; cloth drawn larger than this is only used in part."""
CODES = 4095
"""Steps of the square root of light by which 8-bit codes are looked up."""
FULL = 65535


def swatch_ppi(swatch: Swatch) -> float:
    """Pixels for an inch of this cloth, measured or on the stated assumption."""
    if swatch.ppi is not None and swatch.ppi > 0:
        return float(swatch.ppi)
    return float(min(swatch.pixels.shape[:2])) / ASSUMED_SHORT_SIDE


def cloth_at(cloth: Print, ppi: float) -> Light:
    """The print's swatch at ``ppi``, lengthwise left to right; from its palette if it has none."""
    swatch = cloth.swatch or imagined_swatch(cloth)
    pixels = swatch.pixels if swatch.pixels.ndim == 3 else np.dstack([swatch.pixels] * 3)
    if pixels.shape[0] > pixels.shape[1]:
        pixels = np.rot90(pixels)
    scale = ppi / swatch_ppi(swatch)
    most = max(2, int(_LARGEST_SIDE / scale))
    pixels = pixels[:most, :most, :3]
    height, width = (max(2, round(side * scale)) for side in pixels.shape[:2])
    return resized(pixels, width, height)


def resized(pixels: Pixels, width: int, height: int) -> Light:
    """Resize 8-bit sRGB to ``width`` × ``height`` in linear light, free of aliasing."""
    planes = [_resized_plane(pixels[..., k], width, height) for k in range(3)]
    return np.clip(np.stack(planes, axis=-1), 0.0, 1.0)


def _resized_plane(plane: NDArray[np.uint8], width: int, height: int) -> Light:
    """One channel: whole blocks averaged first where the reduction is strong, then Lanczos."""
    light: Light = srgb8_to_linear(plane)
    rows, columns = plane.shape
    factor = min(rows // (2 * height), columns // (2 * width))
    if factor > 1:
        rows, columns = rows // factor, columns // factor
        whole = light[: rows * factor, : columns * factor]
        light = whole.reshape(rows, factor, columns, factor).mean(axis=(1, 3), dtype=np.float32)
    if (rows, columns) == (height, width):
        return light
    picture = Image.fromarray(np.ascontiguousarray(light))
    return np.asarray(picture.resize((width, height), Image.Resampling.LANCZOS))


def encode(light: Light) -> Pixels:
    """Linear light to 8-bit sRGB by table; within one code of exact."""
    out = np.empty(light.shape, dtype=np.uint8)
    step = max(1, 40_000 // light.shape[1])  # rows that stay in the processor's own memory
    for top in range(0, light.shape[0], step):
        roots = np.sqrt(np.clip(light[top : top + step], 0.0, 1.0))
        out[top : top + step] = codes_of(roots * np.float32(CODES))
    return out


def codes_of(roots: NDArray[np.float32]) -> Pixels:
    """8-bit sRGB of square roots of light, counted in CODES, not negative."""
    places = np.minimum(roots + np.float32(0.5), np.float32(CODES)).astype(np.intp)
    return np.asarray(_codes().take(places))


@cache
def _codes() -> Pixels:
    roots = np.arange(CODES + 1) / CODES
    return np.rint(linear_to_srgb(roots**2) * 255).astype(np.uint8)


def woven(light: Light) -> Cloth:
    """Linear light (h, w, 3) as cloth."""
    cloth = np.full((*light.shape[:2], 4), FULL, dtype=np.uint16)
    cloth[..., :3] = np.sqrt(np.clip(light, 0.0, 1.0)) * np.float32(FULL) + np.float32(0.5)
    return cloth


def light_of(cloth: Cloth) -> Light:
    """Cloth as linear light (h, w, 3)."""
    return np.asarray(np.square(cloth[..., :3] / np.float32(FULL)))


def chance(name: str) -> np.random.Generator:
    """Random numbers that belong to this name and to nothing else."""
    return np.random.default_rng(zlib.crc32(name.encode()))


def imagined_swatch(cloth: Print) -> Swatch:
    """Cloth for a print without a photograph: its palette in soft blotches, by share."""
    rng = chance(cloth.id)
    ppi, side = 50, 300
    field = smooth_noise(rng, side, side, 60.0) + 0.4 * smooth_noise(rng, side, side, 15.0)
    rank = np.argsort(np.argsort(field, axis=None)).reshape(side, side) / field.size
    labs = [colour.lab for colour in cloth.palette] or [cloth.mean_lab]
    shares = np.array([colour.share for colour in cloth.palette] or [1.0])
    edges = np.cumsum(shares / shares.sum())[:-1]
    colours = np.clip(xyz_to_linear(lab_to_xyz(np.array(labs))), 0.0, 1.0)
    light = colours[np.searchsorted(edges, rank, side="right")]
    grain = 1 + 0.03 * rng.standard_normal((side, side, 1))
    return Swatch(encode(np.asarray(light * grain, dtype=np.float32)), float(ppi))


def smooth_noise(rng: np.random.Generator, height: int, width: int, scale: float) -> Light:
    """Noise of about unit variance (h, w) whose features are ``scale`` pixels wide."""
    rows, columns = (int(side / scale) + 4 for side in (height, width))
    knots = Image.fromarray(rng.standard_normal((rows, columns)).astype(np.float32))
    box = (1.5, 1.5, 1.5 + width / scale, 1.5 + height / scale)
    grown = knots.resize((width, height), Image.Resampling.BICUBIC, box=box)
    return np.asarray(grown, dtype=np.float32) / np.float32(0.75)


def swatch_thumbnail(cloth: Print, width: int, height: int) -> Image.Image:
    """The print's cloth as a picture of ``width`` × ``height`` pixels, for a list or a card.

    The middle of the swatch is shown as large as it fits without stretching.
    """
    swatch = cloth.swatch or imagined_swatch(cloth)
    pixels = swatch.pixels if swatch.pixels.ndim == 3 else np.dstack([swatch.pixels] * 3)
    if (pixels.shape[0] > pixels.shape[1]) != (height > width):
        pixels = np.rot90(pixels)
    rows, columns = pixels.shape[:2]
    scale = min(rows / height, columns / width)
    tall, wide = max(1, round(height * scale)), max(1, round(width * scale))
    top, left = (rows - tall) // 2, (columns - wide) // 2
    middle = pixels[top : top + tall, left : left + wide, :3]
    return Image.fromarray(encode(resized(middle, max(1, width), max(1, height))))
