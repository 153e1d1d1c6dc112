"""What a photograph of a target teaches about the camera that took it.

A lesson is a response (:mod:`sequencer.photo.colour.shoulder`), a 3 × 3 matrix that keeps neutrals
neutral, and the gains the scene needed, fitted to the 24 patches in CIELAB under a soft L1 loss. A
phone maps tones anew for each scene, so one lesson under another light can do more harm than good:
lessons count by how like their light is to the photo's, and the general camera always counts for
one lesson (for three of its matrix, for four of gains). Only neutrals are compared: their
chromaticity, and half as much their level. A response is believed only where it is steeper than one
camera's own scenes scatter by, ninety-nine in a hundred, and then by the positive part of James and
Stein (1961); flatter ones come of flare, which is the scene's. Where it is not believed, a photo
without a reference is read as if nothing was taught. So on a phone whose responses differ from
scene to scene only the matrix helps, a scanner that is always steep keeps its curve.
benchmarks/photo/real_cameras.py tells both, each photo left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import ciede2000, lab_to_xyz, linear_to_xyz, srgb_to_linear, xyz_to_lab
from sequencer.models import Json
from sequencer.photo.colour.shoulder import USUAL, Shoulder
from sequencer.photo.reference.patches import NEUTRALS, PATCHES_LAB

Floats = NDArray[np.floating]

# How far a camera may differ from the general one (ridge; the spread of single photos of targets).
_POWER_SPREAD, _KNEE_SPREAD, _MIXING_SPREAD = 0.15, 1.2, 0.12
_SOFT = 3.0  # ΔE from which on errors count linearly
_CHROMA = 1 / 1.5  # errors of chroma count less than those of lightness, as in CIEDE2000
_CLIPPED = 0.997  # encoded value
_ALIKE = 0.1  # log units of chromaticity that lights may differ by and still be like each other
_LEVEL = 0.5  # how much levels count beside chromaticity
_GENERAL = 1.0  # lessons that the general camera counts for
_GENERAL_GAINS = 4.0  # likewise, of gains
_GENERAL_MIXING = 3.0
"""Likewise, of the matrix; all chosen with a phone and a scanner seen, so that no photo of theirs
got worse, and tried on simulated cameras."""
_SCATTER = np.array([0.12, 0.55])
"""Of log power and log knee between scenes of one camera (9 photos by a phone; study of 22)."""
_FREEDOM = 2.0  # numbers of a response
_STANDS_OUT = 9.21  # chi-squared of so many, 99 %
_NOTHING = 1e-9  # so that nothing is divided by zero
_LEVELS = np.log(lab_to_xyz(PATCHES_LAB[NEUTRALS])[:5, 1])[::-1]  # rising
_FEWEST = 18  # patches
_DARKEST = 1e-5  # XYZ, so that roots exist
_DARKEST_LIGHT = 1e-4  # linear value, so that logs exist

_OFF = ~np.eye(3, dtype=bool)
"""(3, 3): places of a matrix off its diagonal."""


@dataclass(frozen=True)
class Lesson:
    """What one photo taught.

    ``response``: log power and log knee. ``gains`` (3,): log, beyond what such a photo is lifted by
    without a reference. ``mixing`` (6,): the matrix off its
    diagonal. ``light`` (15,): log of red over green, of blue over green, and of green, for the
    target's five lighter neutrals.
    ``misfit``: median ΔE00 that is left on the patches.
    """

    response: tuple[float, ...]
    gains: tuple[float, ...]
    mixing: tuple[float, ...]
    light: tuple[float, ...]
    misfit: float

    def to_json(self) -> Json:
        """Plain form."""
        return {key: list(value) if isinstance(value, tuple) else value
                for key, value in vars(self).items()}  # fmt: skip

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Lesson:
        """The lesson again.

        Raises:
            KeyError, TypeError, ValueError: it is none.
        """
        sizes = {"response": 2, "gains": 3, "mixing": int(_OFF.sum()), "light": 3 * len(_LEVELS)}
        parts = {key: tuple(float(one) for one in data[key]) for key in sizes}
        flat = [one for part in parts.values() for one in part]
        if any(len(parts[key]) != size for key, size in sizes.items()) or not all(
            np.isfinite(flat)
        ):
            raise ValueError("a lesson is damaged")
        return Lesson(**parts, misfit=float(data["misfit"]))


@dataclass(frozen=True)
class Camera:
    """A camera taught under ``name``; ``taken_by``: make, model, lens as its files state them."""

    name: str
    taken_by: tuple[str, str, str]
    lessons: tuple[Lesson, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {"name": self.name, "taken_by": list(self.taken_by),
                "lessons": [one.to_json() for one in self.lessons]}  # fmt: skip

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Camera:
        """The camera again.

        Raises:
            KeyError, TypeError, ValueError: it is none.
        """
        make, model, lens = (str(one) for one in data["taken_by"])
        lessons = tuple(Lesson.from_json(one) for one in data["lessons"])
        if not lessons:
            raise ValueError("a camera without lessons")
        return Camera(str(data["name"]), (make, model, lens), lessons)


@dataclass(frozen=True, eq=False)
class Expected:
    """What is expected of a camera in one light: how it compresses light and mixes channels.

    ``matrix`` (3, 3): its linear sRGB, neutrals balanced, to true linear sRGB. ``gains`` (3,): what
    its scenes needed. ``share``: how much of this was taught, 0 to 1.
    """

    shoulder: Shoulder = USUAL
    matrix: Floats | None = None
    gains: Floats | None = None
    share: float = 0.0


GENERAL = Expected()


def lesson_from(encoded: Floats, light: Floats, lift: float = 1.0) -> Lesson:
    """Learn from patches ``encoded`` (24, 3) sRGB, 0 to 1, NaN where not seen, lit ``light`` (24,).

    ``lift``: the gain that the photo would get without a reference.

    Raises:
        ValueError: too few patches show or too many are clipped.
    """
    from scipy.optimize import least_squares

    use = np.nan_to_num(encoded, nan=1.0).max(axis=1) < _CLIPPED
    neutral = encoded[NEUTRALS][:5][::-1]
    if use.sum() < _FEWEST or not np.isfinite(neutral).all():
        raise ValueError("too few patches")
    seen, lit, known = encoded[use], light[use, None], PATCHES_LAB[use]
    weights = np.array([1, _CHROMA, _CHROMA])

    def lab(q: Floats) -> Floats:
        balanced = _scene(_shoulder(q), seen) / lit * np.exp(q[2:5])
        return xyz_to_lab(np.maximum(linear_to_xyz(balanced @ _matrix(q[5:]).T), _DARKEST))

    def errors(q: Floats) -> Floats:
        held = (q - _START) / _SPREAD
        return np.concatenate([((lab(q) - known) * weights).ravel(), held])

    # Power and knee pull the same way, and curves are kept in single precision: with one-sided
    # differences the search stood still short of the least, where the machine's last bits left it.
    best = least_squares(
        errors, _START, jac="3-point", x_scale="jac", loss="soft_l1", f_scale=_SOFT).x
    misfit = float(np.median(ciede2000(lab(best), known)))
    best[2:5] -= np.log(lift)
    response, gains, mixing = (tuple(map(float, part)) for part in (best[:2], best[2:5], best[5:]))
    return Lesson(response, gains, mixing, _light(srgb_to_linear(neutral)), misfit)


def expected_of(camera: Camera, neutral: Floats | None = None, luminance: float = 1.0) -> Expected:
    """What to expect of a camera where a neutral of this ``luminance`` factor reads as ``neutral``
    (3,) sRGB, 0 to 1; without a neutral all lessons count alike, and only if their response stands
    out."""
    rows = np.array([[*one.response, *one.gains, *one.mixing] for one in camera.lessons])
    weights = np.ones(len(rows))
    if neutral is not None:
        there = np.array([_light_at(one, luminance) for one in camera.lessons])
        apart = (there - _light(srgb_to_linear(neutral[None]))) * [1, 1, _LEVEL]
        weights = np.exp(-0.5 * ((apart / _ALIKE) ** 2).sum(axis=1))
    taught = float(weights.sum())
    apart = weights @ (rows - _START)
    total = np.full(len(_START), taught + _GENERAL)
    total[2:5] = taught + _GENERAL_GAINS
    total[5:] = taught + _GENERAL_MIXING
    moved = apart / total
    believed = _believed(apart[:2] / max(taught, _NOTHING))
    if neutral is None and not believed:
        return GENERAL
    moved[:2] *= believed
    mean = _START + moved
    share = taught / (taught + _GENERAL)
    return Expected(_shoulder(mean), _matrix(mean[5:]), np.exp(mean[2:5]), share)


def _believed(response: Floats) -> float:
    """How far a mean response, from the general one, is believed: 0 to 1."""
    apart = float(((response / _SCATTER) ** 2).sum())
    return 1 - _FREEDOM / apart if apart >= _STANDS_OUT and response[0] > 0 else 0.0


_START = np.array([np.log(USUAL.power), np.log(USUAL.knee), *[0.0] * 9])
"""The general camera (11,): log power, log knee, log gains, matrix off its diagonal."""
_SPREAD = np.array([_POWER_SPREAD, _KNEE_SPREAD, *[1e3] * 3, *[_MIXING_SPREAD] * 6])
"""How far each may differ from it; gains as far as they like."""


def _shoulder(q: Floats) -> Shoulder:
    return Shoulder(float(np.exp(q[0])), float(np.exp(q[1])))


def _scene(shoulder: Shoulder, encoded: Floats) -> Floats:
    return shoulder.whole(shoulder.half(encoded).T).T


def _matrix(mixing: Sequence[float] | Floats) -> Floats:
    """Rows add up to 1, so that neutrals stay neutral."""
    matrix = np.zeros((3, 3))
    matrix[_OFF] = mixing
    return matrix + np.diag(1 - matrix.sum(axis=1))


def _light(decoded: Floats) -> tuple[float, ...]:
    """Of neutrals (n, 3), darkest first: log red over green, blue over green, green (3 n)."""
    red, green, blue = np.log(np.maximum(decoded, _DARKEST_LIGHT)).T
    return tuple(float(one) for one in np.stack([red - green, blue - green, green], -1).ravel())


def _light_at(lesson: Lesson, luminance: float) -> list[float]:
    """The lesson's light on a neutral of this luminance factor, between its own neutrals."""
    known = np.reshape(lesson.light, (-1, 3))
    return [float(np.interp(np.log(luminance), _LEVELS, one)) for one in known.T]
