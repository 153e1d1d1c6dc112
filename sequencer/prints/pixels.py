"""A print's pixels made ready: few enough, calm, and told apart into plain cloth and borders.

Constants are by hand, never fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.prints.evened import Stretch

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]
Planes = NDArray[np.float32]
Codes = NDArray[np.uint8]

_ENOUGH = 16_000  # pixels of a sample, about
_TILE = 24  # pixels across a square of it
_THINNED = 20_000  # pixels from all over a print that is sampled, about
_QUIET, _MIXED = 4.0, 9.0  # ΔE76 over two pixels: surely plain below, surely a border above
_PLAIN_LEAST, _PLAINEST = 0.1, 0.3  # share of plain cloth; with less, its plainest share is taken
_GOLDEN = 0.382  # slant of the lattice of squares: no small ratio
_SHIFT = np.array([0.5, 128.5, 128.5], np.float32)  # codes of 0, and half of one to round by
_TIMES_USUAL = 2.5  # times the median step, within those limits: a border from here on

# Exchanges that bring the median of nine to place 4 (Paeth, "Median finding on a 3×3 grid",
# Graphics Gems, 1990; the order is Devillard's, 1998).
_EXCHANGES = (
    (1, 2), (4, 5), (7, 8), (0, 1), (3, 4), (6, 7), (1, 2), (4, 5), (7, 8), (0, 3),
    (5, 8), (4, 7), (3, 6), (1, 4), (2, 5), (4, 7), (4, 2), (6, 4), (4, 2),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Cloth:
    """Pixels of one print, planes first.

    ``raw`` (3, h, w): CIELAB. ``codes`` (3, h, w): the same as whole numbers, 2 L*,
    a* + 128, b* + 128. ``calm`` (3, h, w): codes without noise and single threads. ``mask`` (h, w):
    what is cloth. ``smooth`` (h, w): cloth away from the borders between colours. ``plain`` (h, w):
    1 on plain cloth, falling to 0 at hard borders. ``stretch``: what made the copy that they lie
    in, None where they are as photographed. ``sampled``: where only part of a print is here, that
    part (3, n) and pixels from all over it (3, m), CIELAB as photographed; None where all is.
    """

    raw: Planes
    codes: Codes
    calm: Codes
    mask: Mask
    smooth: Mask
    plain: Planes
    stretch: Stretch | None
    sampled: tuple[Planes, Planes] | None


def cloth_of(lab: Floats, mask: Mask, stretch: Stretch | None = None) -> Cloth:
    """Cloth under ``mask`` (h, w) of CIELAB ``lab`` (h, w, 3); of large ones a sample.

    ``stretch``: what makes the copy of it that is looked at.
    """
    whole = lab, mask
    lab, mask = _in_tiles(lab, mask)
    sampled = None
    if lab is not whole[0]:
        sampled = np.asarray(lab[mask].T, np.float32), _thinned(*whole)
    if stretch is not None:
        lab = stretch.copied(lab)
    raw = np.ascontiguousarray(np.moveaxis(lab, -1, 0), dtype=np.float32)
    codes = coded(raw)
    calm = denoised(codes)
    steps = _steps(calm)
    usual = float(np.median(steps[mask]))
    limit = min(max(_TIMES_USUAL * usual, _QUIET), _MIXED)
    smooth = mask & (steps < limit)
    if smooth.sum() < _PLAIN_LEAST * mask.sum():
        smooth = mask & (steps <= np.quantile(steps[mask], _PLAINEST))
    plain = 1 / (1 + np.square(steps / limit))
    return Cloth(raw, codes, calm, mask, smooth, plain, stretch, sampled)


def _in_tiles(lab: Floats, mask: Mask) -> tuple[Floats, Mask]:
    """Every so-manieth square of a large print, one below the other.

    Squares keep their pixels' neighbours, which thinned pixels would lose. They lie on a slanted
    lattice that meets every row and column, so that no stripe of the print falls between them.
    Pixels at a square's sides lend their colour to their neighbours and are not counted themselves.
    """
    apart = round(float(mask.sum()) / _ENOUGH)
    down, across = mask.shape[0] // _TILE, mask.shape[1] // _TILE
    if apart < 2 or not down or not across:
        return lab, mask
    slant = max(1, round(_GOLDEN * apart))
    rows, columns = np.mgrid[:down, :across]
    chosen = (rows * slant + columns) % apart == 0
    inner = np.zeros((_TILE, _TILE), bool)
    inner[1:-1, 1:-1] = True
    masks = _tiles(mask, down, across)[chosen] & inner
    used = masks.any(axis=(1, 2))
    if not used.any():
        return lab, mask
    tiles = _tiles(lab, down, across)[chosen][used]
    return tiles.reshape(-1, _TILE, 3), masks[used].reshape(-1, _TILE)


def _tiles(array: NDArray[np.generic], down: int, across: int) -> NDArray[np.generic]:
    """(h, w, …) as (down, across, tile, tile, …), a view."""
    cut = array[: down * _TILE, : across * _TILE]
    return cut.reshape(down, _TILE, across, _TILE, *array.shape[2:]).swapaxes(1, 2)


def _thinned(lab: Floats, mask: Mask) -> Planes:
    step = max(1, round(float(np.sqrt(mask.sum() / _THINNED))))
    return np.ascontiguousarray(lab[::step, ::step][mask[::step, ::step]].T, dtype=np.float32)


def coded(planes: Planes) -> Codes:
    """CIELAB planes (3, …) as bytes: 2 L*, a* + 128, b* + 128, clipped to what fits."""
    scale = np.array([2, 1, 1], np.float32).reshape(3, *[1] * (planes.ndim - 1))
    shift = _SHIFT.reshape(scale.shape)
    return np.asarray(np.clip(planes * scale + shift, 0, 255), np.uint8)


def denoised(planes: Codes) -> Codes:
    """3 × 3 median of each plane (3, h, w): noise and single threads go, borders stay."""
    height, width = planes.shape[1:]
    padded = bordered(planes, 1)
    nine = [padded[:, y : y + height, x : x + width].copy() for y in range(3) for x in range(3)]
    for low, high in _EXCHANGES:
        smaller = np.minimum(nine[low], nine[high])
        np.maximum(nine[low], nine[high], out=nine[high])
        nine[low] = smaller
    return np.asarray(nine[4], np.uint8)


def bordered(planes: NDArray[Any], by: int) -> NDArray[Any]:
    """Planes (k, h, w) with their outermost pixels repeated ``by`` times: np.pad, but quick."""
    if not by:
        return planes
    count, height, width = planes.shape
    out = np.empty((count, height + 2 * by, width + 2 * by), planes.dtype)
    out[:, by:-by, by:-by] = planes
    out[:, :by, by:-by], out[:, -by:, by:-by] = planes[:, :1], planes[:, -1:]
    out[:, :, :by], out[:, :, -by:] = out[:, :, by : by + 1], out[:, :, -by - 1 : -by]
    return out


def _steps(calm: Codes) -> Planes:
    """Larger CIE76 step between the two pixels beside and the two above and below."""
    codes = calm.astype(np.float32)
    codes[0] *= 0.5
    squared = np.zeros(codes.shape[1:], np.float32)
    wide, tall = codes[:, :, 2:] - codes[:, :, :-2], codes[:, 2:] - codes[:, :-2]
    squared[:, 1:-1] = wide[0] * wide[0] + wide[1] * wide[1] + wide[2] * wide[2]
    down = tall[0] * tall[0] + tall[1] * tall[1] + tall[2] * tall[2]
    np.maximum(squared[1:-1], down, out=squared[1:-1])
    return np.sqrt(squared)
