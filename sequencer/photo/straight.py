"""Things with four straight sides, each side measured in the finest pixels of the photo."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from sequencer.photo.edges import Sides, refined_sides
from sequencer.photo.load import Photo
from sequencer.photo.perspective import quadrilateral
from sequencer.photo.scraps import Scrap
from sequencer.photo.shape import Floats, area

_FILLED = (0.93, 1.22)
_FILLED_TRULY, _FILLED_AT_LEAST = (0.95, 1.05), (0.88, 1.15)
_FARTHEST = 0.06
_STRAY, _CLEAR = 0.45, 0.15
_SMALLEST = 14.0


@dataclass(frozen=True, eq=False)
class Straight:
    """``corners`` (4, 2) in analysis pixels. ``sides``: as measured, in the finest pixels.

    ``finer``: of those in one analysis pixel. ``filled``: what of it the outline covers.
    """

    corners: Floats
    sides: Sides
    finer: float
    filled: float

    @property
    def stray(self) -> float:
        """How far the edge strays from the side that fits it worst, in the finest pixels."""
        return float(self.sides.stray.max())

    @property
    def is_exact(self) -> bool:
        """Whether the thing is this quadrilateral: all edges were seen and the outline agrees.

        Edges that are very clear are believed against a poorer outline.
        """
        low, high = _FILLED_AT_LEAST if self.stray < _CLEAR else _FILLED_TRULY
        return self.stray < _STRAY and low < self.filled < high


_known: WeakKeyDictionary[Scrap, Straight | None] = WeakKeyDictionary()


def straight(photo: Photo, thing: Scrap) -> Straight | None:
    """The four straight sides of a whole thing in the photo; None for others. Looked for once."""
    if thing not in _known:
        _known[thing] = None if thing.cut_off else _straight(photo, thing)
    return _known[thing]


def exact_outline(photo: Photo, thing: Scrap) -> Floats:
    """The thing's outline (n, 2) in analysis pixels; four measured corners where it is straight.

    The outline found by colour follows cloth to about a pixel; measured sides, to a tenth.
    """
    found = straight(photo, thing)
    return found.corners if found is not None and found.is_exact else thing.outline


def _straight(photo: Photo, thing: Scrap) -> Straight | None:
    rough = quadrilateral(thing.outline)
    if rough is None:
        return None
    covered = area(thing.outline)
    if not _FILLED[0] < covered / max(area(rough), 1e-9) < _FILLED[1]:
        return None
    # As large as what it stands for: the hull's four corners cut rounded ones short.
    middle = rough.mean(axis=0)
    rough = middle + (rough - middle) * np.sqrt(covered / area(rough))
    pixels, factor = photo.finest
    finer = photo.factor / factor
    sides = refined_sides(pixels, rough * finer)
    if sides is None:
        return None
    corners = sides.corners / finer
    size = np.linalg.norm(corners[2] - corners[0])
    moved = np.abs(corners - rough).max()
    if moved > max(_FARTHEST * size, 4.0) or area(corners) < _SMALLEST**2:
        return None
    return Straight(corners, sides, finer, covered / area(corners))
