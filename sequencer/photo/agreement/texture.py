"""Whether two pieces of cloth show one motif: the proof without which nothing is 'the same print'.

Palettes of prints that hand colour on are alike, so palettes only propose. Local descriptors (SIFT,
Lowe 2004) of two swatches are matched; each match alone says how the one cloth would have to be
turned, scaled and moved to lie on the other (a Hough vote as in Lowe 2004, 7.3), and those that
most matches agree with are tried: laid on each other so, the swatches' light and dark must
correlate, pixel for pixel, over a good part of them. A solid has nothing to match, and dots, checks
and stripes match all others of their kind: these are never proved, the maker says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.models import Pixels

Floats = NDArray[np.floating]

_SIDE = 256  # pixels: the longest side that swatches are compared at
_LOCAL = 10.0  # pixels: contrast is evened over about this far, as no light reaches
_FAINT = 0.015  # contrast, 0 to 1, below which what shows is weave and noise
_CLOSEST = 3  # motifs repeat: each descriptor may belong to any of these
_TRIED = 12  # ways to lay one on the other that are looked at
_NEAR = 5.0  # pixels within which a match agrees with a way
_LARGEST_CHANGE = 2.5  # scale between two photos of one cloth
_SHARE = 0.2  # of the smaller swatch, on which both must show
# tests/reading/test_texture.py: correlation there; between different prints at most 0.4
_ALIKE = 0.55
_FEWEST = 8  # matches that agree
_MOST = 400  # features kept, from all over the swatch
_KINDS = 30  # different features that a motif must have: dots, checks and stripes have fewer
_OCTAVES = 4  # halvings of the swatch in which features are looked for; by hand
_BELIEVED = 3.0  # scatters of contrast, either way, beyond which it says no more; by hand
_SMALLEST = 24  # pixels of a swatch's side that are enough for a feature; by hand
_DESCRIBED = 128  # numbers of a feature (Lowe, IJCV 60, 2004)
_ONE_KIND = 0.7  # cosine from which two features are of one kind


@dataclass(frozen=True, eq=False)
class Texture:
    """``grey`` (h, w): evened contrast. ``places`` (n, 2) row, column; ``sizes``, ``turns`` (n,):
    of its features; ``marks`` (n, 128): their descriptors, length 1."""

    grey: Floats
    places: Floats
    sizes: Floats
    turns: Floats
    marks: Floats


def texture(pixels: Pixels) -> Texture:
    """Of a swatch (h, w, 3)."""
    from skimage.feature import SIFT

    grey = _evened(pixels)
    believed = np.clip(grey, -_BELIEVED, _BELIEVED)
    found = SIFT(upsampling=1, n_octaves=_OCTAVES)
    try:
        found.detect_and_extract((believed + _BELIEVED) / (2 * _BELIEVED))
    except (RuntimeError, ValueError):  # scikit-image: nothing found, or too small a picture
        none = np.zeros(0)
        return Texture(grey, np.zeros((0, 2)), none, none, np.zeros((0, _DESCRIBED)))
    parts = (found.positions, found.sigmas, found.orientations, found.descriptors)
    count = len(np.asarray(found.sigmas))
    kept = np.linspace(0, count - 1, min(_MOST, count)).astype(int)
    places, sizes, turns, marks = (np.asarray(part, float)[kept] for part in parts)
    marks /= np.maximum(np.linalg.norm(marks, axis=1, keepdims=True), 1e-9)
    return Texture(grey, places, sizes, turns, marks)


def _evened(pixels: Pixels) -> Floats:
    """Lightness less its mean near by, over its scatter there."""
    from scipy.ndimage import gaussian_filter

    picture = Image.fromarray(pixels).convert("L")
    by = _SIDE / max(picture.size)
    width, height = (max(_SMALLEST, round(side * by)) for side in picture.size)
    grey = np.asarray(picture.resize((width, height), Image.Resampling.LANCZOS), float) / 255
    grey = grey - gaussian_filter(grey, _LOCAL)
    return np.asarray(grey / (np.sqrt(gaussian_filter(grey * grey, _LOCAL)) + _FAINT))


def likeness(one: Texture, other: Texture) -> float:
    """Correlation of the two laid on each other as well as can be, 0 where nothing says how."""
    return max((_laid(one, other, way) for way in _ways(one, other)), default=0.0)


_compared: WeakKeyDictionary[Texture, WeakKeyDictionary[Texture, bool]] = WeakKeyDictionary()
"""What was found out about two textures, for as long as somebody remembers both."""


def same_motif(one: Texture, other: Texture) -> bool:
    """Whether the two show one motif beyond doubt: regular figures are too common to tell."""
    known = _compared.setdefault(one, WeakKeyDictionary())
    if other not in known:
        many = min(kinds(one), kinds(other)) >= _KINDS
        known[other] = many and likeness(one, other) >= _ALIKE
    return known[other]


def kinds(one: Texture) -> int:
    """How many different features a motif has: a lattice of dots a handful, a flower dozens."""
    alike = one.marks @ one.marks.T > _ONE_KIND
    left, count = np.ones(len(alike), bool), 0
    for k in range(len(alike)):
        if left[k]:
            count += 1
            left &= ~alike[k]
    return count


def _ways(one: Texture, other: Texture) -> list[Floats]:
    """Similarities (2, 3), rows and columns of ``one`` to those of ``other``, that most matches
    agree with."""
    if min(len(one.marks), len(other.marks)) < _FEWEST:
        return []
    near = np.argsort(-(one.marks @ other.marks.T), axis=1, kind="stable")[:, :_CLOSEST]
    a = np.repeat(np.arange(len(near)), near.shape[1])
    b = near.ravel()
    scale = other.sizes[b] / one.sizes[a]
    turn = other.turns[b] - one.turns[a]
    # Orientation counts from the rows' axis towards the columns', as scikit-image has it.
    cos, sin = scale * np.cos(turn), scale * np.sin(turn)
    linear = np.stack([np.stack([cos, -sin], 1), np.stack([sin, cos], 1)], 1)
    here, there = one.places[a], other.places[b]
    shift = there - np.einsum("nij,nj->ni", linear, here)
    possible = (scale < _LARGEST_CHANGE) & (scale > 1 / _LARGEST_CHANGE)
    moved = np.einsum("nij,mj->nmi", linear, here) + shift[:, None]
    agrees = ((moved - there) ** 2).sum(axis=2) < _NEAR**2
    votes = np.where(possible, agrees.sum(axis=1), 0)
    ways = []
    for k in np.argsort(-votes, kind="stable")[:_TRIED]:
        if votes[k] >= _FEWEST:
            ways.append(_fitted(here[agrees[k]], there[agrees[k]]))
    return ways


def _fitted(here: Floats, there: Floats) -> Floats:
    """Least squares affine map (2, 3) of matched places: a table is seen a little aslant."""
    design = np.column_stack([here, np.ones(len(here))])
    return np.asarray(np.linalg.lstsq(design, there, rcond=None)[0].T)


def _laid(one: Texture, other: Texture, way: Floats) -> float:
    """Correlation of ``other`` with ``one`` laid on it; 0 where they hardly overlap."""
    from scipy.ndimage import map_coordinates

    rows, columns = np.mgrid[: one.grey.shape[0] : 2, : one.grey.shape[1] : 2]
    at = np.stack([rows.ravel(), columns.ravel(), np.ones(rows.size)])
    there = way @ at
    size = np.array(other.grey.shape)[:, None] - 1
    inside = ((there >= 0) & (there <= size)).all(axis=0)
    if inside.sum() < _SHARE * rows.size or abs(np.linalg.det(way[:, :2])) < 1 / _LARGEST_CHANGE**2:
        return 0.0
    first = one.grey[::2, ::2].ravel()[inside]
    second = map_coordinates(other.grey, there[:, inside], order=1)
    return float(np.corrcoef(first, second)[0, 1])
