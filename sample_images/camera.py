"""What a camera makes of a table: perspective, light, lens, sensor, file.

Light is linear until the very end. A table is plane, so one 3×3 matrix carries inches to pixels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from cloth import Field
from numpy.typing import NDArray
from scipy import ndimage


@dataclass(frozen=True)
class View:
    """A camera above a table: ``to_pixels`` maps (x, y, 1) in inches to homogeneous pixels."""

    width: int
    height: int
    to_pixels: NDArray[np.float64]

    def pixels(self, inches: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 2) in inches to x, y pixels."""
        return _apply(self.to_pixels, inches)

    def inches(self, x: Field, y: Field) -> tuple[Field, Field]:
        """Where each pixel lies on the table."""
        back = np.linalg.inv(self.to_pixels)
        w = back[2, 0] * x + back[2, 1] * y + back[2, 2]
        return (
            ((back[0, 0] * x + back[0, 1] * y + back[0, 2]) / w).astype(np.float32),
            ((back[1, 0] * x + back[1, 1] * y + back[1, 2]) / w).astype(np.float32),
        )


def _apply(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    raised = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return raised[:, :2] / raised[:, 2:]


def look_down(
    width: int, height: int, across: float, tilt: float, lean: float, roll: float
) -> View:
    """A hand-held camera over a table ``across`` inches wide; angles in degrees.

    The lens is a 28 mm equivalent: 28/36 of the picture's width.
    """
    focal = width * 28 / 36
    away = across * focal / width
    a, b, c = np.radians([tilt, lean, roll])
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    about_z = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
    turned = about_z @ about_x @ about_y
    middle = np.array([across / 2, across * height / width / 2, 0])
    shift = np.array([0, 0, away]) - turned @ middle
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    return View(width, height, lens @ np.column_stack([turned[:, :2], shift]))


def lit(
    width: int, height: int, fall_off: float, towards: tuple[float, float], cast: Field
) -> Field:
    """Light on the table (h, w, 3): brightest near ``towards`` (0 to 1, x and y), less far off.

    ``fall_off`` is the share lost at the darkest corner; the shade side is a little bluer, as a
    room lit by one window is.
    """
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    aspect = height / width
    away = np.hypot(x / width - towards[0], (y / height - towards[1]) * aspect)
    away = (away / away.max()) ** 1.5
    vignette = np.hypot(x / width - 0.5, (y / height - 0.5) * aspect) ** 2
    level = (1 - fall_off * away) * (1 - 0.14 * vignette)
    tint = np.array([1 - 0.03, 1 - 0.005, 1 + 0.03], dtype=np.float32)
    colour = cast * (1 + (tint - 1) * away[..., None])
    return level[..., None] * colour


def expose(
    light: Field, rng: np.random.Generator, gain: float, blur: float, noise: float
) -> NDArray[np.uint8]:
    """Linear light to an 8-bit sRGB picture through lens blur, shot noise and read noise.

    ``noise`` is the standard deviation at full white, in linear light; denoising in the camera is
    imitated by a slight correlation between neighbouring pixels.
    """
    image = np.empty_like(light)
    for k in range(3):
        image[..., k] = ndimage.gaussian_filter(light[..., k], blur) * gain
    for k, level in enumerate((1.2, 1.0, 1.5)):
        grain = rng.standard_normal(light.shape[:2], dtype=np.float32)
        grain = 0.7 * grain + 0.9 * ndimage.gaussian_filter(grain, 0.8) * 2
        image[..., k] += noise * level * np.sqrt(np.clip(image[..., k], 0, None) + 0.004) * grain
    np.clip(image, 0, 1, out=image)
    low = image * 12.92
    high = 1.055 * np.power(np.maximum(image, 1e-6), 1 / 2.4) - 0.055
    return np.rint(np.where(image <= 0.0031308, low, high) * 255).astype(np.uint8)
