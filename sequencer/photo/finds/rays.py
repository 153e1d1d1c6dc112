"""Lines along which a piece may be cut: from its concave corners, and straight across it.

Lines are pairs of points (n, 2) x, y; many are followed at once.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.finds.unlike import beside
from sequencer.photo.shapes.shape import Floats, Mask, outline_of, simplified

_LEAST_CONTRAST = 0.22
"""Contrast beside a line (0 to 1, as :func:`beside` has it) from which its colours make it a cut
worth trying."""
_WORSE, _SIDE_BY_SIDE = -0.03, 0.004
"""Least gain in rectangularity of a cut from a concave corner, which may lose a little where
colours speak for it, and of one straight across."""
_ON_OUTLINE, _BENDS, _LEAST_BEND = 200, 0.02, 1.2
"""Points of an outline, about, that corners are told by; how far off it a corner must be, as a
share of the root of the piece's area, and in pixels of the mask at least."""
_TURNS, _MOST_CONCAVE = 0.44, 8
"""Radians (25 degrees) that a corner turns inward at least; how many are tried, sharpest first."""
_LEAST_SIDE, _LEAST_CUT, _LEAST_LENGTH = 3, 8, 4
"""Pixels of the mask: of a side that a cut goes on along, of a cut that colours speak for, of one
from corner to corner."""
_ACROSS, _ENDS = 17, (0.04, 0.96)
"""Lines straight across in each direction, and between which quantiles of the piece they lie."""
_MOST_LINES = 0.8
"""Quantile of their contrasts that most lines across a print stay below."""
_MIDDLE, _INSIDE = (0.1, 0.9), 0.97
"""Part of a line from corner to corner that is looked at, and the share of it inside the piece."""
_ENTERS = 6
"""Pixels of the mask along a ray within which it must enter the piece."""
_SPOKES = np.arange(0, 2 * np.pi, np.pi / 12)
_SPOKES = np.column_stack([np.cos(_SPOKES), np.sin(_SPOKES)])
"""Directions (24, 2), 15 degrees apart, tried from a concave corner."""


@dataclass(frozen=True, eq=False)
class Line:
    """A cut from ``a`` to ``b`` and the least gain in rectangularity that it must bring."""

    a: Floats
    b: Floats
    least: float


def candidates(mask: Mask, index: NDArray[np.int64], slight: bool) -> tuple[list[Line], float]:
    """Cuts worth trying on ``mask`` (h, w), and the contrast beside most lines across it.

    Where large figures make any line a border of colours, a seam has to be a clearer one.

    ``index`` (h, w): each pixel's colour, as
    :func:`~sequencer.photo.finds.unlike.palette_index` has it.
    ``slight``: the piece is nearly a rectangle, so that no cut runs askew from a corner.
    """
    outline = outline_of(mask)
    size = float(np.sqrt(mask.sum()))
    closed = np.vstack([outline[:: max(1, len(outline) // _ON_OUTLINE)], outline[:1]])
    corners = simplified(closed, max(_LEAST_BEND, _BENDS * size))[:-1]
    concave = _concave(corners)
    found = []
    for k in concave:
        here = corners[k]
        on = np.array([here - corners[k - 1], here - corners[(k + 1) % len(corners)]])
        length = np.linalg.norm(on, axis=1)
        on = on[length > _LEAST_SIDE] / length[length > _LEAST_SIDE][:, None]
        ways = on if slight else np.vstack([on, _SPOKES])
        ends = _ends(mask, np.broadcast_to(here, ways.shape), ways)
        found += [Line(here, b, _WORSE) for b in ends[: len(on)]]
        if not slight:
            starts = np.broadcast_to(here, _SPOKES.shape)
            found += [Line(a, b, _WORSE) for a, b in _telling(starts, ends[len(on) :], index)]
    for i, k in enumerate(concave):
        for m in concave[i + 1 :]:
            if _runs_inside(mask, corners[k], corners[m]):
                found.append(Line(corners[k], corners[m], _WORSE))
    a, b = _across(mask)
    contrast = beside(index, a, b)
    found += [Line(a, b, _SIDE_BY_SIDE) for a, b in _most_telling(a, b, contrast)]
    return found, float(np.quantile(contrast, _MOST_LINES))


def _telling(a: Floats, b: Floats, index: NDArray[np.int64]) -> list[tuple[Floats, Floats]]:
    """The two lines along which the colours on both sides differ most."""
    return _most_telling(a, b, beside(index, a, b))


def _most_telling(a: Floats, b: Floats, contrast: Floats) -> list[tuple[Floats, Floats]]:
    contrast = np.where(np.hypot(*(b - a).T) > _LEAST_CUT, contrast, 0.0)
    best = np.argsort(-contrast, kind="stable")[:2]
    return [(a[k], b[k]) for k in best.tolist() if contrast[k] > _LEAST_CONTRAST]


def _across(mask: Mask) -> tuple[Floats, Floats]:
    """Lines straight across the piece's two main directions: scraps laid side by side, flush."""
    rows, columns = np.nonzero(mask)
    points = np.column_stack([columns, rows]) + 0.5
    centre = points.mean(axis=0)
    local = points - centre
    vectors = np.linalg.eigh(local.T @ local)[1]
    middles, ways = [], []
    for along, across in ((vectors[:, 1], vectors[:, 0]), (vectors[:, 0], vectors[:, 1])):
        low, high = np.quantile(local @ along, _ENDS)
        middles.append(centre + np.linspace(low, high, _ACROSS)[:, None] * along)
        ways.append(np.broadcast_to(across, (_ACROSS, 2)))
    middle, way = np.concatenate(middles), np.concatenate(ways)
    ends = _ends(mask, np.vstack([middle, middle]), np.vstack([-way, way]))
    return ends[: len(middle)], ends[len(middle) :]


def _concave(corners: Floats) -> list[int]:
    """Corners that turn inward by more than 25 degrees, the sharpest eight."""
    before = corners - np.roll(corners, 1, axis=0)
    after = np.roll(corners, -1, axis=0) - corners
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (before * after).sum(axis=1))
    inward = -np.sign(turn.sum()) * turn
    sharpest = np.argsort(-inward, kind="stable")[:_MOST_CONCAVE]
    return [int(k) for k in sharpest if inward[k] > _TURNS]


def _ends(mask: Mask, starts: Floats, ways: Floats) -> Floats:
    """Where rays (n, 2) leave the piece; a ray that does not soon enter it ends where it starts."""
    height, width = mask.shape
    along = np.arange(1.0, float(np.hypot(height, width)) + 1)
    column = np.floor(starts[:, :1] + ways[:, :1] * along).astype(np.int32)
    row = np.floor(starts[:, 1:] + ways[:, 1:] * along).astype(np.int32)
    within = (row >= 0) & (column >= 0) & (row < height) & (column < width)
    hit = within & mask.ravel()[(row * width + column) * within]
    enters = np.argmax(hit[:, :_ENTERS], axis=1)
    runs = hit | (np.arange(len(along)) < enters[:, None])
    leaves = np.where(runs.all(axis=1), len(along) - 1, np.argmin(runs, axis=1))
    reach = np.where(hit[:, :_ENTERS].any(axis=1), along[leaves], 0.0)
    return np.asarray(starts + reach[:, None] * ways)


def _runs_inside(mask: Mask, a: Floats, b: Floats) -> bool:
    count = int(np.hypot(*(b - a)))
    if count < _LEAST_LENGTH:
        return False
    at = a + np.linspace(*_MIDDLE, count)[:, None] * (b - a)
    column, row = np.clip(np.floor(at).astype(int).T, 0, np.array(mask.shape[::-1])[:, None] - 1)
    return bool(mask[row, column].mean() > _INSIDE)
