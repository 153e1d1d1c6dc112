"""Scraps of which only parts stand off the table are grown to their own sides.

A print whose ground is nearly the table's colour comes off it in fragments. Close to them the
table is known better than the model of the whole picture knows it: what differs from the table
right around, averaged over a few pixels so that grain and weave even out, and with the fragments
fills one four-sided outline, is one scrap. Seeds that grow where a second, lower limit allows:
hysteresis (Canny, IEEE Trans. PAMI 8, 1986).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.colour import srgb8_to_lab
from sequencer.models import Pixels
from sequencer.photo.finds.table import Floats, Mask, Table, calm_away
from sequencer.photo.finds.touching import rectangularity
from sequencer.photo.shapes.morphology import disk, opened, square_closed
from sequencer.photo.shapes.runs import Box, Pieces, filled, pieces_of

_WHOLE = 0.88
"""Rectangularity from which a piece is a scrap as it is."""
_FOUR_SIDED = 0.88
_BETTER = 0.05
_SLIM, _ALIKE, _SAME_WIDTH = 1.7, 9.0, 0.5
"""Stripes of one print: at least so many widths long, CIE76 apart at most, log ratio of widths."""
_SEED = 2.5e-4
"""Least share of the picture that a fragment to start from covers."""
_AROUND, _WIDEST = (0.6, 2.5), 0.25
"""How far around a fragment is looked, in its own longer sides, first near and then farther, at
most a share of the picture."""
_BAND = 0.15
_AVERAGED = 0.007
_FAR, _SPREADS = 0.7, 3.0
"""Least distance from the table around, in its standard deviations, and in spreads of the band."""
_GREW = 1.06
_AT_BORDER = 0.02
_SWALLOWED = 0.7
_LARGEST = 0.3
"""Of the picture: what grows beyond it is a print that fills the photo, and these its figures."""


def regrown(found: Mask, pieces: Pieces, pixels: Pixels, table: Table) -> Mask:
    """``found`` (h, w) with fragments grown where they then fill one four-sided outline.

    ``pieces``: of ``found``. ``pixels`` (h, w, 3), sRGB.
    """
    seeds = [k for k in np.argsort(-pieces.areas, kind="stable").tolist()
             if pieces.areas[k] >= _SEED * found.size]  # fmt: skip
    shape = {k: rectangularity(pieces.mask(k)) for k in seeds}
    stripes = _stripes(seeds, pieces, pixels)
    torn = [k for k in seeds if shape[k] < _WHOLE or k in stripes]
    if not torn:
        return found
    labels = pieces.labels()
    whole = np.zeros(pieces.count + 1, bool)
    whole[[k + 1 for k in seeds if shape[k] >= _WHOLE]] = True
    out, taken = found.copy(), set[int]()
    for k in torn:
        alike = stripes.get(k, [])
        others = whole.copy()
        others[[j + 1 for j in (k, *alike)]] = False
        least = _FOUR_SIDED if shape[k] >= _WHOLE else max(_FOUR_SIDED, shape[k] + _BETTER)
        for reach in _AROUND if k not in taken else ():
            box = _around(pieces.boxes[k], found.shape, reach)
            grown = _grown(k + 1, labels[box], others, pixels, table, box)
            if grown is None:
                continue
            if np.count_nonzero(grown) < _GREW * pieces.areas[k]:
                break  # bare table all around: the piece is as it lies
            if rectangularity(grown) < least:
                continue
            inside = np.bincount(labels[box][grown], minlength=pieces.count + 1)[1:]
            held = set(np.flatnonzero(inside > _SWALLOWED * pieces.areas).tolist())
            if shape[k] < _WHOLE or len(held & set(alike)) >= 2:
                out[box] |= grown
                taken |= held
                break
    return out


def _stripes(seeds: list[int], pieces: Pieces, pixels: Pixels) -> dict[int, list[int]]:
    """Slender pieces that two others or more are like in colour and width, and those."""
    slim = [k for k in seeds if pieces.areas[k] > _SLIM * pieces.widths[k] ** 2]
    if len(slim) < 3:
        return {}
    means = np.array([srgb8_to_lab(pixels[pieces.boxes[k]][pieces.mask(k)]).mean(axis=0)
                      for k in slim])  # fmt: skip
    apart = np.linalg.norm(means[:, None] - means, axis=-1)
    width = np.log(pieces.widths[slim])
    like = (apart < _ALIKE) & (np.abs(width[:, None] - width) < _SAME_WIDTH)
    found = {}
    for i, k in enumerate(slim):
        others = [slim[j] for j in np.flatnonzero(like[i]).tolist() if j != i]
        if len(others) >= 2:
            found[k] = others
    return found


def _around(box: Box, shape: tuple[int, ...], sides: float) -> Box:
    long = max(part.stop - part.start for part in box)
    reach = int(min(max(sides * long, 24), _WIDEST * max(shape)))
    rows, columns = (slice(max(part.start - reach, 0), min(part.stop + reach, n))
                     for part, n in zip(box, shape, strict=True))  # fmt: skip
    return rows, columns


def _grown(
    mine: int, labels: NDArray[np.int32], apart: Mask, pixels: Pixels, table: Table, box: Box
) -> Mask | None:
    """What of a box belongs to piece ``mine`` (its label); None where it has no end in it.

    ``apart``: by label, pieces that are scraps of their own.
    """
    bare = labels == 0
    others = apart[labels]
    size = max(5, round(_AVERAGED * max(pixels.shape)) | 1)
    weight = np.maximum(_averaged(bare.astype(np.float32), size), 1e-3)
    away = np.stack([_averaged(plane * bare, size) / weight
                     for plane in calm_away(pixels, table, box)])  # fmt: skip
    band = _band(bare.shape) & bare
    if np.count_nonzero(band) < 50:
        return None
    away -= np.median(away[:, band], axis=1)[:, None, None]
    distance = np.sqrt(np.square(away).sum(axis=0))
    limit = max(_FAR, _SPREADS * float(np.median(distance[band])))
    cloth = (bare & (distance > limit)) | ((labels > 0) & ~others)
    solid = opened(filled(square_closed(cloth, 2) & ~others), disk(2))
    numbered = pieces_of(solid)
    held = numbered.labels()
    counts = np.bincount(held[labels == mine], minlength=numbered.count + 1)
    counts[0] = 0
    if not counts.any():
        return None
    grown = held == int(np.argmax(counts))
    edge = np.concatenate([grown[0], grown[-1], grown[:, 0], grown[:, -1]])
    most = _LARGEST * pixels.shape[0] * pixels.shape[1]
    return None if edge.mean() > _AT_BORDER or np.count_nonzero(grown) > most else grown


def _averaged(plane: Floats, size: int) -> Floats:
    return np.asarray(ndimage.uniform_filter(plane, size, mode="nearest"))


def _band(shape: tuple[int, ...]) -> Mask:
    depth = max(3, round(_BAND * min(shape) / 2))
    band = np.ones(shape, bool)
    band[depth:-depth, depth:-depth] = False
    return band
