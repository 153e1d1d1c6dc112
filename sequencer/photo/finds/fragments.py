"""Prints whose ground is the table's colour show only their motifs: put those together again.

Stripes or dots seen alone are many small like-coloured pieces, evenly near each other, whose
common hull is nearly a rectangle.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels
from sequencer.photo.finds.touching import rectangularity
from sequencer.photo.finds.unlike import mean_colour
from sequencer.photo.shapes.runs import Box, pieces_of
from sequencer.photo.shapes.shape import Floats, Mask, hull, inside

_MOTIF, _LEAST = 0.036, 8
"""Widest that a motif is, as a share of the picture's longer side; pixels that it covers,
at least."""
_NEAR = 1.6
"""Widest gap between two motifs, in widths of the narrower one, and two pixels more."""
_SAME = 12.0
"""CIE76 between mean colours below which motifs are alike."""
_COVER, _COVER_MANY = 0.22, 0.1
"""Least share of their hull that motifs cover; that sparse ones cover where they are many."""
_MANY, _SPARSE = 10, 0.3
"""From as many motifs on, sparse ones count as well, unless they are all over the picture."""
_NEARLY_RECTANGLE, _OTHERS = 0.8, 0.15
"""Least rectangularity (IoU) of the hull; share of it that other pieces may cover."""
_FEWEST = 5
"""Motifs that make a print; three or four like-coloured things in a row are as often scraps."""


def put_together(found: Mask, pixels: Pixels) -> Mask:
    """Fill ``found`` (h, w) where its pieces are motifs of one print in ``pixels`` (h, w, 3)."""
    pieces = pieces_of(_without_hairs(found))
    if pieces.count < _FEWEST:
        return found
    widest = _MOTIF * max(found.shape)
    slim = (pieces.widths <= widest) & (pieces.areas >= _LEAST)
    motifs = [
        k
        for k in np.flatnonzero(slim).tolist()
        if pieces.areas[k] <= 2 * widest * _extent(pieces.boxes[k])
    ]
    if len(motifs) < _FEWEST:
        return found
    masks = [pieces.mask(k) for k in motifs]
    boxes = [pieces.boxes[k] for k in motifs]
    colours = np.stack([mean_colour(pixels[box], m) for box, m in zip(boxes, masks, strict=True)])
    rim = cache(lambda k: _rim(masks[k], boxes[k]))  # most motifs have nobody near
    is_motif = np.zeros(pieces.count + 1, bool)
    is_motif[np.array(motifs) + 1] = True
    groups = _groups(rim, boxes, colours, pieces.widths[motifs])
    if not groups:
        return found
    labels, filled = pieces.labels(), found.copy()
    for group in groups:
        points = np.vstack([rim(k) for k in group])
        members = [motifs[k] + 1 for k in group]
        region = _as_one(points, members, is_motif, labels)
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


def _rim(mask: Mask, box: tuple[slice, ...]) -> Floats:
    member = np.pad(mask, 1)
    core = member[1:-1, 1:-1] & member[:-2, 1:-1] & member[2:, 1:-1]
    core &= member[1:-1, :-2] & member[1:-1, 2:]
    member[1:-1, 1:-1] &= ~core
    rows, columns = np.nonzero(member)
    return np.column_stack([columns - 0.5 + box[1].start, rows - 0.5 + box[0].start])


def _groups(
    rim: Callable[[int], Floats], boxes: list[Box], colours: Floats, widths: Floats
) -> list[list[int]]:
    """Like-coloured pieces linked over gaps not much wider than themselves."""
    from scipy.spatial import cKDTree

    tree = cache(lambda k: cKDTree(rim(k)))
    parent = list(range(len(boxes)))

    def root(k: int) -> int:
        while parent[k] != k:
            k = parent[k]
        return k

    low = np.array([(columns.start, rows.start) for rows, columns in boxes]) + 0.5
    high = np.array([(columns.stop, rows.stop) for rows, columns in boxes]) - 0.5
    for i in range(len(boxes)):
        reach = _NEAR * np.minimum(widths, widths[i]) + 2
        gap = np.maximum(low - high[i], low[i] - high).max(axis=1)
        alike = np.linalg.norm(colours - colours[i], axis=1) < _SAME
        for j in np.flatnonzero(alike & (gap < reach)).tolist():
            if j <= i or root(i) == root(j):
                continue
            if tree(i).query(rim(j), k=1, distance_upper_bound=reach[j])[0].min() < reach[j]:
                parent[root(j)] = root(i)
    groups: dict[int, list[int]] = {}
    for k in range(len(boxes)):
        groups.setdefault(root(k), []).append(k)
    return [group for group in groups.values() if len(group) >= _FEWEST]


def _as_one(
    points: Floats,
    members: list[int],
    is_motif: Mask,
    labels: NDArray[np.int32],
) -> tuple[Mask, tuple[slice, slice]] | None:
    """The hull of a group as (mask, box) where it makes one scrap; None where it does not."""
    low, high = np.floor(points.min(axis=0)).astype(int), np.ceil(points.max(axis=0)).astype(int)
    box = np.s_[low[1] : high[1], low[0] : high[0]]
    local = labels[box]
    region = inside(hull(points) - low, local.shape)
    mine = np.isin(local, members)
    cover = float((mine & region).sum() / max(region.sum(), 1))
    others = float(((local > 0) & ~is_motif[local] & region).sum() / max(region.sum(), 1))
    sparse = len(members) >= _MANY and region.sum() < _SPARSE * labels.size
    least = _COVER_MANY if sparse else _COVER
    if cover < least or others > _OTHERS or rectangularity(region) < _NEARLY_RECTANGLE:
        return None
    return region, box
