"""How likely each smooth quadrilateral is the sheet or the grey card, weighed together.

There is at most one reference in a photo, so the candidates compete with each other and with
'none of them': a conditional logit (McFadden 1974) over all that is known of a candidate. Paper is
smoother than cloth and its sides stand in a known ratio; its cast must be one that lamps and white
balances give and fit what the rest of the picture shows; nothing outshines a sheet, and a grey card
is a fifth as light. The weights were fitted by benchmarks/fit_reference.py on simulated photos
whose seeds are below 5000.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_lab, srgb8_to_linear
from sequencer.models import Pixels
from sequencer.photo.quads import Quad

Floats = NDArray[np.floating]

_RATIOS = np.log([11 / 8.5, 2**0.5])  # letter paper, and the A series of ISO 216
_WINDOW = 7
_DARK = 0.003
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
_OUTSHONE = (1.6, 1.25)
SHEET_WEIGHTS = np.array([
    0.87, -0.69, -0.13, -2.05, -1.62, -0.62, -0.30, -0.81, -0.12, -0.05,
    -0.59, 0.18, -0.50, -0.41, -0.53, 1.12, -1.55, -0.33, -0.80, -0.90,
    0.06,
])  # fmt: skip
GREY_WEIGHTS = np.array([
    2.57, -1.34, 0.00, -1.25, -0.81, -0.76, -0.32, -0.63, -0.05, -1.49,
    -0.81, -0.77, -0.80, -0.07, 0.27, -0.95, -1.61, 0.20, -0.72,
])  # fmt: skip


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What the whole picture shows, linear sRGB: every fourth pixel ``lit`` (n, 3).

    ``brightest``: 99 % quantile of luminance. ``strongest``: 98 % quantile of each channel;
    ``middle``: median; ``mean_log``: mean logarithm; ``mean_log_y``: the same of luminance.
    """

    lit: Floats
    brightest: float
    strongest: Floats
    middle: Floats
    mean_log: Floats
    mean_log_y: float


def surroundings(pixels: Pixels) -> Surroundings:
    """Of analysis pixels (h, w, 3)."""
    lit = srgb8_to_linear(pixels[::4, ::4]).reshape(-1, 3)
    y = lit @ _LUMINANCE
    return Surroundings(
        lit, max(float(np.quantile(y, 0.99)), 1e-4), np.quantile(lit, 0.98, axis=0),
        np.median(lit, axis=0), np.log(lit + _DARK).mean(axis=0), float(np.log(y + _DARK).mean()),
    )  # fmt: skip


def odds(quads: list[Quad], pixels: Pixels) -> tuple[Floats, Floats]:
    """Log odds (n,) of each quadrilateral being the sheet, and the grey card, against neither."""
    if not quads:
        return np.zeros(0), np.zeros(0)
    sheet, grey = features(quads, pixels)
    return sheet @ SHEET_WEIGHTS, grey @ GREY_WEIGHTS


def features(quads: list[Quad], pixels: Pixels) -> tuple[Floats, Floats]:
    """What is weighed, a row for each quadrilateral: as a sheet (n, 21), as a card (n, 19)."""
    seen = surroundings(pixels)
    common = np.array([_common(quad, seen, pixels) for quad in quads])
    sheet = np.column_stack([common, [_as_sheet(quad, seen) for quad in quads]])
    grey = np.column_stack([common, [_as_grey(quad, seen) for quad in quads]])
    return sheet, grey


def _common(quad: Quad, seen: Surroundings, pixels: Pixels) -> list[float]:
    """Shape, smoothness, and cast alone and beside the picture's."""
    red, blue = _cast(quad.linear)
    world = _held(_ratios(seen.mean_log) - [red, blue], 1)
    middle = _held(_cast(seen.middle + _DARK) - [red, blue], 1)
    red, blue = _held(np.array([red, blue]), 1)
    return [
        1.0, *_shape(quad), np.log(quad.texture + 0.1), np.log(grain(quad, pixels) + 0.15),
        10 * red**2, 10 * blue**2, 10 * red * blue, red, blue,
        10 * world[0] ** 2, 10 * world[1] ** 2, 10 * world[0] * world[1],
        10 * middle[0] ** 2, 10 * middle[1] ** 2,
    ]  # fmt: skip


def _as_sheet(quad: Quad, seen: Surroundings) -> list[float]:
    """How much outshines it, and how its cast stands to the lightest things'."""
    least = np.maximum(quad.linear, 0.02)
    much, little = (float((seen.lit > by * least).any(axis=1).mean()) for by in _OUTSHONE)
    red, blue = _held(_cast(seen.strongest) - _cast(quad.linear), 0.7)
    return [
        3 * max(float(np.log(quad.luminance / seen.brightest)), -1.5),
        5 * min(much, 0.2) ** 0.5, 3 * min(little, 0.3) ** 0.5, 10 * red**2, 10 * blue**2,
        np.log(max(quad.luminance, 0.2)),
    ]  # fmt: skip


def _as_grey(quad: Quad, seen: Surroundings) -> list[float]:
    """How its lightness stands to the lightest things', the picture's mean and mid-tone."""
    off = float(np.log(quad.luminance / seen.brightest)) + 1.5
    above_mean = float(np.log(quad.luminance)) - seen.mean_log_y
    return [off, 2 * min(off**2, 4), above_mean, 10 * min(max(quad.luminance - 0.25, 0), 0.3)]


def _shape(quad: Quad) -> list[float]:
    """How far from a sheet's side ratio, and from filling its outline."""
    length = np.hypot(*(np.roll(quad.corners, -1, axis=0) - quad.corners).T)
    ratio = abs(np.log((length[0] + length[2]) / (length[1] + length[3])))
    far = min(float(np.abs(ratio - _RATIOS).min()), 0.25)
    return [far / 0.05, min(1 - quad.fill, 0.15) / 0.05]


def grain(quad: Quad, pixels: Pixels) -> float:
    """Median scatter of L* in 7 × 7 analysis pixels over the quadrilateral's inner part."""
    from scipy.ndimage import uniform_filter

    centre = quad.corners.mean(axis=0)
    # The upright box inside the turned quadrilateral's middle: no mask is needed.
    half = 0.3 * np.ptp(quad.corners, axis=0)
    left, top = np.maximum(centre - half, 0).astype(int)
    right, bottom = np.maximum(centre + half, 0).astype(int) + 1
    lightness = srgb8_to_lab(pixels[top:bottom, left:right])[..., 0].astype(np.float64)
    mean = uniform_filter(lightness, _WINDOW)
    variance = uniform_filter(lightness**2, _WINDOW) - mean**2
    return float(np.median(np.sqrt(np.maximum(variance, 0)))) if variance.size else 0.0


def _cast(linear: Floats) -> Floats:
    """Log of red and of blue over green."""
    return _ratios(np.log(np.maximum(linear, 1e-4)))


def _ratios(log: Floats) -> Floats:
    return np.array([log[0] - log[1], log[2] - log[1]])


def _held(values: Floats, limit: float) -> Floats:
    return np.clip(values, -limit, limit)
