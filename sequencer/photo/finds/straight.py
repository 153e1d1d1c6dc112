"""Things with four straight sides, each side measured in the finest pixels of the photo.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.shapes.edges import Sides, refined_all
from sequencer.photo.shapes.perspective import quadrilateral
from sequencer.photo.shapes.shape import Floats, area

_FILLED = (0.93, 1.22)
"""Area of the outline by that of its four hull corners, least and most, for sides to be looked
for."""
_FILLED_TRULY, _FILLED_BY_CLEAR = (0.95, 1.05), (0.88, 1.15)
"""The same by the measured corners, for these to be believed; where all edges are very clear."""
_FARTHEST, _FARTHEST_LEAST = 0.06, 4.0
"""Share of its diagonal by which a measured corner may lie from where it was looked for; analysis
pixels that it may however small it is."""
_STRAY, _CLEAR = 0.45, 0.15
"""Finest pixels by which, at most, an exact thing's edge strays from its worst side; a very clear
edge."""
_SMALLEST = 14.0
"""Root of the least area that is measured, in analysis pixels."""


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
        low, high = _FILLED_BY_CLEAR if self.stray < _CLEAR else _FILLED_TRULY
        return self.stray < _STRAY and low < self.filled < high


_known: WeakKeyDictionary[Scrap, Straight | None] = WeakKeyDictionary()


_roughly: WeakKeyDictionary[Scrap, Floats | None] = WeakKeyDictionary()


def straight(photo: Photo, thing: Scrap) -> Straight | None:
    """The four straight sides of a whole thing in the photo; None for others. Looked for once."""
    straighten(photo, [thing])
    return _known[thing]


def straighten(photo: Photo, things: Sequence[Scrap]) -> None:
    """Look for the straight sides of several things at once: :func:`straight` then knows them."""
    new = [thing for thing in things if thing not in _known]
    _known.update(dict.fromkeys(new))
    roughs = [(thing, rough) for thing in new if (rough := _filled(thing)) is not None]
    if not roughs:
        return
    pixels, factor = photo.finest
    finer = photo.factor / factor
    found = refined_all(pixels, [rough * finer for _, rough in roughs])
    for (thing, rough), sides in zip(roughs, found, strict=True):
        if sides is not None:
            _known[thing] = _measured(thing, rough, sides, finer)


def four_corners(thing: Scrap) -> Floats | None:
    """The four hull corners (4, 2) of a whole thing, as `quadrilateral` has them; kept."""
    if thing not in _roughly:
        _roughly[thing] = None if thing.cut_off else quadrilateral(thing.outline)
    return _roughly[thing]


def exact_outline(photo: Photo, thing: Scrap) -> Floats:
    """The thing's outline (n, 2) in analysis pixels; four measured corners where it is straight.

    The outline found by colour follows cloth to about a pixel; measured sides, to a tenth.
    """
    found = straight(photo, thing)
    return found.corners if found is not None and found.is_exact else thing.outline


def _filled(thing: Scrap) -> Floats | None:
    """Four corners as large as what they stand for: the hull's cut rounded ones short."""
    rough = four_corners(thing)
    if rough is None:
        return None
    share = area(thing.outline) / max(area(rough), 1e-9)
    if not _FILLED[0] < share < _FILLED[1]:
        return None
    middle = rough.mean(axis=0)
    return np.asarray(middle + (rough - middle) * np.sqrt(share))


def _measured(thing: Scrap, rough: Floats, sides: Sides, finer: float) -> Straight | None:
    """The thing by its sides, unless they were found too far from where it lies."""
    corners = sides.corners / finer
    size = np.linalg.norm(corners[2] - corners[0])
    covers = area(corners)
    far = np.abs(corners - rough).max() > max(_FARTHEST * size, _FARTHEST_LEAST)
    if far or covers < _SMALLEST**2:
        return None
    return Straight(corners, sides, finer, area(thing.outline) / covers)
