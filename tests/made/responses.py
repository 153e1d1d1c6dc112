"""How phones show light: responses like those of real cameras, and other contrast curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]


@dataclass(frozen=True)
class Response:
    """d = (1 + c) xᵃ / (xᵃ + c), ``power`` a and ``knee`` c, above a little ``flare``.

    Fits 27 published curves (a 1.37 to 1.65, c 0.17 to 0.8: libcamera's three, base curves of raw
    converters, the mean of Grossberg and Nayar 2004) and the neutrals of targets in 46 real photos
    by 22 cameras (a 1.0 to 1.5, c 0.1 to 1.2; shadows lighter by flare) to 1 or 2 L*.
    """

    power: float
    knee: float
    flare: float

    def __call__(self, linear: Floats) -> Floats:
        x = np.maximum(linear, 0) ** self.power
        shown = np.minimum((1 + self.knee) * x / (x + self.knee), 1)
        return (1 - self.flare) * shown + self.flare

    def reached(self, shown: float) -> float:
        """The light that shows as this, without flare."""
        return float((self.knee * shown / (1 + self.knee - shown)) ** (1 / self.power))


def response(own: np.random.Generator) -> Response:
    power, knee = np.exp(own.normal(np.log([1.4, 0.3]), [0.12, 0.8]))
    return Response(float(power), float(knee), float(own.uniform(0, 0.01)))


def contrast(rng: np.random.Generator):  # type: ignore[no-untyped-def]
    """A phone's contrast curve on encoded values, of random kind and strength."""
    strength = rng.uniform(0.0, 0.6)
    style = rng.choice(["smoothstep", "sigmoid", "lift"])
    return curve(style, strength), (style, strength)


def other_tone(own: np.random.Generator, kind: str):  # type: ignore[no-untyped-def]
    """The curves of other phones; None for those that are bent."""
    if kind == "bent":
        return None
    if kind == "none":
        return (lambda v: v), ("none", 0.0)
    if kind == "gamma":
        power = own.uniform(0.75, 1.25)
        return (lambda v: v**power), ("gamma", power)
    strength = own.uniform(0.0, 0.2) if kind == "weak" else own.uniform(0.6, 0.9)
    style = own.choice(["smoothstep", "sigmoid", "lift"])
    return curve(style, strength), (style, strength)


def curve(style: str, strength: float):  # type: ignore[no-untyped-def]
    if style == "smoothstep":
        return lambda v: (1 - strength) * v + strength * v * v * (3 - 2 * v)
    if style == "sigmoid":
        k = 0.5 + 6 * strength

        def sigmoid(v: Floats) -> Floats:
            low, high = 1 / (1 + np.exp(k / 2)), 1 / (1 + np.exp(-k / 2))
            return (1 / (1 + np.exp(-k * (v - 0.5))) - low) / (high - low)

        return sigmoid
    g = 1 - 0.35 * strength
    return lambda v: 0.5 * v**g + 0.5 * v
