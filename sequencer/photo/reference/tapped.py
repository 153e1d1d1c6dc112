"""The four-sided thing under a point that the maker tapped: 'this is my white sheet'.

She says that it is one, so nothing is weighed: the smallest smooth quadrilateral that holds the
point is it, else what the colour under her finger reaches without a break.
Constants are by hand, never fitted.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import View, view_of
from sequencer.photo.reference.quads import smooth_quads
from sequencer.photo.shapes.foursided import quadrilateral
from sequencer.photo.shapes.shape import Floats, area

_REACHES = (5.0, 9.0, 14.0)
"""CIE76 from the colour under the finger that still belongs to it: a sheet's own shading first."""
_FILLED = 0.8  # of its quadrilateral
_SMALLEST, _LARGEST = 0.0008, 0.6  # of the picture, for what is found by its colour
_NEARLY_ALL = 0.9
"""Of the picture: what covers more is the table."""
_FINGER = 2  # pixels of the view to each side, of which the median is the colour


def thing_at(photo: Photo, point: tuple[float, float]) -> Floats | None:
    """Corners (4, 2) in analysis pixels of what lies at ``point``, in pixels of the upright photo.

    None where nothing of four straight sides is seen there.
    """
    view = view_of(photo)
    x, y = (part / photo.factor for part in point)
    whole = float(np.prod(photo.pixels.shape[:2]))
    quads = [quad.corners for quad in smooth_quads(view, lenient=True)]
    held = [one for one in quads if area(one) < _NEARLY_ALL * whole and _holds(one, x, y)]
    if held:
        return min(held, key=area)
    return _of_one_colour(view, x / view.step, y / view.step)


def _holds(corners: Floats, x: float, y: float) -> bool:
    """Whether a point lies in a convex outline, whichever way round that goes."""
    run = np.roll(corners, -1, axis=0) - corners
    side = run[:, 0] * (y - corners[:, 1]) - run[:, 1] * (x - corners[:, 0])
    return bool((side >= 0).all() or (side <= 0).all())


def _of_one_colour(view: View, x: float, y: float) -> Floats | None:
    """Four sides round the pixels that hang together with those at x, y of the view by colour."""
    height, width = view.lab.shape[:2]
    column, row = int(np.clip(x, 0, width - 1)), int(np.clip(y, 0, height - 1))
    top, left = max(row - _FINGER, 0), max(column - _FINGER, 0)
    there = view.lab[top : row + _FINGER + 1, left : column + _FINGER + 1]
    away = np.linalg.norm(view.lab - np.median(there, axis=(0, 1)), axis=-1)
    for reach in _REACHES:
        corners = _round_group(away < reach, row, column)
        if corners is not None:
            return corners * view.step
    return None


def _round_group(member: NDArray[np.bool_], row: int, column: int) -> Floats | None:
    from scipy.ndimage import binary_fill_holes, label

    groups, _ = label(member)
    if not groups[row, column]:
        return None
    whole = binary_fill_holes(groups == groups[row, column])
    size = np.count_nonzero(whole)
    if not _SMALLEST * whole.size < size < _LARGEST * whole.size:
        return None
    corners = quadrilateral(whole)
    return corners if corners is not None and size > _FILLED * area(corners) else None
