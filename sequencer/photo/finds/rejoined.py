"""Fragments of one print laid together again by its outline alone.

On a table with a strong grain a print whose ground is the table's colour comes apart, and what lies
between its figures does not differ from the table by more than the table does. But the print's
sides cut its figures off in four straight lines: fragments that are no whole scrap by themselves,
most of them torn, whose common hull is a rectangle that they cover well, are one print. Strips and
patches laid in rows have such a hull as well, but each is convex.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.photo.finds.table import Mask
from sequencer.photo.finds.touching import rectangularity
from sequencer.photo.shapes.runs import Pieces
from sequencer.photo.shapes.shape import Floats, area, hull, inside, smallest_rectangle

# Chosen by hand on 24 simulated photos of each of six kinds.
_WHOLE = 0.92  # rectangularity from which a piece is a scrap of its own
_LEAST = 4e-5  # share of the picture that a fragment covers
_GAPS = (0.008, 0.014, 0.02, 0.027)  # of the picture's diagonal, nearest first
_FILLED = 0.9  # of the rectangle, by the hull
_COVERED = 0.33  # of the hull, by the fragments
_CONCAVE, _MOSTLY = 0.85, 0.5  # of its own hull, by a torn fragment; area of such ones, of all
_OTHER = 0.03  # of the hull, by anything else
_LARGEST = 0.3  # of the picture


def rejoined(found: Mask, pieces: Pieces) -> Mask:
    """``found`` (h, w) with each such print filled. ``pieces``: of ``found``."""
    torn = [
        k for k in np.flatnonzero(pieces.areas >= _LEAST * found.size).tolist()
        if rectangularity(pieces.mask(k)) < _WHOLE
    ]  # fmt: skip
    if not _close(torn, pieces, _GAPS[-1] * float(np.hypot(*found.shape))):
        return found
    labels = pieces.labels()
    is_torn = np.zeros(pieces.count + 1, bool)
    is_torn[np.array(torn) + 1] = True
    fragments = is_torn[labels]
    diagonal = float(np.hypot(*found.shape))
    # Gaps are looked at in every other pixel: near enough, and a quarter of the time.
    bare = np.asarray(ndimage.distance_transform_edt(~fragments[::2, ::2])) * 2
    out, done = found, np.zeros(pieces.count + 1, bool)
    for gap in _GAPS:
        groups, _ = ndimage.label(bare <= gap * diagonal / 2)
        for number, half in enumerate(ndimage.find_objects(groups), 1):
            box = np.s_[2 * half[0].start : 2 * half[0].stop, 2 * half[1].start : 2 * half[1].stop]
            mine = fragments[box]
            near = (groups[half] == number).repeat(2, axis=0).repeat(2, axis=1)
            mine = mine & near[: mine.shape[0], : mine.shape[1]]
            members = np.unique(labels[box][mine])
            if len(members) < 2 or done[members].any() or not _mostly_torn(members - 1, pieces):
                continue
            region = _one_print(mine, found[box] & ~mine, found.size)
            if region is not None:
                out = out.copy() if out is found else out
                out[box] |= region
                done[members] = True
    return out


def _close(torn: list[int], pieces: Pieces, gap: float) -> bool:
    """Whether the boxes of any two are as near as that: most pictures have no such fragments."""
    edges = np.array([[(part.start, part.stop) for part in pieces.boxes[k]] for k in torn])
    if len(torn) < 2:
        return False
    start, stop = edges[..., 0], edges[..., 1]
    apart = np.maximum(start[:, None] - stop, start - stop[:, None]).max(axis=-1)
    return bool((apart[np.triu_indices(len(torn), 1)] <= gap + 2).any())


def _mostly_torn(members: NDArray[np.intp], pieces: Pieces) -> bool:
    """Whether most of what the pieces cover is in pieces with bays that no cut scrap has."""
    torn = [k for k in members.tolist() if _solidity(pieces.mask(k)) < _CONCAVE]
    return bool(pieces.areas[torn].sum() > _MOSTLY * pieces.areas[members].sum())


def _solidity(mask: Mask) -> float:
    """Share of its own hull that a piece covers."""
    return float(np.count_nonzero(mask) / max(area(hull(_rim(mask))), 1.0))


def _rim(mask: Mask) -> Floats:
    """Pixels (n, 2), x, y, of a mask that lie beside others."""
    return np.argwhere(mask & ~ndimage.binary_erosion(mask))[:, ::-1] + 0.5


def _one_print(mine: Mask, others: Mask, picture: int) -> Mask | None:
    """The hull of fragments (h, w) where it makes one print."""
    around = hull(_rim(mine))
    whole = area(around)
    if whole < _FILLED * area(smallest_rectangle(around)) or whole > _LARGEST * picture:
        return None
    if np.count_nonzero(mine) < _COVERED * whole:
        return None
    region = inside(around, mine.shape)
    return region if np.count_nonzero(others & region) <= _OTHER * whole else None

