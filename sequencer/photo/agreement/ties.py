"""Which prints of two photos are one cloth, and what brings the one photo's colours to the other.

Light, camera and white balance change every colour of a photo by about one Bradford adaptation and
exposure: three gains in cone space. Palettes that such gains bring on to each other (iterated
closest points, Besl and McKay 1992) may be one cloth; that they are, texture must prove
(:mod:`sequencer.photo.agreement.texture`), or the maker's word. Prints that hand colour on to each
other look alike to a palette: palettes alone once joined different ones and moved their colours by
up to 44 ΔE00.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import lab_to_xyz, xyz_to_lab
from sequencer.models import PaletteColour
from sequencer.photo.agreement.texture import Texture, same_motif

Floats = NDArray[np.floating]
Palettes = Sequence[tuple[PaletteColour, ...]]
Find = tuple[int, int]
"""Which photo, and which of its prints."""
Textures = Callable[[Find], Texture | None]
Told = Mapping[frozenset[Find], bool]
"""The maker's word on two finds: one print, or two."""

_MOST = 6  # colours of a palette that are compared
_ROUNDS = 5  # of closest points, then gains; by hand, never fitted
_SOFT = 5.0  # ΔE94 at which a colour's pull on the gains is halved
_ALIKE = 5.5  # mean ΔE94 that may be left between two palettes of one cloth
_PER_CHROMA, _PER_CHROMA_OF_HUE = 0.045, 0.015  # CIE 116-1995, K1 and K2 for graphic arts
_FARTHEST = 1e3  # ΔE94, more than any: no colour there
_DARKEST = 1e-5  # cone response, so that logs exist
_EXPOSURE, _CAST = 1.3, 0.75  # natural logarithms of the largest gains that lamps explain


@dataclass(frozen=True, eq=False)
class Tie:
    """``gains`` (3,): logarithms, cone space, from the one photo to the other. ``prints``: (here,
    there) pairs that are one cloth; ``told``: how many of these the maker said are."""

    gains: Floats
    prints: tuple[tuple[int, int], ...]
    told: int = 0

    @property
    def evidence(self) -> int:
        """The maker's word counts more than any number of proofs."""
        return 1000 * self.told + len(self.prints)


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


@cache
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
    cones = np.maximum(lab_to_xyz(lab) @ _cone().T, _DARKEST)
    return _Prints(cones, lab, weights / weights.sum(axis=1, keepdims=True))


def tie(
    here: Palettes, there: Palettes, photos: tuple[int, int], textures: Textures, told: Told
) -> Tie | None:
    """The prints that two photos share, each proved, and the gains from the one to the other.

    ``photos``: their numbers, by which ``textures`` and ``told`` know them.
    """
    if not here or not there:
        return None
    one, other = _prints(here), _prints(there)
    gains = _pairwise(one, other)
    alike = (_left(one, other, one.moved(gains)) < _ALIKE) & _plausible(gains)
    said, pairs = 0, []
    for a, b in np.ndindex(alike.shape):
        first, second = (photos[0], int(a)), (photos[1], int(b))
        word = told.get(frozenset((first, second)))
        if word or (word is None and alike[a, b] and _proved(textures, first, second)):
            pairs.append((int(a), int(b)))
            said += word is True
    if not pairs:
        return None
    shared = _together(one, other, gains, pairs)
    return Tie(shared, tuple(pairs), said) if said or bool(_plausible(shared)) else None


def _proved(textures: Textures, first: Find, second: Find) -> bool:
    one, other = textures(first), textures(second)
    return one is not None and other is not None and same_motif(one, other)


def _together(
    one: _Prints, other: _Prints, each: Floats, pairs: Sequence[tuple[int, int]]
) -> Floats:
    """The gains that serve all pairs best."""
    at = tuple(np.array(pairs).T)
    gains = each[at].mean(axis=0)
    for _ in range(_ROUNDS):
        pull, mass = _pull(one, other, gains)
        gains = gains + np.average(pull[at], axis=0, weights=mass[at])
    return np.asarray(gains)


def _apart(first: Floats, second: Floats) -> Floats:
    """Colour differences weighted as in CIE 116-1995 (ΔE94, geometric mean of the chromas)."""
    light = first[..., 0] - second[..., 0]
    one, other = (np.hypot(lab[..., 1], lab[..., 2]) for lab in (first, second))
    chroma = one - other
    hue = np.square(first[..., 1:] - second[..., 1:]).sum(axis=-1) - np.square(chroma)
    mean = np.sqrt(one * other)
    return np.asarray(np.sqrt(
        np.square(light)
        + np.square(chroma / (1 + _PER_CHROMA * mean))
        + np.maximum(hue, 0) / np.square(1 + _PER_CHROMA_OF_HUE * mean)
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
    forth = np.minimum(there.min(axis=3), _FARTHEST) * one.weights[:, None]
    home = np.minimum(back.min(axis=2), _FARTHEST) * other.weights[None]
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
