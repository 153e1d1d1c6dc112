"""The tone curve, read off the same patches as the light.

Light falling by a tenth must darken a light patch and a dark patch by the same factor in linear
light. Where it does not, the curve is bent, and how the factor varies with level says how far
(radiometric self-calibration; compare Mitsunaga and Nayar 1999, who vary the exposure where here
the light itself varies). One number describes the curve well enough: with the best bend of a
smoothstep, colours of simulated phones of other curves came out as well as with the curve itself.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.photo.colour.curves import USUAL_BEND, unbent
from sequencer.photo.colour.light import (
    Witnesses,
    log_linear,
    patch_mean,
    patch_sums,
    rounder_light,
)

Floats = NDArray[np.floating]

_BENDS = np.linspace(-0.4, 0.9, 27)
_BEND_PRIOR = 0.28  # phones bend by 0.15 ± this
_SLOPE_NOISE = 0.06  # what a slope errs by at best, the light's true shape being unknown


def estimate_bend(seen: Witnesses) -> float:
    """How far the tone curve is bent: its mean given the slopes, the usual bend given nothing."""
    if not seen.enough:
        return USUAL_BEND
    level, slope, error = _patch_slopes(seen, rounder_light(seen, np.full(3, USUAL_BEND)))
    if len(level) < 3:
        return USUAL_BEND
    prior = 0.5 * ((_BENDS - USUAL_BEND) / _BEND_PRIOR) ** 2
    cost = prior + _slope_misfit(slope, _steepness(level), error**2 + _SLOPE_NOISE**2)
    likely = np.exp(cost.min() - cost)
    return round(float(likely @ _BENDS / likely.sum()), 6)


def _patch_slopes(seen: Witnesses, lit: Floats) -> tuple[Floats, Floats, Floats]:
    """Each patch's level, its slope of log value (sRGB's curve undone) on log light, and error."""
    log, _ = log_linear(seen, np.zeros(3))
    both = np.stack([lit, log])
    weight = seen.weight
    for _ in range(4):
        total = np.maximum(patch_sums(seen, weight), 1e-9)
        across, up = both - patch_mean(seen, weight, both)
        leaning = weight * across
        spread = np.maximum(patch_sums(seen, leaning * across), 1e-12)
        slope = patch_sums(seen, leaning * up) / spread
        left = up - seen.spread(slope) * across
        variance = patch_sums(seen, weight * left**2) / total
        size = np.abs(left) / seen.spread(np.sqrt(variance + 1e-8))
        weight = seen.weight * np.minimum(1, 1.5 / np.maximum(size, 1e-9))
    error = np.sqrt(variance * total / np.maximum(seen.blocks - 2, 1) / spread)
    level = patch_sums(seen, seen.weight * seen.level) / patch_sums(seen, seen.weight)
    good = (seen.blocks >= 6) & (level > 0.08) & (level < 0.95) & (error < 0.5)
    return level[good], slope[good], error[good]


def _slope_misfit(slope: Floats, steepness: Floats, variance: Floats) -> Floats:
    """Student-t cost (3 degrees) of slopes (k,) against curves' steepness (m, k), (m,), up to a
    common factor.

    The factor is free because light known only up to a power leaves it so. A patch's three
    channels count as one witness.
    """
    weight = np.broadcast_to(1 / variance, steepness.shape)
    for _ in range(3):
        leaning = weight * steepness
        factor = (leaning @ slope) / (leaning * steepness).sum(axis=1)
        far = (slope - factor[:, None] * steepness) ** 2 / variance
        weight = 1 / variance / (1 + far / 3)
    return np.asarray((1.5 * np.log1p(far / 3)).sum(axis=1) / 3)


def _steepness(level: Floats) -> Floats:
    """How many times steeper than linear light each bend's curve shows the levels (k,): (m, k)."""
    levels, curves = _steep_curves()
    return np.stack([np.interp(level, levels, curve) for curve in curves])


@cache
def _steep_curves() -> tuple[Floats, Floats]:
    """Encoded levels (n,), and the steepness there for each of the bends (m, n)."""
    levels = np.linspace(0.001, 1, 1000)
    bent = np.log(np.maximum([unbent(levels, round(float(bend), 6)) for bend in _BENDS], 1e-9))
    straight = np.gradient(np.log(srgb_to_linear(levels)))
    return levels, straight / np.maximum(np.gradient(bent, axis=1), 1e-6)
