"""The 24 patches of a target: their published colours, and a picture's colours in their places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import lab_to_xyz, xyz_to_linear
from sequencer.models import Pixels
from sequencer.photo.reference.misfit import glared, misfit, misfit_of_most, under_a_cast

Floats = NDArray[np.floating]


@dataclass(frozen=True, eq=False)
class Target:
    """``corners`` (4, 2): outer corners; ``encoded`` (24, 3): median sRGB of the patches, NaN where
    the picture's edge cuts one off; ``centres`` (24, 2). ``misfit``: see there.
    ``mirrored``: the picture shows it left-handed. ``cast``: it is the target only if its light is
    so coloured that it spoils a quarter of the patches. ``glare``: patches, from 0, that
    seem to lie under glare."""

    corners: Floats
    encoded: Floats
    centres: Floats
    misfit: float
    mirrored: bool = False
    cast: bool = False
    glare: tuple[int, ...] = ()

    def moved(self, corner: Floats | list[int], factor: float) -> Target:
        """The same in another picture: this is a part at ``corner`` of one ``factor`` as large."""
        corners, centres = ((at + corner) / factor for at in (self.corners, self.centres))
        return replace(self, corners=corners, centres=centres)


# Mean of two published sets of measured spectra, the BabelColor average of 30 charts and N. Ohta
# (1997), seen under D65 by the 2° observer; tests/photo/test_reference.py recomputes them from
# there. A chart differs from such averages by about 1 ΔE00; the two sets differ from their
# mean by 0.5.
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
"""The last row of these, white to black."""
WANTED = np.cbrt(np.clip(xyz_to_linear(lab_to_xyz(PATCHES_LAB)), 0, None))
"""The same (24, 3) in cube roots of linear sRGB."""

WORST_FIT = 0.09
"""Misfit up to which patches are a target's: mixed-up ones leave several times as much. By hand."""
FEWEST = 12
"""Patches that must show of a target, or be left in of it: what a curve and a matrix can still be
fitted to. By hand."""
_MOST_GLARED = 6  # patches: the quarter that a map is fitted without, as in misfit
_ROWS, _COLUMNS = 4, 6  # of patches
_FRAMES = (0.0, 0.12, 0.25)  # cells between the patches and what was marked; by hand
_HALF_PATCH, _SAMPLES = 0.22, 9  # cells to either side of a middle, and places on them, looked at
_LIKE_ONE = 0.085  # misfit of most: refused targets .061, of 180 marks on no target the least .105


def read_target(
    pixels: Pixels, corners: Floats, without: Sequence[int] = ()
) -> Target | None:
    """Read a target whose outer corners (4, 2) are known, in order; None if it is not one.

    ``without``: patches, from 0, that are spoilt and say nothing for or against it.
    """
    tries = []
    for to_picture in _ways_to_lie(corners):
        tries += read_patches(pixels, to_picture, without, marked=True)
    return best_of(tries)


def under_glare(pixels: Pixels, corners: Floats) -> list[int]:
    """Patches, from 0, of a target with these outer corners but for which it would be read; none
    where leaving out a quarter of the patches does not mend it."""
    best, found = WORST_FIT, list[int]()
    for to_picture in _ways_to_lie(corners):
        encoded = _medians(pixels, to_picture)
        rows = glared(encoded, WANTED)
        if 0 < len(rows) <= _MOST_GLARED:
            rest = misfit(np.delete(encoded, rows, 0), np.delete(WANTED, rows, 0))
            best, found = min((best, found), (rest, rows))
    return found


def like_one(pixels: Pixels, corners: Floats) -> bool:
    """Whether what has these outer corners is near a target, as one under coloured light is, though
    too far from one to be read."""
    ways = (_medians(pixels, to_picture) for to_picture in _ways_to_lie(corners))
    return min(misfit_of_most(encoded, WANTED) for encoded in ways) < _LIKE_ONE


def shown_within(pixels: Pixels, corners: Floats) -> int:
    """How many of the patches of a target with these outer corners lie in the picture."""
    return int(_shown(pixels, _apply(homography(_OUTER, corners), _CELLS)).sum())


def _shown(pixels: Pixels, centres: Floats) -> NDArray[np.bool_]:
    height, width = pixels.shape[:2]
    return np.asarray(((centres >= 1) & (centres < [width - 1, height - 1])).all(axis=1))


def _ways_to_lie(corners: Floats) -> Iterator[Floats]:
    """Homographies to the picture: any corner may be the first, either way round, with a frame."""
    for turn in range(2 * len(corners)):
        around = np.roll(corners if turn < 4 else corners[::-1], turn, axis=0)
        for inset in _FRAMES:
            yield homography(_OUTER + np.sign(_OUTER - [3, 2]) * inset, around)


def best_of(tries: list[Target]) -> Target | None:
    """The one that fits best; a whole one before one that is cut off."""
    return min(tries, key=lambda one: (np.isnan(one.encoded).sum(), one.misfit), default=None)


def _mirrored(corners: Floats) -> bool:
    """Whether the outer corners run against the clock in the picture."""
    x, y = corners.T
    return bool(np.dot(x, np.roll(y, -1)) < np.dot(y, np.roll(x, -1)))


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


_CELLS = np.array([(c + 0.5, r + 0.5) for r in range(_ROWS) for c in range(_COLUMNS)])
"""Middles of the patches (24, 2), in cells across and down."""
_OUTER = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], dtype=float)
"""The outer corners (4, 2), likewise."""


def read_patches(
    pixels: Pixels,
    to_picture: Floats,
    without: Sequence[int] = (),
    marked: bool = False,
    fewest: int = FEWEST,
) -> list[Target]:
    """The 24 patches as one reading, none if they are not those of the target or ``fewest`` do not
    show; where it is ``marked`` they may be so under a cast. ``to_picture`` (3, 3): from cells,
    0 to 6 and 0 to 4, to pixels."""
    centres, outer = _apply(to_picture, _CELLS), _apply(to_picture, _OUTER)
    shown = _shown(pixels, centres)
    if shown.sum() < fewest:
        return []
    encoded = _medians(pixels, to_picture)
    counted = shown & ~np.isin(np.arange(len(WANTED)), without)
    seen, wanted = encoded[counted], WANTED[counted]
    off = misfit(seen, wanted)
    cast = off > WORST_FIT
    if cast and not (marked and under_a_cast(seen, wanted)):
        return []
    encoded[~shown] = np.nan
    glare = tuple(int(one) for one in np.flatnonzero(counted)[glared(seen, wanted)])
    return [Target(outer, encoded, centres, off, _mirrored(outer), cast, glare)]


def _medians(pixels: Pixels, to_picture: Floats) -> Floats:
    """Median sRGB (24, 3), 0 to 1, of the middle of each patch."""
    height, width = pixels.shape[:2]
    around = np.linspace(-_HALF_PATCH, _HALF_PATCH, _SAMPLES)
    offsets = np.stack(np.meshgrid(around, around), axis=-1).reshape(-1, 2)
    points = _apply(to_picture, (_CELLS[:, None] + offsets).reshape(-1, 2))
    x = np.clip(points[:, 0].astype(int), 0, width - 1)
    y = np.clip(points[:, 1].astype(int), 0, height - 1)
    return np.asarray(np.median(pixels[y, x].reshape(len(_CELLS), -1, 3), axis=1) / 255)
