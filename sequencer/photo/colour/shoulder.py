"""How cameras compress light, undone half-way where nothing better is known.

Real cameras lift the middle and press the highlights together. Of the families tried on the six
neutrals of real targets, two numbers are enough: decoded value d and light x in the scene, both 0
to 1, hang together as d = (1 + c) xᵃ / (xᵃ + c), log-logistic; a gain, a power, smoothstep and two
components of Grossberg and Nayar's (2004) model of response left two to three times the error.
Cameras differ so much (c from 0.1 to beyond 1) that undoing the average one in full spoils as many
photos as it helps: a gentler one is undone, half in each channel and half on luminance alone, since
phones do either (geometric mean of the two).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import linear_to_xyz, srgb_to_linear

Floats = NDArray[np.floating]

_LUMINANCE: Floats = linear_to_xyz(np.eye(3))[:, 1]  # Y of each channel of linear sRGB
_STEPS, _FINER = 2048, 8  # of the table of gains, and of the curve that it is read from
_DARKEST = 1e-4  # linear value, so that powers and logs exist


@dataclass(frozen=True)
class Shoulder:
    """The curve d = (1 + c) xᵃ / (xᵃ + c) of a camera, and how to undo it."""

    power: float
    knee: float

    def undone(self, decoded: Floats) -> Floats:
        """Light in the scene of sRGB-decoded values 0 to 1, up to a gain, by the closed form."""
        d = np.clip(decoded, _DARKEST, 1.0)
        return np.asarray((self.knee * d / (1 + self.knee - d)) ** (1 / self.power))

    def curve(self) -> NDArray[np.float32]:
        """(256,): every 8-bit value with the channels' half undone."""
        decoded = np.maximum(srgb_to_linear(np.arange(256) / 255), _DARKEST)
        return np.sqrt(self.undone(decoded) * decoded).astype(np.float32)

    def half(self, encoded: Floats) -> Floats:
        """Encoded values (…, 3), 0 to 1, with the channels' half undone."""
        decoded = np.maximum(srgb_to_linear(encoded), _DARKEST)
        return np.asarray(np.sqrt(self.undone(decoded) * decoded))

    def whole(self, planes: Floats) -> Floats:
        """What :meth:`curve` gave, planes (3, n), with the half of luminance undone as well."""
        y = _LUMINANCE.astype(planes.dtype) @ planes
        step = np.minimum((y * (_STEPS - 1)).astype(np.intp), _STEPS - 1)
        return np.asarray(planes * self._gains[step])

    @cached_property
    def _gains(self) -> NDArray[np.float32]:
        """√(x / d) at even steps of √(x d), where a grey lies: (2048,)."""
        decoded = np.linspace(_DARKEST, 1, _FINER * _STEPS)
        light = self.undone(decoded)
        at = (np.arange(_STEPS) + 0.5) / _STEPS
        return np.interp(at, np.sqrt(light * decoded), np.sqrt(light / decoded)).astype(np.float32)


USUAL = Shoulder(1.3, 0.8)
"""Between what neutrals of real targets fit on the average (a 1.34, c 0.26) and nothing;
benchmarks/photo/fit_real.py shows what each choice costs on cameras that it leaves out."""
