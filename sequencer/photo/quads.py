"""Smooth quadrilaterals in a photo: candidates for a sheet or a grey card.

Pixels whose colour hardly changes are grouped; a group's convex hull, its corners removed one by
one by the least triangle they span (Visvalingam and Whyatt 1993) until four remain, is its
quadrilateral. ``fill`` says how well the group fills it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.photo.view import View

Floats = NDArray[np.floating]

_LIMITS = (4.0, 2.2, 1.2)
_SMALLEST = 0.006
_LARGEST = 0.45
_LOOSEST = 0.35  # share of its upright box that a turned rectangle fills at least


@dataclass(frozen=True, eq=False)
class Quad:
    """``corners`` (4, 2) x, y in analysis pixels, in order round the outline.

    ``encoded`` (3,): median sRGB 0 to 1. ``luminance``: of that, linear 0 to 1. ``chroma`` and
    ``hue`` (degrees): CIELAB. ``texture``: standard deviation of L* about its own slow change.
    ``area``: share of the picture. ``fill``: intersection over union with its quadrilateral.
    ``touches``: how many sides of the picture it reaches.
    """

    corners: Floats
    encoded: Floats
    luminance: float
    chroma: float
    hue: float
    texture: float
    area: float
    fill: float
    touches: int

    @property
    def linear(self) -> Floats:
        """Linear sRGB of the median colour."""
        return srgb_to_linear(self.encoded)


def smooth_quads(view: View) -> list[Quad]:
    """Every smooth quadrilateral of the photo that is not its background, largest first.

    Looked for at three limits of smoothness: a sheet on a white table is parted from it only by a
    faint edge, a card in a noisy photo only hangs together at a generous limit.
    """
    quads: list[Quad] = []
    for limit in _LIMITS:
        for quad in _quads_below(view, limit):
            there = [other for other in quads if _same_place(quad, other)]
            if all(quad.fill > other.fill + 0.02 for other in there):
                quads = [other for other in quads if other not in there] + [quad]
    return sorted(quads, key=lambda q: -q.area)


def _same_place(quad: Quad, other: Quad) -> bool:
    gap = np.abs(quad.corners.mean(axis=0) - other.corners.mean(axis=0)).max()
    return bool(gap < 0.2 * np.ptp(quad.corners, axis=0).min())


def _quads_below(view: View, limit: float) -> Iterator[Quad]:
    from scipy.ndimage import binary_dilation, find_objects, label

    smooth = view.change < limit
    groups, count = label(smooth)
    sizes = np.bincount(groups.ravel(), minlength=count + 1)
    boxes = find_objects(groups)
    for number in range(1, count + 1):
        if not _SMALLEST * 0.5 < sizes[number] / smooth.size < _LARGEST:
            continue
        box = boxes[number - 1]
        touches = _touches(box, smooth.shape)
        if touches > 2 or sizes[number] < _LOOSEST * groups[box].size:
            continue
        box = _grown(box, 3, smooth.shape)
        member = binary_dilation(groups[box] == number, iterations=2)
        quad = _quad(member, box, view, touches)
        if quad is not None:
            yield quad


def _touches(box: tuple[slice, slice], shape: tuple[int, ...]) -> int:
    rows, columns = box
    reached = (rows.start <= 2, columns.start <= 2)
    return sum((*reached, rows.stop >= shape[0] - 2, columns.stop >= shape[1] - 2))


def _grown(box: tuple[slice, slice], by: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    rows, columns = (
        slice(max(0, side.start - by), min(limit, side.stop + by))
        for side, limit in zip(box, shape, strict=False)
    )
    return rows, columns


def _quad(
    member: NDArray[np.bool_], box: tuple[slice, slice], view: View, touches: int
) -> Quad | None:
    from scipy.ndimage import binary_fill_holes

    filled = binary_fill_holes(member)
    area = float(filled.sum()) / view.change.size
    if area < _SMALLEST:
        return None
    corners = quadrilateral(filled)
    if corners is None or not _oblong(corners):
        return None
    fill = _overlap(filled, corners)
    if fill < 0.8:
        return None
    core = _core(corners, member.shape) & member
    if core.sum() < 30:
        return None
    encoded = np.median(view.pixels[box][core], axis=0) / 255
    inside = view.lab[box][core]
    _, a, b = np.median(inside, axis=0)
    texture = _texture(view.lab[box][..., 0], core)
    offset = np.array([box[1].start, box[0].start])
    luminance = float(srgb_to_linear(encoded) @ [0.2126, 0.7152, 0.0722])
    chroma, hue = float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a)) % 360)
    at = (corners + offset) * view.step
    return Quad(at, encoded, luminance, chroma, hue, texture, area, fill, touches)


def _oblong(corners: Floats) -> bool:
    """Corners near right angles, sides no more than 4 to 1: a sheet or a card seen from above."""
    sides = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*sides.T)
    sine = np.abs(_cross(sides, np.roll(sides, -1, axis=0))) / (length * np.roll(length, -1))
    return bool(length.min() > 3 and sine.min() > 0.85 and length.max() < 4 * length.min())


def _texture(lightness: Floats, core: NDArray[np.bool_]) -> float:
    """Scatter of L* about a plane: paper is quiet, cloth has a weave."""
    y, x = np.nonzero(core)
    few = slice(None, None, 1 + len(x) // 2000)
    y, x = y[few], x[few]
    design = np.stack([np.ones(len(x)), x, y], axis=1)
    values = lightness[y, x].astype(float)
    slope = np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.median(np.abs(values - design @ slope)) * 1.4826)


def quadrilateral(member: NDArray[np.bool_]) -> Floats | None:
    """Corners (4, 2) x, y of the quadrilateral round a group of pixels, None if it has no area."""
    from scipy.spatial import ConvexHull, QhullError

    rows = np.flatnonzero(member.any(axis=1))
    if not len(rows):
        return None
    left = member[rows].argmax(axis=1)
    right = member.shape[1] - member[rows, ::-1].argmax(axis=1)
    points = np.concatenate(
        [np.stack([x, rows + dy], axis=1) for x in (left, right) for dy in (0, 1)]
    ).astype(float)
    try:
        hull = points[ConvexHull(points).vertices]
    except (QhullError, ValueError):
        return None
    while len(hull) > 4:
        before, after = np.roll(hull, 1, axis=0), np.roll(hull, -1, axis=0)
        spans = np.abs(_cross(hull - before, after - before))
        hull = np.delete(hull, int(np.argmin(spans)), axis=0)
    return hull if len(hull) == 4 else None


def _cross(a: Floats, b: Floats) -> Floats:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _core(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """The inner 70 % of a quadrilateral."""
    centre = corners.mean(axis=0)
    return _inside(centre + 0.7 * (corners - centre), shape)


def _inside(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Pixels whose centre lies inside a convex polygon."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    signs = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        signs.append((end[0] - start[0]) * (y - start[1]) - (end[1] - start[1]) * (x - start[0]))
    stacked = np.stack(signs)
    return np.asarray((stacked >= 0).all(axis=0) | (stacked <= 0).all(axis=0))


def _overlap(member: NDArray[np.bool_], corners: Floats) -> float:
    inside = _inside(corners, member.shape)
    return float((inside & member).sum() / max(1, (inside | member).sum()))
