"""The 24-patch target, found by its regular grid.

Of a lattice of smooth blobs (:mod:`sequencer.photo.reference.lattice`) the 6 × 4 window that
holds most blobs, whose colours then agree with the published ones in one of its two turns, is the
target. A homography fitted to the blobs says where all 24 patches lie, also those that a dark frame
hides. A mirrored picture shows it left-handed; the picture's edge may cut off up to half of it.
What the patches then are is :mod:`sequencer.photo.reference.patches`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.models import Pixels
from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import View, make_view, view_of
from sequencer.photo.reference.lattice import ENOUGH_BLOBS, FEW_BLOBS, lattices
from sequencer.photo.reference.misfit import even_light
from sequencer.photo.reference.patches import (
    FEWEST,
    WANTED,
    WORST_FIT,
    Target,
    best_of,
    homography,
    read_patches,
)

Floats = NDArray[np.floating]

_PART, _OVERLAP = 800, 240  # pixels: parts that are looked at enlarged
_A_PART = 6  # patches that tell a part of a target, too little of it to read
_COLUMNS, _ROWS = 6, 4  # of patches
_OUTSIDE = 3  # cells of a window that may lie beyond the numbering
_FAR_OFF = 1.5 * 24 * 3 * WORST_FIT**2  # squared error in 24 patches of three channels, and room


def find_target(photo: Photo, closely: bool = False) -> Target | None:
    """Look for a target anywhere in the picture, at any turn. None when there is none.

    ``closely``: also for one whose patches are a few pixels wide, in finer and finer views.
    """
    found = _in_view(photo.pixels, view_of(photo))
    if found is not None or not closely:
        return found
    finest = photo.finest[0]
    per = finest.shape[1] / photo.pixels.shape[1]
    for pixels, factor in ((photo.pixels, 1.0), (finest, per)):
        found = _in_view(pixels, make_view(pixels, 1))
        if found is not None:
            return found.moved([0, 0], factor)
    for corner, pixels in _enlarged(finest):
        found = _in_view(pixels, make_view(pixels, 1))
        if found is not None:
            return found.moved(corner, 2 * per)
    return _in_view(photo.pixels, view_of(photo), FEW_BLOBS)


def part_of_a_target(photo: Photo) -> bool:
    """Whether some patches of a target seem to show, too few to read it."""
    return _in_view(photo.pixels, view_of(photo), _A_PART, _A_PART) is not None


def _enlarged(pixels: Pixels) -> Iterator[tuple[Floats, Pixels]]:
    """Parts of a picture twice as wide and high, and their corner in that size: patches of a dozen
    pixels then have a smooth middle."""
    height, width = pixels.shape[:2]
    for top in range(0, max(1, height - _OVERLAP), _PART - _OVERLAP):
        for left in range(0, max(1, width - _OVERLAP), _PART - _OVERLAP):
            part = pixels[top : top + _PART, left : left + _PART]
            size = (2 * part.shape[1], 2 * part.shape[0])
            large = Image.fromarray(part).resize(size, Image.Resampling.BICUBIC)
            yield np.array([2.0 * left, 2.0 * top]), np.asarray(large)


def _in_view(
    pixels: Pixels, view: View, blobs: int = ENOUGH_BLOBS, fewest: int = FEWEST
) -> Target | None:
    """Of lattices of so many ``blobs``, with at least ``fewest`` patches in the picture."""
    tries = []
    for numbers, centres in lattices(view, blobs):
        x, y = centres.T.astype(int)
        light = even_light(view.pixels[y, x] / 255)
        tries += _read_grid(pixels, numbers, centres * view.step, light, blobs, fewest)
    return best_of(tries)


# ── the grid ──────────────────────────────────────────────────────────────────────────────


def _read_grid(
    pixels: Pixels, numbers: Floats, centres: Floats, light: Floats, blobs: int, fewest: int
) -> list[Target]:
    """Readings of the 6 × 4 windows of a numbering, in all four ways to lay it."""
    found = []
    for swap in (False, True):
        for over in (1, -1):
            places = (numbers[:, ::-1] if swap else numbers) * [over, 1]
            for inside, cells in _windows(places, light, blobs):
                found += read_patches(pixels, homography(cells, centres[inside]), fewest=fewest)
    return found


def _windows(
    places: Floats, light: Floats, least: int
) -> list[tuple[NDArray[np.bool_], Floats]]:
    """6 × 4 windows of ``least`` blobs, up to the two fullest counts, that may be the target.

    Which blobs, and their cells. The blobs' own ``light`` (n, 3) must come near the published one:
    the best map of some patches leaves no more error than the map of all 24 does.
    """
    low = places.min(axis=0).astype(int) - _OUTSIDE
    span = places.max(axis=0).astype(int) + 1 - low
    corners = low + np.indices(span).reshape(2, -1).T
    apart = places - corners[:, None]
    inside = ((apart >= 0) & (apart < [_COLUMNS, _ROWS])).all(axis=-1)
    count = inside.sum(axis=1)
    full = count >= max(least, int(count.max()) - 2)
    inside, cell = inside[full], apart[full] @ np.array([1, _COLUMNS])
    tries: list[tuple[NDArray[np.bool_], Floats]] = []
    for turned in (False, True):
        patch = np.where(inside, _COLUMNS * _ROWS - 1 - cell if turned else cell, 0).astype(int)
        near = _left_over(light, inside, WANTED[patch]) < _FAR_OFF
        for held, at in zip(inside[near], cell[near], strict=True):
            cells = np.stack([at[held] % _COLUMNS, at[held] // _COLUMNS], axis=1) + 0.5
            tries.append((held, [_COLUMNS, _ROWS] - cells if turned else cells))
    return tries


def _left_over(light: Floats, inside: NDArray[np.bool_], wanted: Floats) -> Floats:
    """Squared error (w,) that the best affine maps of ``light`` (n, 3) to ``wanted`` (w, n, 3)
    leave over the blobs ``inside`` (w, n) each window."""
    seen = np.column_stack([light, np.ones(len(light))])
    held = inside.astype(float)
    square = np.einsum("wn,ni,nj->wij", held, seen, seen) + 1e-9 * np.eye(4)
    mixed = np.einsum("wn,ni,wnj->wij", held, seen, wanted)
    whole = np.einsum("wn,wnj,wnj->w", held, wanted, wanted)
    return np.asarray(whole - (mixed * np.linalg.solve(square, mixed)).sum(axis=(1, 2)))
