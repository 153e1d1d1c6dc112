"""From encoded pixels to CIELAB: tone curves undone, targets fitted.

A phone bends sRGB's curve for contrast. Without a target the bend is unknown: a middling S-curve is
undone, which on the average of simulated phones is nearer the truth than none. With a target, one
bend and gain a channel and a 3 × 3 matrix are fitted together to its 24 patches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import (
    ciede2000,
    lab_to_xyz,
    linear_to_xyz,
    planes_to_lab,
    srgb_to_linear,
    xyz_to_lab,
)
from sequencer.photo.colour.shoulder import Shoulder
from sequencer.photo.reference.patches import PATCHES_LAB

Floats = NDArray[np.floating]

USUAL_BEND = 0.15
"""Share of a smoothstep in a phone's contrast curve that is undone where nothing is known."""


@dataclass(frozen=True, eq=False)
class Profile:
    """Encoded sRGB → XYZ → CIELAB.

    ``bend`` (3,) of the tone curve, then ``matrix`` (3, 3) from linear to XYZ; with a target also
    ``rest`` (10, 3), a quadratic in CIELAB for what those left on its patches, and ``misfit``, the
    mean ΔE00 left there by bend and matrix, 0 without a target. ``shoulder``: undone in place of
    a bend.
    """

    bend: Floats
    matrix: Floats
    misfit: float = 0.0
    rest: Floats | None = None
    shoulder: Shoulder | None = None

    def curve(self) -> NDArray[np.float32]:
        """Every 8-bit value without what can be undone in each channel, (256, 3)."""
        if self.shoulder is not None:
            return np.repeat(self.shoulder.curve()[:, None], 3, axis=1)
        levels = np.arange(256) / 255
        return np.stack([unbent(levels, b) for b in self.bend], axis=1).astype(np.float32)

    def light(self, planes: Floats) -> Floats:
        """Linear light of planes (3, n) that went through :meth:`curve`."""
        return planes if self.shoulder is None else self.shoulder.whole(planes)

    def linear(self, encoded: Floats) -> Floats:
        """Linear light of encoded values (n, 3), 0 to 1."""
        if self.shoulder is not None:
            return self.light(self.shoulder.half(encoded).T).T
        return np.stack([unbent(encoded[..., i], self.bend[i]) for i in range(3)], axis=-1)

    def lab(self, planes: Floats) -> Floats:
        """CIELAB planes (3, n) of evened linear light (3, n)."""
        lab = planes_to_lab(planes, self.matrix)
        if self.rest is not None:
            lab += np.einsum("ki,kn->in", self.rest.astype(lab.dtype), _quadratic(lab))
        return lab


SRGB = Profile(np.zeros(3), linear_to_xyz(np.eye(3)).T)
"""Of a file that is what it states: nothing bent, nothing mixed."""


_GRID = np.linspace(0, 1, 1025)  # encoded values
_CHROMA = 1 / 1.5  # errors of chroma count less than those of lightness, as in CIEDE2000
_BEND_SPREAD = 0.15  # how far bends may lie from the usual one; by hand, never fitted
_SOFT = 2.0  # ΔE from which on errors count linearly; by hand
_MOST_TRIES = 40  # of the search for the fit; by hand
_RIDGE = 0.3  # that holds what is left near nothing, in terms of about one; by hand
_TERMS = 10  # of a quadratic in three unknowns
_FARTHEST = 80.0  # a*, b* beyond which what is left on the patches stays as it is there; by hand
_ABOUT_ONE = 0.02  # brings L*, a*, b* to about one
_DARKEST, _DARK = 1e-5, 0.01
"""XYZ, so that roots exist; luminance that keeps black patches from leading the first matrix."""


def unbent(encoded: Floats, bend: float) -> Floats:
    """Undo ``(1 - bend) v + bend v² (3 - 2 v)`` on encoded values, then sRGB's own curve."""
    bent = _GRID + bend * (_GRID**2 * (3 - 2 * _GRID) - _GRID)
    return srgb_to_linear(np.interp(encoded, bent, _GRID))


def target_profile(encoded: Floats, light: Floats) -> Profile:
    """Fit bend and matrix to a target's patches.

    ``encoded`` (24, 3) sRGB 0 to 1, NaN for patches that take no part; ``light`` (24,): how
    brightly each patch is lit. Least squares in CIELAB under a soft L1 loss, so that a patch in a
    shadow or glare does not lead; errors of chroma count less than those of lightness, as in
    CIEDE2000; bends are drawn to the usual one.
    """
    from scipy.optimize import least_squares

    weights = np.array([1.0, _CHROMA, _CHROMA])
    shown = np.isfinite(encoded).all(axis=1)
    encoded, light, known = encoded[shown], light[shown], PATCHES_LAB[shown]

    def errors(parameters: Floats) -> Floats:
        bend, matrix = parameters[:3], parameters[3:].reshape(3, 3)
        linear = Profile(bend, matrix).linear(encoded) / light[:, None]
        lab = xyz_to_lab(np.maximum(linear @ matrix.T, _DARKEST))
        held = (bend - USUAL_BEND) / _BEND_SPREAD
        return np.concatenate([((lab - known) * weights).ravel(), held])

    bend = np.full(3, USUAL_BEND)
    linear = Profile(bend, SRGB.matrix).linear(encoded) / light[:, None]
    start = np.concatenate([bend, _first_matrix(linear, known).ravel()])
    best = least_squares(errors, start, loss="soft_l1", f_scale=_SOFT, max_nfev=_MOST_TRIES).x
    profile = Profile(best[:3], best[3:].reshape(3, 3))
    seen = profile.lab((profile.linear(encoded) / light[:, None]).T).T
    misfit = float(ciede2000(seen, known).mean())
    return Profile(profile.bend, profile.matrix, misfit, _rest(seen, known))


def _rest(seen: Floats, known: Floats) -> Floats:
    """Ridge regression of what is left on the patches, as a smooth function of colour."""
    terms = _quadratic(seen.T).T
    ridge = _RIDGE * np.eye(terms.shape[1])
    return np.linalg.solve(terms.T @ terms + ridge, terms.T @ (known - seen))


def _quadratic(lab: Floats) -> Floats:
    """1, L, a, b and their products (10, n), scaled to about one; held still beyond the patches."""
    terms = np.empty((_TERMS, lab.shape[1]), dtype=lab.dtype)
    terms[0] = 1
    for row, low, high in ((1, 0, 100), *((k, -_FARTHEST, _FARTHEST) for k in (2, 3))):
        np.multiply(np.clip(lab[row - 1], low, high), _ABOUT_ONE, out=terms[row])
    terms[1] -= 1
    for row, (first, second) in enumerate(((1, 1), (2, 2), (3, 3), (1, 2), (1, 3), (2, 3)), 4):
        np.multiply(terms[first], terms[second], out=terms[row])
    return terms


def _first_matrix(linear: Floats, known: Floats) -> Floats:
    """Weighted linear least squares to XYZ; dark patches count as the eye counts them."""
    wanted = lab_to_xyz(known)
    weight = (wanted[:, 1] + _DARK) ** (-2 / 3)
    solution = np.linalg.lstsq(linear * weight[:, None], wanted * weight[:, None], rcond=None)[0]
    return np.asarray(solution.T)
