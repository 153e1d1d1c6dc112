"""Cloth pixels → the few colours the eye names.

Candidates are seeded in a coarse CIELAB histogram and settled by weighted k-means; then the
picture says which of them are inks. What lies only between two others is their blur and goes. Two
that lie close are one dye in weave, noise or folds unless a sharp border parts them. What the
inks and their mixtures leave unexplained is looked through for one more, as fine lines and small
hearts of flowers are. Border pixels are counted to the inks they are mixed of, and the inks
themselves are unmixed (see :mod:`sequencer.prints.borders`).
Constants are by hand, never fitted.
"""

from __future__ import annotations

import numpy as np

from sequencer.colour import ciede2000, lab_planes_to_xyz, plain_name
from sequencer.models import PaletteColour
from sequencer.prints.bins import Bins, counted, kmeans, nearest, seeds
from sequencer.prints.borders import Labels, fitted, mixture, settled
from sequencer.prints.dyes import as_in_shade, one_dye
from sequencer.prints.evened import stretch_of
from sequencer.prints.pixels import Cloth, Floats, Mask, Planes, cloth_of, coded

_DIGITS = 9  # of a share that count, so that last bits of the machine never do
_SEEDS = 10  # candidates at most
_MOST = 6  # colours of a palette
_SMALLEST = 0.005  # share of the cloth: less is no colour of its own
_SAME = 5.0  # ΔE00 within which nothing parts two colours
_LOOSE = 7.0  # within which colours without places are one
_BORDER_WORD = 0.02  # of a border pixel, for the means
_FAR = 9.0  # ΔE76 that noise and weave do not explain
_MISSING = 0.006  # share of the cloth left unexplained that is worth a look
_HEART = 8.0  # ΔE76 round what is unexplained that makes one colour
_MOVED = 5.0  # ΔE76: an ink found so far from its pixels that their labels are asked again
_NEW = 7.0  # ΔE00 of such a colour from all inks
_MOSTLY = 0.3  # share of what is unexplained that such a colour must be
_ROUNDS, _FEW_ROUNDS, _LOOSE_ROUNDS = 12, 3, 4  # of k-means: at first, after two were merged


def palette_of(lab: Floats, most: int = _MOST) -> tuple[PaletteColour, ...]:
    """The palette of loose cloth pixels ``lab`` (n, 3), CIELAB D65: one to ``most`` colours.

    Without their places in the picture, borders and blur cannot be told: use
    :func:`picture_palette` where there is one. Shares add up to 1, largest first. Deterministic.

    Raises:
        ValueError: there is not a single pixel.
    """
    points = np.asarray(lab, dtype=np.float32).reshape(-1, 3)
    if not len(points):
        raise ValueError("a palette needs at least one pixel")
    bins = counted(coded(points.T), np.ones(len(points), np.float32))
    centres = kmeans(bins, seeds(bins, _SEEDS), _ROUNDS)
    while True:
        labels = nearest(bins.colours, centres)
        share = np.bincount(labels, bins.weights, minlength=len(centres)) / len(points)
        pair = _alike(_gaps(centres), share, np.inf if len(centres) > most else _LOOSE)
        if pair is None:
            return _entries(centres, share)
        centres = kmeans(bins, _merged(centres, share, *pair), _LOOSE_ROUNDS)


def picture_palette(lab: Floats, mask: Mask, most: int = _MOST) -> tuple[PaletteColour, ...]:
    """The palette of the cloth under ``mask`` (h, w) in ``lab`` (h, w, 3), as :func:`palette_of`.

    Decided in an evened copy, where no cast hides inks (:mod:`sequencer.prints.evened`), but light
    and shade of one dye, all that a solid has, are never told apart for that.

    Raises:
        ValueError: the mask holds no pixel.
    """
    if not mask.any():
        raise ValueError("a palette needs at least one pixel")
    stretch = stretch_of(lab, mask)
    inks, share = _found_inks(cloth_of(lab, mask, stretch), most)
    inks = stretch.turned_back(inks)
    light = inks[int(np.argmax(share))]
    if len(inks) > 1 and all(as_in_shade(light, one) for one in inks):
        alone = _found_inks(cloth_of(lab, mask), most)
        if len(alone[0]) == 1:
            return _entries(*alone)
    return _entries(inks, share)


def _found_inks(cloth: Cloth, most: int) -> tuple[Floats, Floats]:
    """Inks (k, 3) and their shares (k,)."""
    seen = cloth.plain * cloth.mask
    bins = counted(cloth.calm, seen, seen * np.where(cloth.smooth, 1, _BORDER_WORD))
    centres = kmeans(bins, seeds(bins, _SEEDS), _ROUNDS)
    centres, labels = _inks(cloth, bins, centres, most)
    labels = _borders_settled(cloth, labels, cloth.smooth, centres)
    inks, left = fitted(cloth.raw, labels, cloth.mask, centres)
    if np.linalg.norm(inks - centres, axis=1).max() > _MOVED:
        labels = _borders_settled(cloth, labels, cloth.smooth, inks)
        inks, left = fitted(cloth.raw, labels, cloth.mask, inks)
    sure = cloth.smooth
    if len(inks) < most:
        heart = _heart(cloth, left, inks)
        if heart is not None:
            inks, labels, sure = _with_heart(cloth, bins, inks, heart)
    return _counted_out(cloth, labels, sure, inks)


def _inks(cloth: Cloth, bins: Bins, centres: Floats, most: int) -> tuple[Floats, Labels]:
    """Candidates without mixtures of others and without one dye counted twice."""
    while True:
        labels = nearest(bins.colours, centres).astype(np.uint8)[bins.index]
        gone = mixture(labels, cloth.mask, centres)
        if gone is not None:
            centres = np.delete(centres, gone, axis=0)
            continue
        share, gaps = _shares(labels, cloth.mask, len(centres)), _gaps(centres)
        pair = _alike(gaps, share, _SAME) or one_dye(cloth, bins, labels, centres, gaps)
        if pair is None and len(centres) > most:
            pair = _alike(gaps, share, np.inf)
        if pair is None:
            return centres, labels
        centres = kmeans(bins, _merged(centres, share, *pair), _FEW_ROUNDS)


def _shares(labels: Labels, mask: Mask, count: int) -> Floats:
    return np.asarray(np.bincount(labels[mask], minlength=count) / mask.sum())


def _alike(gaps: Floats, share: Floats, within: float) -> tuple[int, int] | None:
    """The nearest pair when it lies ``within``, or the smallest colour when it is next to none."""
    if len(gaps) == 1:
        return None
    smallest = int(np.argmin(share))
    if share[smallest] < _SMALLEST:
        return int(np.argmin(gaps[smallest])), smallest
    first, second = (int(i) for i in np.unravel_index(np.argmin(gaps), gaps.shape))
    return (first, second) if gaps[first, second] < within else None


def _gaps(centres: Floats) -> Floats:
    """ΔE00 between all pairs, infinite on the diagonal."""
    gaps = ciede2000(centres[:, None], centres[None])
    np.fill_diagonal(gaps, np.inf)
    return gaps


def _merged(centres: Floats, share: Floats, first: int, second: int) -> Floats:
    """``centres`` with two made one at their common mean."""
    weights = share[[first, second]] * (share[[first, second]] >= _SMALLEST) + 1e-9
    out = centres.copy()
    out[first] = np.average(centres[[first, second]], axis=0, weights=weights)
    return np.delete(out, second, axis=0)


def _borders_settled(cloth: Cloth, labels: Labels, sure: Mask, centres: Floats) -> Labels:
    border = lab_planes_to_xyz(cloth.raw[:, cloth.mask & ~sure])
    return settled(labels, sure, cloth.mask, border, centres)


def _heart(cloth: Cloth, left: Planes, inks: Floats) -> Floats | None:
    """The colour of most of what no mixture of the inks explains, None when that is scattered."""
    bad = cloth.mask & (left > _FAR)
    if bad.sum() < _MISSING * cloth.mask.sum():
        return None
    bins = counted(cloth.codes[:, bad], left[bad])
    peak = bins.colours[int(np.argmax(bins.crowd))]
    near = np.square(bins.colours - peak).sum(axis=1) < _HEART**2
    weights = bins.weights * near
    heart = np.average(bins.colours, axis=0, weights=weights)
    alone = weights.sum() > _MOSTLY * bins.weights.sum()
    return heart if alone and ciede2000(heart, inks).min() > _NEW else None


def _with_heart(
    cloth: Cloth, bins: Bins, inks: Floats, heart: Floats
) -> tuple[Floats, Labels, Mask]:
    """Inks, labels and sure pixels with one more colour, unless it is a mixture or a shade."""
    more = np.concatenate([inks, heart[None]])
    labels = nearest(bins.colours, more).astype(np.uint8)[bins.index]
    away = np.square(cloth.raw - heart.astype(np.float32)[:, None, None]).sum(axis=0)
    core = cloth.mask & (away < _HEART**2)
    labels[core] = len(inks)
    same = one_dye(cloth, bins, labels, more, _gaps(more))
    if mixture(labels, cloth.mask, more) == len(inks) or (same and len(inks) in same):
        more = inks
        labels = nearest(bins.colours, more).astype(np.uint8)[bins.index]
        core = np.zeros_like(core)
    sure = cloth.smooth | core
    labels = _borders_settled(cloth, labels, sure, more)
    return fitted(cloth.raw, labels, cloth.mask, more)[0], labels, sure


def _counted_out(
    cloth: Cloth, labels: Labels, sure: Mask, inks: Floats
) -> tuple[Floats, Floats]:
    """Inks and shares once borders are settled by the unmixed inks; crumbs go."""
    labels = _borders_settled(cloth, labels, sure, inks)
    share = _shares(labels, cloth.mask, len(inks))
    if cloth.sampled is not None:
        own = inks if cloth.stretch is None else cloth.stretch.turned_back(inks)
        share = share * _sampled_unevenly(*cloth.sampled, own)
    kept = share >= min(_SMALLEST, float(share.max()))
    return inks[kept], share[kept] / share[kept].sum()


def _sampled_unevenly(sample: Planes, print_: Planes, inks: Floats) -> Floats:
    """By how much each ink fell short in the sample: ratio estimator (Cochran 1977)."""
    counts = [
        np.bincount(nearest(points.T, inks.astype(np.float32)), minlength=len(inks)) + 1.0
        for points in (sample, print_)
    ]
    ratio = (counts[1] / counts[1].sum()) / (counts[0] / counts[0].sum())
    return np.asarray(np.clip(ratio, 0.5, 2.0))


def _entries(centres: Floats, share: Floats) -> tuple[PaletteColour, ...]:
    order = sorted(range(len(centres)), key=lambda k: (-round(float(share[k]), _DIGITS), k))
    total = float(share.sum())
    return tuple(
        PaletteColour(
            (float(centres[k, 0]), float(centres[k, 1]), float(centres[k, 2])),
            float(share[k]) / total,
            plain_name(centres[k]),
        )
        for k in order
        if share[k] > 0
    )
