"""Prints whose ground is the table's colour show only their motifs: put those together again.

Stripes or dots seen alone are many small like-coloured pieces, evenly near each other, whose
common hull is nearly a rectangle and whose gaps, on average, are not quite the table.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from sequencer.photo.shape import Floats, Mask, hull, inside
from sequencer.photo.touching import rectangularity

_MOTIF = 0.036
_NEAR = 1.6
_SAME = 12.0
_COVER = 0.22
_NEARLY_RECTANGLE = 0.8


def put_together(found: Mask, lab: Floats, away: Floats) -> Mask:
    """Fill ``found`` (h, w) where its pieces are motifs of one print.

    ``lab`` (h, w, 3); ``away`` (h, w, 3): smoothed difference from the table in standard
    deviations.
    """
    labels, count = ndimage.label(_without_hairs(found))
    if count < 3:
        return found
    boxes = ndimage.find_objects(labels)
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    widest = _MOTIF * max(found.shape)
    width_of = {
        k: _width(labels, box, k)
        for k, box in enumerate(boxes, 1)
        if 8 <= areas[k] <= 2 * widest * _extent(box)
    }
    pieces = [k for k, width in width_of.items() if width <= widest]
    if len(pieces) < 3:
        return found
    colours = np.stack([_mean(lab, labels, boxes[k - 1], k) for k in pieces])
    outlines = [_rim(labels, boxes[k - 1], k) for k in pieces]
    widths = np.array([width_of[k] for k in pieces])
    is_motif = np.zeros(count + 1, bool)
    is_motif[pieces] = True
    filled = found.copy()
    for group in _groups(outlines, colours, widths):
        points = np.vstack([outlines[k] for k in group])
        region = _as_one(points, [pieces[k] for k in group], is_motif, labels, away)
        if region is not None:
            filled[region[1]] |= region[0]
    return filled


def _without_hairs(found: Mask) -> Mask:
    """Opened by a square of 2 × 2 pixels."""
    solid = found[1:, 1:] & found[:-1, 1:] & found[1:, :-1] & found[:-1, :-1]
    opened = np.zeros_like(found)
    for rows in (slice(1, None), slice(None, -1)):
        for columns in (slice(1, None), slice(None, -1)):
            opened[rows, columns] |= solid
    return opened


def _extent(box: tuple[slice, ...]) -> float:
    """Diagonal of a box."""
    return float(np.hypot(box[0].stop - box[0].start, box[1].stop - box[1].start))


def _mean(lab: Floats, labels: Mask, box: tuple[slice, ...], k: int) -> Floats:
    return np.asarray(lab[box][labels[box] == k].mean(axis=0))


def _width(labels: Mask, box: tuple[slice, ...], k: int) -> float:
    """Short side of the piece's equal-moment rectangle, in pixels."""
    rows, columns = np.nonzero(labels[box] == k)
    if len(rows) < 3:
        return 1.0
    spread = np.linalg.eigvalsh(np.cov(np.stack([columns, rows])) + np.eye(2) / 12)
    return float(np.sqrt(12 * spread[0]))


def _rim(labels: Mask, box: tuple[slice, ...], k: int) -> Floats:
    member = np.pad(labels[box] == k, 1)
    core = member[1:-1, 1:-1] & member[:-2, 1:-1] & member[2:, 1:-1]
    core &= member[1:-1, :-2] & member[1:-1, 2:]
    member[1:-1, 1:-1] &= ~core
    rows, columns = np.nonzero(member)
    return np.column_stack([columns - 0.5 + box[1].start, rows - 0.5 + box[0].start])


def _groups(outlines: list[Floats], colours: Floats, widths: Floats) -> list[list[int]]:
    """Like-coloured pieces linked over gaps not much wider than themselves; three or more."""
    from scipy.spatial import cKDTree

    trees = [cKDTree(rim) for rim in outlines]
    parent = list(range(len(outlines)))

    def root(k: int) -> int:
        while parent[k] != k:
            k = parent[k]
        return k

    low = np.array([rim.min(axis=0) for rim in outlines])
    high = np.array([rim.max(axis=0) for rim in outlines])
    for i in range(len(outlines)):
        reach = _NEAR * np.minimum(widths, widths[i]) + 2
        gap = np.maximum(low - high[i], low[i] - high).max(axis=1)
        alike = np.linalg.norm(colours - colours[i], axis=1) < _SAME
        for j in np.flatnonzero(alike & (gap < reach)).tolist():
            if j <= i or root(i) == root(j):
                continue
            if trees[i].query(outlines[j], k=1, distance_upper_bound=reach[j])[0].min() < reach[j]:
                parent[root(j)] = root(i)
    groups: dict[int, list[int]] = {}
    for k in range(len(outlines)):
        groups.setdefault(root(k), []).append(k)
    return [group for group in groups.values() if len(group) >= 3]


def _as_one(
    points: Floats, members: list[int], is_motif: Mask, labels: Mask, away: Floats
) -> tuple[Mask, tuple[slice, slice]] | None:
    """The hull of a group as (mask, box) where it makes one scrap; None where it does not."""
    margin = 8
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - margin, 0)
    high = np.ceil(points.max(axis=0)).astype(int) + margin
    box = np.s_[low[1] : high[1], low[0] : high[0]]
    local = labels[box]
    region = inside(hull(points) - low, local.shape)
    mine = np.isin(local, members)
    cover = float((mine & region).sum() / max(region.sum(), 1))
    others = float(((local > 0) & ~is_motif[local] & region).sum() / max(region.sum(), 1))
    if cover < _COVER or others > 0.15 or rectangularity(region) < _NEARLY_RECTANGLE:
        return None
    gaps = region & ndimage.binary_erosion(local == 0, iterations=2)
    around = (
        ndimage.binary_dilation(region, iterations=margin)
        & ~ndimage.binary_dilation(region, iterations=3)
        & (local == 0)
    )
    if gaps.sum() > 20 and around.sum() > 20 and len(members) < 5:
        apart = away[box][gaps].mean(axis=0) - away[box][around].mean(axis=0)
        if float(np.linalg.norm(apart)) < 0.5:
            return None
    return region, box
