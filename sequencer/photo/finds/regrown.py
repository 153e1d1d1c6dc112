"""Scraps of which only parts stand off the table are grown to their own sides.

A print whose ground is nearly the table's colour comes off it in fragments. Close to them the
table is known better than the model of the whole picture knows it: what differs from the table
right around, averaged over a few pixels so that grain and weave even out, and with the fragments
fills one four-sided outline, is one scrap. Seeds that grow where a second, lower limit allows:
hysteresis (Canny, IEEE Trans. PAMI 8, 1986).

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.models import Pixels
from sequencer.photo.finds.table import Floats, Mask
from sequencer.photo.finds.touching import rectangularity
from sequencer.photo.finds.unlike import mean_colour
from sequencer.photo.shapes.morphology import disk, opened, square_closed
from sequencer.photo.shapes.runs import Box, Pieces, filled, halved, pieces_of

_WHOLE = 0.88
"""Rectangularity (IoU) from which a piece is a scrap as it is, and one that has grown."""
_BETTER = 0.05
"""What a torn piece must gain of it by growing."""
_SLIM, _ALIKE, _SAME_WIDTH = 1.7, 9.0, 0.5
"""Stripes of one print: at least so many widths long, CIE76 apart at most, log ratio of widths."""
_SEED = 2.5e-4
"""Least share of the picture that a fragment to start from covers."""
_AROUND, _WIDEST = (0.6, 2.5), 0.25
"""How far around a fragment is looked, in its own longer sides, first near and then farther, at
most a share of the picture."""
_BAND, _BAND_LEAST, _BAND_ENOUGH = 0.15, 3, 12
"""Width of the rim where the table around is learnt, as a share of half the box's shorter side; at
least, and how much of it must be bare, in every other pixel."""
_AROUND_LEAST = 24
"""Analysis pixels around a fragment that are looked at however small it is."""
_BARELY = 1e-3
"""Share of a square that is bare below which its mean says nothing."""
_AVERAGED, _AVERAGED_LEAST = 0.007, 3
"""Side of the square that is averaged over, as a share of the picture's longer side; at least, in
every other pixel."""
_FAR, _SPREADS = 0.7, 3.0
"""Least distance from the table around, in its standard deviations, and in spreads of the band."""
_GREW = 1.06
"""Times its own area that a piece must reach, else nothing of it was missing."""
_AT_BORDER = 0.02
"""Share of the box's border that a grown piece may touch; more has no end there."""
_SWALLOWED = 0.7
"""Share of another piece inside the grown one from which it belongs to it."""
_LARGEST = 0.3
"""Of the picture: what grows beyond it is a print that fills the photo, and these its figures."""


def regrown(found: Mask, pieces: Pieces, pixels: Pixels, away: Floats) -> Mask:
    """``found`` (h, w) with fragments grown where they then fill one four-sided outline.

    ``pieces``: of ``found``. ``pixels`` (h, w, 3), sRGB. ``away`` (3, …): how far every other of
    them, down and across, is from the table, in standard deviations.
    """
    seeds = [k for k in np.argsort(-pieces.areas, kind="stable").tolist()
             if pieces.areas[k] >= _SEED * found.size]  # fmt: skip
    shape = {k: rectangularity(pieces.mask(k)) for k in seeds}
    stripes = _stripes(seeds, pieces, pixels)
    torn = [k for k in seeds if shape[k] < _WHOLE or k in stripes]
    if not torn:
        return found
    labels = np.ascontiguousarray(pieces.labels()[::2, ::2])  # as fine as ``away``
    whole = np.zeros(pieces.count + 1, bool)
    whole[[k + 1 for k in seeds if shape[k] >= _WHOLE]] = True
    out, taken = found.copy(), set[int]()
    for k in torn:
        alike = stripes.get(k, [])
        others = whole.copy()
        others[[j + 1 for j in (k, *alike)]] = False
        least = _WHOLE if shape[k] >= _WHOLE else max(_WHOLE, shape[k] + _BETTER)
        looks = [_around(pieces.boxes[k], found.shape, reach) for reach in _AROUND]
        if k in taken:
            continue
        for box in looks[: 1 + (looks[0] != looks[1])]:
            local = labels[halved(box)]
            grown = _grown(k + 1, local, others, away[:, *halved(box)], found.shape)
            if grown is None:
                continue
            if 4 * np.count_nonzero(grown) < _GREW * pieces.areas[k]:
                break  # bare table all around: the piece is as it lies
            if rectangularity(grown) < least:
                continue
            inside = 4 * np.bincount(local[grown], minlength=pieces.count + 1)[1:]
            held = set(np.flatnonzero(inside > _SWALLOWED * pieces.areas).tolist())
            if shape[k] < _WHOLE or len(held & set(alike)) >= 2:
                fine = grown.repeat(2, axis=0).repeat(2, axis=1)
                out[box] |= fine[: out[box].shape[0], : out[box].shape[1]]
                taken |= held
                break
    return out


def _stripes(seeds: list[int], pieces: Pieces, pixels: Pixels) -> dict[int, list[int]]:
    """Slender pieces that two others or more are like in colour and width, and those."""
    slim = [k for k in seeds if pieces.areas[k] > _SLIM * pieces.widths[k] ** 2]
    if len(slim) < 3:
        return {}
    means = np.array([mean_colour(pixels[pieces.boxes[k]], pieces.mask(k)) for k in slim])
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
    reach = int(min(max(sides * long, _AROUND_LEAST), _WIDEST * max(shape)))
    rows, columns = (slice(max(part.start - reach, 0) // 2 * 2, min(part.stop + reach, n))
                     for part, n in zip(box, shape, strict=True))  # fmt: skip
    return rows, columns


def _grown(
    mine: int, labels: NDArray[np.int32], apart: Mask, away: Floats, picture: tuple[int, ...]
) -> Mask | None:
    """What of a box belongs to piece ``mine`` (its label); None where it has no end in it.

    ``labels`` (h, w) and ``away`` (3, h, w), how far from the table: of every other pixel.
    ``apart``: by label, pieces that are scraps of their own. ``picture``: height and width of the
    whole one.
    """
    bare = labels == 0
    others = apart[labels]
    seen = _differs(bare, away, round(_AVERAGED * max(picture)))
    if seen is None:
        return None
    cloth = (bare & seen) | ~(bare | others)
    solid = opened(filled(square_closed(cloth, 1) & ~others), disk(1))
    numbered = pieces_of(solid)
    held = numbered.labels()
    counts = np.bincount(held[labels == mine], minlength=numbered.count + 1)
    counts[0] = 0
    if not counts.any():
        return None
    grown = held == int(np.argmax(counts))
    edge = np.concatenate([grown[0], grown[-1], grown[:, 0], grown[:, -1]])
    most = _LARGEST * picture[0] * picture[1] / 4
    return None if edge.mean() > _AT_BORDER or np.count_nonzero(grown) > most else grown


def _differs(table: Mask, away: Floats, size: int) -> Mask | None:
    """Where averages over ``size`` times ``size`` pixels differ from those of the bare table at the
    rim; None where too little of it is bare.
    """
    band = _band(table.shape) & table
    if np.count_nonzero(band) < _BAND_ENOUGH:
        return None
    weight = table[None].astype(np.float32)
    means = _averaged(away * weight, size)
    means /= np.maximum(_averaged(weight, size), _BARELY)
    means -= np.median(means[:, band], axis=1)[:, None, None]
    distance = np.sqrt(means[0] * means[0] + means[1] * means[1] + means[2] * means[2])
    return np.asarray(distance > max(_FAR, _SPREADS * float(np.median(distance[band]))))


def _averaged(planes: Floats, size: int) -> Floats:
    """Of every other pixel of (k, h, w)."""
    each = max(_AVERAGED_LEAST, size // 2 | 1)
    return np.asarray(ndimage.uniform_filter(planes, (1, each, each), mode="nearest"))


def _band(shape: tuple[int, ...]) -> Mask:
    depth = max(_BAND_LEAST, round(_BAND * min(shape) / 2))
    band = np.ones(shape, bool)
    band[depth:-depth, depth:-depth] = False
    return band
