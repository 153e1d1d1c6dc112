"""Views of a plane: homographies, and the four corners of a rectangle seen in perspective.

A flat table seen by a camera maps to the picture by a homography, which four corners of a known
rectangle determine (Hartley and Zisserman, Multiple View Geometry, 2nd ed. 2004, 2.3 and 4.1).
"""

from __future__ import annotations

import numpy as np

from sequencer.photo.shapes.edges import between
from sequencer.photo.shapes.shape import Floats, hull

_FEWEST = 40  # points half a pixel apart, without which an outline has no sides; by hand
_SLACK = (0.09, 0.03)  # of a side, that points may be off it: at a first look and a second; by hand
_SLACK_LEAST = 2.0  # pixels that they may be off it however short it is; by hand
_SHORTEST, _ON_SIDE = 8, 8  # pixels of a side, and points on it, at least; by hand
_ENDS = (0.14, 0.86)  # of a side, between which points count: corners may be round; by hand
_OFF, _OFF_LEAST = 2.5, 0.4  # times the median distance, and pixels, that is far off; by hand
_ROUNDS = 3  # of leaving out what is
_TURNS = 8  # of improving four corners, at most; by hand
_SETTLED = 1.5  # pixels that corners may move for a second look to be spared; by hand


def homography(source: Floats, target: Floats) -> Floats:
    """The 3×3 matrix that takes four points to four points, its last entry 1.

    Raises:
        ValueError: three of the points lie on one line.
    """
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    try:
        solved = np.linalg.solve(np.array(rows, float), np.asarray(target, float).ravel())
    except np.linalg.LinAlgError:
        raise ValueError("three of the four points lie on one line") from None
    return np.asarray(np.append(solved, 1.0).reshape(3, 3))


def project(matrix: Floats, points: Floats) -> Floats:
    """Points (n, 2) through a homography."""
    moved = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def local_scale(matrix: Floats, point: Floats) -> float:
    """How much the homography magnifies lengths at a point (root of the Jacobian's determinant)."""
    x, y = point
    w = float(matrix[2] @ [x, y, 1.0])
    return float(np.sqrt(abs(np.linalg.det(matrix)) / abs(w) ** 3))


def corners_of(outline: Floats, rough: Floats | None = None) -> Floats | None:
    """The four corners (4, 2), in order, of a rectangle seen in perspective; None for others.

    ``rough``: its :func:`quadrilateral`, where that is known.

    Sides are total-least-squares lines through the outline's points away from the corners, so
    that rounded or dog-eared corners and single stray pixels do not count; corners are where the
    lines meet, to a fraction of a pixel.
    """
    rough = quadrilateral(outline) if rough is None else rough
    points = _evenly(outline)
    if rough is None or len(points) < _FEWEST:
        return None
    for slack in _SLACK:
        lines = [_side(points, rough[k], rough[(k + 1) % 4], slack) for k in range(4)]
        if any(line is None for line in lines):
            return None
        met = between(*np.moveaxis(np.array(lines, float), 1, 0))
        if np.isnan(met).any():
            return None
        before, rough = rough, met
        if np.abs(rough - before).max() < _SETTLED:
            break
    return rough


def _evenly(outline: Floats, step: float = 0.5) -> Floats:
    """Points every half pixel along the closed outline."""
    closed = np.vstack([outline, outline[:1]])
    lengths = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    at = np.arange(0, along[-1], step)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])


def quadrilateral(outline: Floats) -> Floats | None:
    """Four hull corners that span the most area, improved one at a time from the longest diagonal.

    Rounded corners are cut short: :func:`corners_of` is where the sides would meet.
    """
    corners = hull(outline)
    if len(corners) < 4:
        return None
    first = int(np.argmax(np.linalg.norm(corners - corners.mean(axis=0), axis=1)))
    second = int(np.argmax(np.linalg.norm(corners - corners[first], axis=1)))
    away = _off(corners, corners[first], corners[second])
    chosen = [first, int(np.argmax(away)), second, int(np.argmin(away))]
    for _ in range(_TURNS):
        before = list(chosen)
        for k in range(4):
            off = _off(corners, corners[chosen[k - 1]], corners[chosen[(k + 1) % 4]])
            chosen[k] = int(np.argmax(off * np.sign(off[chosen[k]])))
        if chosen == before:
            break
    return corners[chosen] if len(set(chosen)) == 4 else None


def _off(points: Floats, a: Floats, b: Floats) -> Floats:
    """How far points lie to one side of the line a-b, times its length."""
    d = b - a
    return np.asarray(d[0] * (points[:, 1] - a[1]) - d[1] * (points[:, 0] - a[0]))


def _side(points: Floats, a: Floats, b: Floats, slack: float) -> tuple[Floats, Floats] | None:
    """A point and the direction of the line through the outline between two corners."""
    length = float(np.linalg.norm(b - a))
    if length < _SHORTEST:
        return None
    along = (b - a) / length
    local = points - a
    t = local @ along
    away = local @ np.array([-along[1], along[0]])
    low, high = _ENDS
    near = (t > low * length) & (t < high * length)
    near &= np.abs(away) < max(_SLACK_LEAST, slack * length)
    x, y = points[near].T.copy()
    if len(x) < _ON_SIDE:
        return None
    for _ in range(_ROUNDS):
        centre = np.array([x.mean(), y.mean()])
        u, v = x - centre[0], y - centre[1]
        angle = 0.5 * np.arctan2(2 * (u @ v), u @ u - v @ v)  # the way they spread most
        direction = np.array([np.cos(angle), np.sin(angle)])
        off = np.abs(v * direction[0] - u * direction[1])
        near = off <= max(_OFF_LEAST, _OFF * _median(off))
        x, y = x[near], y[near]
    return centre, direction


def _median(values: Floats) -> float:
    """Of a few values, quicker than NumPy's."""
    half = len(values) // 2
    ordered = np.sort(values)
    return float(ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2)
