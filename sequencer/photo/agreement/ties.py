"""Whether two photos show the same prints: one adaptation must explain all that they share.

Light, camera and white balance change every colour of a photo by about one Bradford adaptation and
exposure: three gains in cone space. Every pair of prints, one from each photo, proposes gains:
those that bring the one palette on to the other by iterated closest points (Besl and McKay 1992),
whatever the two palettes' sizes. Each proposal is then asked which other prints of the two photos
it brings together as well, the gains are fitted again over all of these (random sample consensus,
Fischler and Bolles 1981, with every sample tried), and what the match is worth is counted as a
code length is (Rissanen 1978): colours that fall on each other closely speak for one cloth the more
the farther apart they might have lain; the three gains, and the choice among so many pairs of
prints, are paid for. One plain print therefore never ties, two may, and one of several strong
colours does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import lab_to_xyz, xyz_to_lab
from sequencer.models import PaletteColour

Floats = NDArray[np.floating]
Palettes = Sequence[tuple[PaletteColour, ...]]

_MOST = 6
_ROUNDS = 5
_TRIED = 12
_SOFT = 5.0  # ΔE94 at which a colour's pull on the gains is halved
_ALIKE = 5.5  # mean ΔE94 that may be left between two palettes of one cloth
_FINEST = 1.0  # no closer match says more
_RANGE = 20.0  # ΔE94 that two prints' colours lie apart by chance
_EXPOSURE, _CAST = 1.3, 0.75  # natural logarithms of the largest gains that lamps explain
_ENOUGH = 4.0
_HOPELESS = 2.5  # so far below enough that fitting again does not help


@dataclass(frozen=True, eq=False)
class Tie:
    """``gains`` (3,): logarithms, cone space, from the one photo to the other. ``evidence``:
    natural logarithm of the odds for it. ``prints``: (here, there) pairs that are one cloth."""

    gains: Floats
    evidence: float
    prints: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class _Prints:
    """Padded palettes: ``cones`` (n, 6, 3), CIELAB ``lab`` (n, 6, 3), ``weights`` (n, 6)."""

    cones: Floats
    lab: Floats
    weights: Floats

    def moved(self, gains: Floats) -> Floats:
        """CIELAB (n, b, 6, 3) after ``gains`` (n, b, 3), or (n, 1, 6, 3) after ``gains`` (3,)."""
        factor = np.exp(gains)[..., None, :]
        return xyz_to_lab(np.maximum(self.cones[:, None] * factor, 1e-6) @ _to_xyz().T)


def _cone() -> Floats:
    from colormath.color_constants import ADAPTATION_MATRICES

    return np.asarray(ADAPTATION_MATRICES["bradford"], dtype=float)


def _to_xyz() -> Floats:
    return np.asarray(np.linalg.inv(_cone()))


def gains_matrix(gains: Floats) -> Floats:
    """The 3×3 matrix from XYZ to XYZ that multiplies cone responses by exp(``gains``)."""
    return np.asarray(_to_xyz() @ (np.exp(gains)[:, None] * _cone()))


def _prints(palettes: Palettes) -> _Prints:
    lab = np.zeros((len(palettes), _MOST, 3))
    weights = np.zeros((len(palettes), _MOST))
    for i, palette in enumerate(palettes):
        for k, colour in enumerate(palette[:_MOST]):
            lab[i, k], weights[i, k] = colour.lab, colour.share
    lab[..., 0] = np.maximum(lab[..., 0], 1.0)
    cones = np.maximum(lab_to_xyz(lab) @ _cone().T, 1e-5)
    return _Prints(cones, lab, weights / weights.sum(axis=1, keepdims=True))


def tie(here: Palettes, there: Palettes) -> Tie | None:
    """The best-proved gains from the photo of palettes ``here`` to that of ``there``, or None."""
    if not here or not there:
        return None
    one, other = _prints(here), _prints(there)
    gains = _pairwise(one, other)
    best: Tie | None = None
    for proposed in _proposals(one, other, gains):
        found = _consensus(one, other, proposed)
        if found is not None and (best is None or found.evidence > best.evidence + 1e-9):
            best = found
    return best if best is not None and best.evidence >= _ENOUGH else None


def _apart(first: Floats, second: Floats) -> Floats:
    """Colour differences weighted as in CIE 116-1995 (ΔE94, geometric mean of the chromas)."""
    light = first[..., 0] - second[..., 0]
    one, other = (np.hypot(lab[..., 1], lab[..., 2]) for lab in (first, second))
    chroma = one - other
    hue = np.square(first[..., 1:] - second[..., 1:]).sum(axis=-1) - np.square(chroma)
    mean = np.sqrt(one * other)
    return np.asarray(np.sqrt(
        np.square(light)
        + np.square(chroma / (1 + 0.045 * mean))
        + np.maximum(hue, 0) / np.square(1 + 0.015 * mean)
    ))


def _all_apart(moved: Floats, other: _Prints) -> Floats:
    """(a, b, 6, 6) for ``moved`` (a, b or 1, 6, 3)."""
    return _apart(moved[..., :, None, :], other.lab[None, :, None, :, :])


def _closest(
    apart: Floats, one: _Prints, other: _Prints
) -> tuple[Floats, NDArray[np.intp], NDArray[np.intp]]:
    """Mean distance (a, b) of closest colours both ways, and which these are."""
    there = np.where(other.weights[None, :, None, :] > 0, apart, np.inf)
    back = np.where(one.weights[:, None, :, None] > 0, apart, np.inf)
    forth = np.minimum(there.min(axis=3), 1e3) * one.weights[:, None]
    home = np.minimum(back.min(axis=2), 1e3) * other.weights[None]
    left = (forth.sum(axis=-1) + home.sum(axis=-1)) / 2
    return left, there.argmin(axis=3), back.argmin(axis=2)


def _pairwise(one: _Prints, other: _Prints) -> Floats:
    """(a, b, 3): gains that bring each palette here on to each one there."""
    mean_one = np.einsum("ak,akc->ac", one.weights, one.cones)
    mean_other = np.einsum("bk,bkc->bc", other.weights, other.cones)
    gains = np.log(mean_other[None] / mean_one[:, None])
    for _ in range(_ROUNDS):
        gains = gains + _pull(one, other, gains)[0]
    return np.asarray(gains)


def _pull(one: _Prints, other: _Prints, gains: Floats) -> tuple[Floats, Floats]:
    """What ``gains``, (a, b, 3) or (3,), lack between closest colours: mean (a, b, 3), weight."""
    apart = _all_apart(one.moved(gains), other)
    _, to, back = _closest(apart, one, other)
    shape = (*apart.shape[:3], 3)
    here = np.broadcast_to(np.log(one.cones)[:, None] + gains[..., None, :], shape)
    there = np.broadcast_to(np.log(other.cones)[None], shape)
    near = np.take_along_axis(apart, to[..., None], axis=3)[..., 0]
    forth = one.weights[:, None] / (1 + np.square(near / _SOFT))
    near = np.take_along_axis(apart, back[:, :, None], axis=2)[:, :, 0]
    home = other.weights[None] / (1 + np.square(near / _SOFT))
    lack = forth[..., None] * (np.take_along_axis(there, to[..., None], axis=2) - here)
    lack = lack + home[..., None] * (there - np.take_along_axis(here, back[..., None], axis=2))
    mass = (forth + home).sum(axis=2)
    return lack.sum(axis=2) / np.maximum(mass, 1e-9)[..., None], mass


def _left(one: _Prints, other: _Prints, moved: Floats) -> Floats:
    return _closest(_all_apart(moved, other), one, other)[0]


def _plausible(gains: Floats) -> NDArray[np.bool_]:
    exposure = gains.mean(axis=-1, keepdims=True)
    cast = np.abs(gains - exposure).max(axis=-1)
    return np.asarray((np.abs(exposure[..., 0]) < _EXPOSURE) & (cast < _CAST))


def _proposals(one: _Prints, other: _Prints, gains: Floats) -> list[Floats]:
    left = _left(one, other, one.moved(gains))
    worth = left - 2.0 * np.minimum(_telling(one)[:, None], _telling(other)[None])
    fit = (left < _ALIKE) & _plausible(gains)
    order = np.argsort(np.where(fit, worth, np.inf).ravel(), kind="stable")[:_TRIED]
    return [gains.reshape(-1, 3)[k] for k in order.tolist() if fit.ravel()[k]]


def _telling(prints: _Prints, left: Floats | float = _FINEST) -> Floats:
    """What a palette's colours beyond its first say, if they meet as closely as ``left``."""
    lab, weights = prints.lab, prints.weights
    said = np.zeros(np.broadcast_shapes(np.shape(left), (len(lab),)))
    for k in range(1, _MOST):
        gap = _apart(lab[:, k, None], lab[:, :k]).min(axis=1)
        seen = np.minimum(weights[:, k] / 0.05, 1.0)
        said = said + 2.0 * seen * np.log(np.maximum(gap / (2 * np.maximum(left, _FINEST)), 1.0))
    return said


def _consensus(one: _Prints, other: _Prints, gains: Floats) -> Tie | None:
    """The prints that ``gains`` bring together, with the gains that serve them all best."""
    count = len(one.lab) * len(other.lab)
    matched: list[tuple[int, int]] = []
    evidence = 0.0
    for _ in range(3):
        left = _left(one, other, one.moved(gains))
        closeness = np.log(_RANGE / np.maximum(left, _FINEST))
        telling = np.minimum(_telling(other, left), _telling(one, left.T).T)
        said = 3 * closeness + telling - np.log(count)
        said = np.where(left < _ALIKE, said, -np.inf)
        matched = _one_to_one(said)
        if not matched:
            return None
        at = tuple(np.array(matched).T)
        evidence = float(said[at].sum() - 3 * closeness[at].max())
        if evidence < _ENOUGH - _HOPELESS:
            return None
        pull, mass = _pull(one, other, gains)
        gains = gains + np.average(pull[at], axis=0, weights=mass[at])
    return Tie(gains, evidence, tuple(matched)) if _plausible(gains) else None


def _one_to_one(said: Floats) -> list[tuple[int, int]]:
    """Pairs by what they say, each print once, while they say anything."""
    said = said.copy()
    pairs = []
    while said.max() > 0:
        a, b = (int(i) for i in np.unravel_index(np.argmax(said), said.shape))
        pairs.append((a, b))
        said[a], said[:, b] = -np.inf, -np.inf
    return sorted(pairs)
