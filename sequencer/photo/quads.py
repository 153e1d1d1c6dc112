"""Smooth quadrilaterals in a photo: candidates for a sheet or a grey card.

Pixels whose colour hardly changes are grouped; a group's convex hull, its corners removed one by
one by the least triangle they span (Visvalingam and Whyatt 1993) until four remain, is its
quadrilateral. ``fill`` says how well the group fills it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_lab, srgb_to_linear
from sequencer.models import Pixels

Floats = NDArray[np.floating]

_WORKING_SIDE = 640
_SMALLEST = 0.004
_LARGEST = 0.45


@dataclass(frozen=True, eq=False)
class Quad:
    """``corners`` (4, 2) x, y in analysis pixels, in order round the outline.

    ``encoded`` (3,): median sRGB 0 to 1. ``luminance``: of that, linear 0 to 1. ``chroma``: CIELAB.
    ``texture``: standard deviation of L* about its own slow change. ``area``: share of the picture.
    ``fill``: intersection over union of the group and its quadrilateral.
    """

    corners: Floats
    encoded: Floats
    luminance: float
    chroma: float
    texture: float
    area: float
    fill: float

    @property
    def linear(self) -> Floats:
        """Linear sRGB of the median colour."""
        return srgb_to_linear(self.encoded)


def smooth_quads(pixels: Pixels) -> list[Quad]:
    """Every smooth quadrilateral of the photo that is not its background, largest first."""
    from scipy.ndimage import binary_dilation, find_objects, label

    step = max(1, -(-max(pixels.shape[:2]) // _WORKING_SIDE))
    small = shrunk(pixels, step)
    lab = srgb8_to_lab(small)
    smooth = _change(lab) < 4.0
    groups, count = label(smooth)
    sizes = np.bincount(groups.ravel(), minlength=count + 1)
    boxes = find_objects(groups)
    quads = []
    for number in range(1, count + 1):
        if not _SMALLEST * 0.5 < sizes[number] / smooth.size < _LARGEST:
            continue
        box = _grown(boxes[number - 1], 3, smooth.shape)
        member = binary_dilation(groups[box] == number, iterations=2)
        quad = _quad(member, box, small, lab, step)
        if quad is not None:
            quads.append(quad)
    return sorted(quads, key=lambda q: -q.area)


def shrunk(pixels: Pixels, step: int) -> Pixels:
    """Averages of step × step blocks, cut to whole blocks."""
    if step == 1:
        return pixels
    rows, columns = pixels.shape[0] // step, pixels.shape[1] // step
    blocks = pixels[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    return np.asarray(blocks.astype(np.float32).mean(axis=(1, 3)) + 0.5).astype(np.uint8)


def _change(lab: Floats) -> Floats:
    """CIE76 change over two pixels of the 3 × 3 mean, the larger of across and down."""
    from scipy.ndimage import uniform_filter

    calm = uniform_filter(lab, size=(3, 3, 1), mode="nearest")
    change = np.zeros(calm.shape[:2], dtype=calm.dtype)
    change[:, 1:-1] = np.linalg.norm(calm[:, 2:] - calm[:, :-2], axis=-1)
    change[1:-1] = np.maximum(change[1:-1], np.linalg.norm(calm[2:] - calm[:-2], axis=-1))
    return change


def _grown(box: tuple[slice, slice], by: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    rows, columns = (
        slice(max(0, side.start - by), min(limit, side.stop + by))
        for side, limit in zip(box, shape, strict=False)
    )
    return rows, columns


def _quad(
    member: NDArray[np.bool_], box: tuple[slice, slice], small: Pixels, lab: Floats, step: int
) -> Quad | None:
    from scipy.ndimage import binary_fill_holes

    whole = small.shape[:2]
    sides = [box[0].start == 0, box[1].start == 0, box[0].stop == whole[0], box[1].stop == whole[1]]
    filled = binary_fill_holes(member)
    area = float(filled.sum()) / (whole[0] * whole[1])
    if area < _SMALLEST or sum(sides) > 2:
        return None
    corners = quadrilateral(filled)
    if corners is None:
        return None
    fill = _overlap(filled, corners)
    if fill < 0.8:
        return None
    core = _core(corners, member.shape) & member
    if core.sum() < 30:
        return None
    encoded = np.median(small[box][core], axis=0) / 255
    inside = lab[box][core]
    _, a, b = np.median(inside, axis=0)
    texture = _texture(lab[box][..., 0], core)
    offset = np.array([box[1].start, box[0].start])
    luminance = float(srgb_to_linear(encoded) @ [0.2126, 0.7152, 0.0722])
    return Quad(
        (corners + offset) * step, encoded, luminance, float(np.hypot(a, b)), texture, area, fill
    )


def _texture(lightness: Floats, core: NDArray[np.bool_]) -> float:
    """Scatter of L* about a plane: paper is quiet, cloth has a weave."""
    y, x = np.nonzero(core)
    design = np.stack([np.ones(len(x)), x, y], axis=1)
    values = lightness[core].astype(float)
    slope = np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.median(np.abs(values - design @ slope)) * 1.4826)


def quadrilateral(member: NDArray[np.bool_]) -> Floats | None:
    """Corners (4, 2) x, y of the quadrilateral round a group of pixels, None if it has no area."""
    from scipy.spatial import ConvexHull, QhullError

    y, x = np.nonzero(member)
    points = np.concatenate(
        [np.stack([x + dx, y + dy], axis=1) for dx in (0, 1) for dy in (0, 1)]
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
