"""The 24-patch target, found by its regular grid.

Of a lattice of smooth blobs (:mod:`sequencer.photo.reference.lattice`) the 6 × 4 window that
holds most blobs, whose colours then agree with the published ones in one of its two turns, is the
target. A homography fitted to the blobs says where all 24 patches lie, also those that a dark frame
hides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import lab_to_xyz, srgb_to_linear, xyz_to_linear
from sequencer.models import Pixels
from sequencer.photo.files.view import View
from sequencer.photo.reference.lattice import ENOUGH_BLOBS, lattices

Floats = NDArray[np.floating]
Found = tuple[Floats, Floats, Floats]
"""Outer corners (4, 2), median sRGB of the patches (24, 3), their centres (24, 2)."""

# Mean of two published sets of measured spectra, the BabelColor average of 30 charts and N. Ohta
# (1997), seen under D65 by the 2° observer; tests/test_reference.py recomputes them from there. A
# chart differs from such averages by about 1 ΔE00; the two sets differ from their mean by 0.5.
PATCHES_LAB: Floats = np.array([
    [37.64, 12.84, 14.63], [65.8, 14.62, 17.59], [50.64, -1.42, -21.48],
    [43.0, -15.57, 22.3], [55.99, 11.34, -24.46], [71.35, -31.88, 1.84],
    [61.21, 31.65, 56.5], [40.86, 15.66, -42.77], [50.63, 45.68, 14.82],
    [30.48, 23.32, -21.63], [72.18, -27.14, 58.15], [71.28, 15.53, 66.39],
    [29.85, 23.33, -49.95], [55.59, -40.91, 34.13], [40.81, 51.73, 25.77],
    [81.58, -1.3, 79.81], [50.97, 49.43, -15.65], [51.74, -24.44, -25.79],
    [95.99, -0.6, 1.64], [81.08, -0.24, 0.22], [66.43, -0.21, -0.04],
    [51.52, -0.24, -0.09], [36.19, -0.33, -0.44], [21.12, 0.07, -0.64],
])
"""CIELAB, D65, 2° observer, rows of six from dark skin to black."""
NEUTRALS = slice(18, 24)
_WANTED = np.cbrt(np.clip(xyz_to_linear(lab_to_xyz(PATCHES_LAB)), 0, None))

_WORST_FIT = 0.09
_FAR_OFF = 1.5 * 24 * 3 * _WORST_FIT**2  # squared error in 24 patches of three channels, and room


def find_target(pixels: Pixels, view: View) -> Found | None:
    """Look for a target anywhere in the picture, at any turn. None when there is none."""
    best: tuple[float, Found] | None = None
    for numbers, centres in lattices(view):
        x, y = centres.T.astype(int)
        light = _even_light(view.pixels[y, x] / 255)
        found = _read_grid(pixels, numbers, centres * view.step, light)
        if found is not None and (best is None or found[0] < best[0]):
            best = found
    return best[1] if best else None


def read_target(pixels: Pixels, corners: Floats) -> Found | None:
    """Read a target whose outer corners (4, 2) are known, in order; None if it is not one."""
    unit = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], dtype=float)
    tries = []
    for turn in range(4):
        for inset in (0.0, 0.12, 0.25):
            frame = unit + np.sign(unit - [3, 2]) * inset
            to_picture = homography(frame, np.roll(corners, turn, axis=0))
            tries.append(_read(pixels, to_picture))
    good = [found for found in tries if found is not None]
    return min(good, key=lambda found: found[0])[1] if good else None


# ── the grid ──────────────────────────────────────────────────────────────────────────────


def _read_grid(
    pixels: Pixels, numbers: Floats, centres: Floats, light: Floats
) -> tuple[float, Found] | None:
    """The best reading over the 6 × 4 windows of a numbering, either way round."""
    best: tuple[float, Found] | None = None
    for swap in (False, True):
        places = (numbers[:, ::-1] if swap else numbers).copy()
        # A photo never mirrors the target: a numbering that is left-handed is turned over.
        if not _right_handed(places, centres):
            places[:, 0] *= -1
        for inside, cells in _windows(places, light):
            found = _read(pixels, homography(cells, centres[inside]))
            if found is not None and (best is None or found[0] < best[0]):
                best = found
    return best


def _windows(places: Floats, light: Floats) -> list[tuple[NDArray[np.bool_], Floats]]:
    """6 × 4 windows with at least 12 blobs, up to the two fullest counts, that may be the target.

    Which blobs, and their cells. The blobs' own ``light`` (n, 3) must come near the published one:
    the best map of some patches leaves no more error than the map of all 24 does.
    """
    low = places.min(axis=0).astype(int) - 2
    span = places.max(axis=0).astype(int) + 1 - low
    corners = low + np.indices(span).reshape(2, -1).T
    apart = places - corners[:, None]
    inside = ((apart >= 0) & (apart < [6, 4])).all(axis=-1)
    count = inside.sum(axis=1)
    full = count >= max(ENOUGH_BLOBS, int(count.max()) - 2)
    inside, cell = inside[full], apart[full] @ np.array([1, 6])
    tries: list[tuple[NDArray[np.bool_], Floats]] = []
    for turned in (False, True):
        patch = np.where(inside, 23 - cell if turned else cell, 0).astype(int)
        near = _left_over(light, inside, _WANTED[patch]) < _FAR_OFF
        for held, at in zip(inside[near], cell[near], strict=True):
            cells = np.stack([at[held] % 6, at[held] // 6], axis=1) + 0.5
            tries.append((held, [6, 4] - cells if turned else cells))
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


def _right_handed(cells: Floats, centres: Floats) -> bool:
    """Whether cells and their places in the picture turn the same way."""
    design = np.column_stack([cells, np.ones(len(cells))])
    affine = np.linalg.lstsq(design, centres, rcond=None)[0]
    return bool(np.linalg.det(affine[:2]) > 0)


# ── reading and checking the patches ──────────────────────────────────────────────────────


def homography(plane: Floats, picture: Floats) -> Floats:
    """3 × 3 by the direct linear transform (Hartley and Zisserman 2004, 4.1), coordinates scaled.

    ``plane`` and ``picture`` (n ≥ 4, 2) are matching points.
    """
    from_scale, to_scale = _scaling(plane), _scaling(picture)
    u, v = _apply(from_scale, plane).T
    x, y = _apply(to_scale, picture).T
    one, zero = np.ones_like(u), np.zeros_like(u)
    first = np.stack([u, v, one, zero, zero, zero, -x * u, -x * v, -x], axis=1)
    second = np.stack([zero, zero, zero, u, v, one, -y * u, -y * v, -y], axis=1)
    solution = np.linalg.svd(np.concatenate([first, second]))[2][-1].reshape(3, 3)
    return np.asarray(np.linalg.inv(to_scale) @ solution @ from_scale)


def _scaling(points: Floats) -> Floats:
    centre, size = points.mean(axis=0), points.std() + 1e-9
    scaled = [[1, 0, -centre[0]], [0, 1, -centre[1]], [0, 0, size]]
    return np.asarray(np.array(scaled) / size)


def _apply(matrix: Floats, points: Floats) -> Floats:
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


_CELLS = np.array([(c + 0.5, r + 0.5) for r in range(4) for c in range(6)])
_OUTER = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], dtype=float)


def _read(pixels: Pixels, to_picture: Floats) -> tuple[float, Found] | None:
    """(misfit, readings) of the 24 patches, None if they are not those of the target."""
    centres = _apply(to_picture, _CELLS)
    height, width = pixels.shape[:2]
    if not ((centres >= 1).all() and (centres < [width - 1, height - 1]).all()):
        return None
    around = np.linspace(-0.22, 0.22, 9)
    offsets = np.stack(np.meshgrid(around, around), axis=-1).reshape(-1, 2)
    points = _apply(to_picture, (_CELLS[:, None] + offsets).reshape(-1, 2))
    x = np.clip(points[:, 0].astype(int), 0, width - 1)
    y = np.clip(points[:, 1].astype(int), 0, height - 1)
    samples = pixels[y, x].reshape(24, -1, 3)
    encoded = np.median(samples, axis=1) / 255
    misfit = _misfit(encoded)
    if misfit > _WORST_FIT:
        return None
    return misfit, (_apply(to_picture, _OUTER), encoded, centres)


def _misfit(encoded: Floats) -> float:
    """Root mean square error, in cube-root light, of the best affine map to the published colours.

    Cube roots make the steps between patches even; an affine map there stands for any white
    balance, exposure and mild curve. Mixed-up patches leave several times as much.
    """
    seen = np.column_stack([_even_light(encoded), np.ones(24)])
    left = _WANTED - seen @ np.linalg.lstsq(seen, _WANTED, rcond=None)[0]
    return float(np.sqrt((left**2).mean()))


def _even_light(encoded: Floats) -> Floats:
    return np.cbrt(srgb_to_linear(encoded))
