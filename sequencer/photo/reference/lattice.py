"""Lattices of smooth blobs in a view: what a target's patches are, and a checked cloth too.

Smooth blobs of one size whose neighbours lie at equal steps are numbered from one blob outwards
along the two directions those steps show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.files.view import View

Floats = NDArray[np.floating]

ENOUGH_BLOBS, FEW_BLOBS = 12, 8
"""Blobs of a lattice that may be a target nobody spoke of, and of one that was asked for."""
_ACROSS, _ACROSS_A_PART = 6.5, 3.8  # blobs along the longer side: a whole target, a part of one
_SMOOTH = 5.0  # CIE76 change in the view up to which pixels are one blob; by hand, never fitted
_MOST_BLOBS = 30  # lattices of more are tried last: a target has 24; by hand
_LEAST_BLOB = 9  # pixels of the view; by hand
_OBLONG, _LOOSE = 3.2, 1.35  # times: one axis's moment over the other's, both over a square's
_OVER_SQUARE = 12  # a filled square's second moment is its area over this
_RIM = 3  # pixels of the view that smoothness takes off a blob
_TRIED = 8  # lattices at most
_LIKE_SEED, _LIKE_OTHERS = 0.45, 0.6  # log of sides: of the seed's neighbours, of all of a lattice
_STEP = (0.7, 2.2)  # sides from a blob to the next, least and most: gaps and perspective; by hand
_CLOSEST, _PAIRS = 6, 4  # neighbours that steps are taken from, and pairs of steps, at most
_UPRIGHT, _EVEN = 0.8, (0.65, 1.55)  # sine between two steps; one over the other; by hand
_REACH = 6  # steps from the seed, at most: a target has six columns
_ASTRAY = 0.25  # of a step that a blob may lie off where it is expected; by hand
_MOST_SEEDS = 1500  # a picture full of weave has many thousands of blobs


@dataclass(frozen=True, eq=False)
class _Blobs:
    centres: Floats
    sides: Floats


def lattices(view: View, least: int = ENOUGH_BLOBS) -> list[tuple[Floats, Floats]]:
    """Numberings (k, 2) of ``least`` blobs or more that form a lattice and where these are (k, 2)
    in the view, at most eight, those of a target's size first."""
    across = _ACROSS if least >= ENOUGH_BLOBS else _ACROSS_A_PART
    return _grids(_blobs(view, max(view.change.shape) / across), least)


def _blobs(view: View, widest: float) -> _Blobs:
    """Smooth, compact, roughly square groups of pixels, at most so wide."""
    from scipy.ndimage import label

    groups, count = label(view.change < _SMOOTH)
    sizes = np.bincount(groups.ravel(), minlength=count + 1)
    fits = (sizes >= _LEAST_BLOB) & (sizes <= widest**2)
    fits[0] = False
    number = np.where(fits, np.cumsum(fits), 0).astype(np.int32)[groups]
    rows, columns = np.nonzero(number)
    if not len(rows):
        return _Blobs(np.zeros((0, 2)), np.zeros(0))
    number, area = number[rows, columns] - 1, sizes[fits].astype(float)

    def mean(values: NDArray[np.intp]) -> Floats:
        return np.asarray(np.bincount(number, values) / area)

    x, y = mean(columns), mean(rows)
    xx, yy = mean(columns * columns) - x * x, mean(rows * rows) - y * y
    pixel = 1 / _OVER_SQUARE
    square = _squarish(xx + pixel, yy + pixel, mean(columns * rows) - x * y, area)
    return _Blobs(np.stack([x, y], axis=1)[square] + 0.5, np.sqrt(area[square]) + _RIM)


def _squarish(xx: Floats, yy: Floats, xy: Floats, area: Floats) -> NDArray[np.bool_]:
    """Second moments of a filled square: both axes alike, and no larger than the area allows."""
    middle, half = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    small, large = np.maximum(middle - half, 1e-9), middle + half
    compact = np.sqrt(small * large) < _LOOSE * area / _OVER_SQUARE
    return np.asarray((large < _OBLONG * small) & compact)


def _grids(blobs: _Blobs, least: int) -> list[tuple[Floats, Floats]]:
    """Numberings (k, 2) with centres (k, 2) of blobs that form a lattice, the fullest first."""
    if len(blobs.centres) < least:
        return []
    grids, used = [], np.zeros(len(blobs.centres), bool)
    for seed in np.argsort(-blobs.sides, kind="stable")[:_MOST_SEEDS]:
        if used[seed]:
            continue
        for across, down in _steps(blobs, int(seed)):
            numbers = _number(blobs, int(seed), across, down)
            if len(numbers) >= least:
                members = np.array(list(numbers.values()))
                used[members] = True
                grids.append((np.array(list(numbers), dtype=float), blobs.centres[members]))
                break
    # A checked table is a lattice too, a far larger one: those that could be a target go first.
    return sorted(grids, key=lambda g: (len(g[0]) > _MOST_BLOBS, -len(g[0])))[:_TRIED]


def _steps(blobs: _Blobs, seed: int) -> list[tuple[Floats, Floats]]:
    """Pairs of steps, roughly at right angles, to close blobs of the seed's size."""
    apart = blobs.centres - blobs.centres[seed]
    reach = np.hypot(*apart.T)
    side = blobs.sides[seed]
    alike = np.abs(np.log(blobs.sides / side)) < _LIKE_SEED
    near, far = _STEP
    close = np.flatnonzero(alike & (reach > near * side) & (reach < far * side))
    close = close[np.argsort(reach[close], kind="stable")][:_CLOSEST]
    pairs = []
    for i, a in enumerate(close):
        for b in close[i + 1 :]:
            across, down = apart[a], apart[b]
            sine = abs(across[0] * down[1] - across[1] * down[0]) / (reach[a] * reach[b])
            if sine > _UPRIGHT and _EVEN[0] < reach[a] / reach[b] < _EVEN[1]:
                pairs.append((across, down))
    return pairs[:_PAIRS]


def _number(
    blobs: _Blobs, seed: int, across: Floats, down: Floats
) -> dict[tuple[int, int], int]:
    """Walk from the seed, each blob predicting its neighbours from the step that led to it."""
    numbers = {(0, 0): seed}
    queue = [((0, 0), across, down)]
    alike = np.flatnonzero(np.abs(np.log(blobs.sides / blobs.sides[seed])) < _LIKE_OTHERS)
    x, y = blobs.centres[alike].T
    taken = {seed}
    while queue:
        (column, row), across, down = queue.pop(0)
        here = blobs.centres[numbers[column, row]]
        for dc, dr in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            place = (column + dc, row + dr)
            if place in numbers or max(abs(place[0]), abs(place[1])) > _REACH:
                continue
            step = dc * across + dr * down
            gap = (x - here[0] - step[0]) ** 2 + (y - here[1] - step[1]) ** 2
            least = gap.argmin()
            nearest = int(alike[least])
            if nearest in taken or gap[least] > _ASTRAY**2 * (step[0] ** 2 + step[1] ** 2):
                continue
            numbers[place] = nearest
            taken.add(nearest)
            moved = blobs.centres[nearest] - here
            if dc:
                queue.append((place, 0.5 * (across + dc * moved), down))
            else:
                queue.append((place, across, 0.5 * (down + dr * moved)))
    return numbers
