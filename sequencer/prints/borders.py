"""What lies between a print's colours: mixtures, how sharp a border is, whose a border pixel is.

A photograph blurs; a pixel at a border shows a mixture of the two inks that meet there, in linear
light. So a colour whose pixels all lie between two others is no ink, a border pixel belongs to
whichever of the inks beside it has the larger part, and inks printed too finely to show anywhere
pure are found by undoing the mixing: pixel = Σ share × ink, solved by weighted least squares
(linear mixing model, Keshava and Mustard 2002, with the shares read off the picture's own labels).
Constants are by hand, never fitted.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import ciede2000, lab_to_xyz, xyz_to_lab
from sequencer.prints.pixels import Codes, Floats, Mask, Planes, bordered

Labels = NDArray[np.uint8]
Bits = NDArray[np.uint16]

_BORDER_REACH = 2  # pixels within which a border pixel sees the inks that it may belong to
_MIXTURE_REACH = 3  # pixels within which a mixture sees its inks
_BETWEEN = 0.6  # share of a mixture's pixels that see both its inks
_ON_LINE = 6.0  # ΔE00 from the line of mixtures
_SURELY_OFF = 16.0  # the same in CIE76, where ΔE00 need not be asked
_MIXED = np.linspace(0.08, 0.92, 8)[:, None]  # shares of one colour on the line of mixtures
_TAKEN = 1.2  # of the difference of two colours that a border takes at most: sharpened edges
_STRIP = 8  # rows, at least, on which the blur is judged
_PURE = 0.05  # mixing at which a pixel's word counts a quarter
_HOLD = 0.3  # pixels' worth of belief in the colour as first seen
_BITS = 8  # of a share: 256 is the whole
_FULL = 250  # of 256: nothing from outside the cloth is mixed in
_FARTHEST = 15.0  # ΔE76 that unmixing may move a colour
_SOFT = (2, 0)  # pixels of blur that are tried
_TRIED = 3000  # pixels on which the blur is judged


def spread_bits(bits: Bits, reach: int) -> Bits:
    """OR of the bits within ``reach`` pixels across and down."""
    for _ in range(reach):
        wide = bits.copy()
        wide[1:] |= bits[:-1]
        wide[:-1] |= bits[1:]
        bits = wide
    for _ in range(reach):
        wide = bits.copy()
        wide[:, 1:] |= bits[:, :-1]
        wide[:, :-1] |= bits[:, 1:]
        bits = wide
    return bits


def as_bits(labels: Labels, where: Mask) -> Bits:
    """Bit k where label k shows, nothing elsewhere."""
    return np.asarray(np.where(where, np.left_shift(np.uint16(1), labels.astype(np.uint16)), 0))


def mixture(labels: Labels, mask: Mask, centres: Floats) -> int | None:
    """The smallest colour that is only the blur between two others, None if there is none."""
    count = len(centres)
    if count < 3:
        return None
    seen = spread_bits(as_bits(labels, mask), _MIXTURE_REACH)[mask]
    there = np.flatnonzero(np.bincount(seen, minlength=1 << count))
    place = np.zeros(1 << count, np.int64)
    place[there] = np.arange(len(there))
    table = np.bincount(
        labels[mask].astype(np.int64) * len(there) + place[seen], minlength=count * len(there)
    ).reshape(count, -1)
    has = ((there >> np.arange(count)[:, None]) & 1).astype(float)
    total = table.sum(axis=1)
    for k in np.argsort(total, kind="stable").tolist():
        both = (has * table[k]) @ has.T >= _BETWEEN * total[k]
        for i, j in np.argwhere(np.tril(both, -1)).tolist():
            if k not in (i, j) and _on_line(centres[k], centres[i], centres[j]):
                return int(k)
    return None


def _on_line(colour: Floats, first: Floats, second: Floats) -> bool:
    line = _line(first, second)
    away = np.square(line - colour).sum(axis=1)
    if float(away.min()) > _SURELY_OFF**2:
        return False
    return float(ciede2000(colour, line).min()) < _ON_LINE


def _line(first: Floats, second: Floats) -> Floats:
    """Mixtures of two colours, in linear light and, as JPEG mixes chroma, in CIELAB."""
    one, other = lab_to_xyz(first), lab_to_xyz(second)
    light = xyz_to_lab(one * (1 - _MIXED) + other * _MIXED)
    return np.concatenate([light, first * (1 - _MIXED) + second * _MIXED])


def sharpness(calm: Codes, labels: Labels, mask: Mask, centres: Floats) -> Floats:
    """(k, k): how much of the difference between two colours is taken within 3 pixels of a border.

    Near 1 where inks were printed, low where one dye lies in folds or noise; 0 without a border.
    ``calm`` (3, h, w): codes of the cloth.
    """
    count = len(centres)
    taken, met = np.zeros(count * count), np.zeros(count * count)
    for axis in (0, 1):
        at, inside = np.moveaxis(labels, axis, 0), np.moveaxis(mask, axis, 0)
        planes = np.moveaxis(calm, axis + 1, 1)
        y, x = np.nonzero((at[1:-2] != at[2:-1]) & inside[1:-2] & inside[2:-1])
        one, other = at[y + 1, x].astype(int), at[y + 2, x].astype(int)
        way = (centres[other] - centres[one]).T
        length = np.square(way).sum(axis=0)
        way = way * np.array([[0.5], [1], [1]]) / length  # a code of lightness is half a unit
        along = [(planes[:, y + step, x] * way).sum(axis=0) for step in range(4)]
        # A fine line is left again within three pixels: the best of four steps counts.
        best = np.max([along[3] - along[0], along[3] - along[1], along[2] - along[0],
                       along[2] - along[1]], axis=0)  # fmt: skip
        pair = one * count + other
        taken += np.bincount(pair, np.minimum(best, _TAKEN), minlength=count * count)
        met += np.bincount(pair, minlength=count * count)
    square = taken.reshape(count, count), met.reshape(count, count)
    sums = [part + part.T for part in square]
    return np.asarray(sums[0] / np.maximum(sums[1], 1))


def settled(
    labels: Labels, sure: Mask, mask: Mask, border_xyz: Planes, centres: Floats
) -> Labels:
    """Labels in which every border pixel went to the inks beside it.

    ``sure`` (h, w): pixels whose label stands. ``border_xyz`` (3, n): XYZ of the other pixels of
    the ``mask``, in their order; of the inks within reach the nearest in linear light has it.
    """
    count = len(centres)
    border = mask & ~sure
    beside = spread_bits(as_bits(labels, sure), _BORDER_REACH)[border]
    inks = lab_to_xyz(centres).astype(np.float32)
    best = np.full(border_xyz.shape[1], np.inf, np.float32)
    chosen = labels[border]
    for k in range(count):
        gap = squared(border_xyz - inks[k][:, None])
        nearer = (gap < best) & ((beside >> k) & 1).astype(bool)
        best[nearer] = gap[nearer]
        chosen[nearer] = k
    out = labels.copy()
    out[border] = chosen
    return out


def squared(planes: Planes) -> Planes:
    """Squared lengths (…) of vectors (3, …): three planes added outright, not by a reduction."""
    return np.asarray(planes[0] * planes[0] + planes[1] * planes[1] + planes[2] * planes[2])


def fitted(
    raw: Planes, labels: Labels, mask: Mask, centres: Floats
) -> tuple[Floats, Planes]:
    """Inks (k, 3) unmixed from the picture, and what (h, w) they leave unexplained, ΔE76."""
    softness = 2
    if len(centres) > 1:
        height = max(_STRIP, _TRIED // mask.shape[1])
        top = max(0, (len(mask) - height) // 2)
        part = np.s_[top : top + height]
        tried = [_fit(raw[:, part], labels[part], mask[part], centres, n) for n in _SOFT]
        softness = _SOFT[int(np.argmin([float(np.square(left).mean()) for _, left in tried]))]
    return _fit(raw, labels, mask, centres, softness)


def _fit(
    raw: Planes, labels: Labels, mask: Mask, centres: Floats, softness: int
) -> tuple[Floats, Planes]:
    held = parts(labels, mask, len(centres), softness)
    whole = mask & (held.sum(axis=0, dtype=np.uint16) >= _FULL)
    inks = unmixed(raw, held, whole, centres)
    return inks, np.where(whole, unexplained(raw, held, inks), np.float32(0))


def parts(labels: Labels, mask: Mask, count: int, softness: int = 2) -> NDArray[np.uint16]:
    """(count, h, w): how much of each ink a blurred pixel holds, of 256.

    ``softness``: pixels that the blur reaches; binomial, so its σ is 0.7 or 1 for 1 or 2.
    """
    ones = np.stack([(labels == k) & mask for k in range(count)]).astype(np.uint16)
    ones <<= _BITS - 4 * softness
    padded = bordered(ones, softness)
    for _ in range(2 * softness):
        padded = padded[:, 1:] + padded[:, :-1]
    for _ in range(2 * softness):
        padded = padded[:, :, 1:] + padded[:, :, :-1]
    return padded


def unmixed(raw: Planes, held: NDArray[np.uint16], whole: Mask, centres: Floats) -> Floats:
    """The inks (k, 3) that, mixed as ``held`` (k, h, w) says, come nearest to ``raw`` where pixels
    are ``whole`` (h, w), nothing but cloth mixed in."""
    count = len(centres)
    share = held.reshape(count, -1).astype(np.float32) / 256
    heavy = share * np.square(_PURE / (_PURE + 1 - share.max(axis=0)) * whole.ravel())
    normal = np.einsum("kn,jn->kj", heavy, share).astype(float)
    right = np.einsum("kn,in->ki", heavy, raw.reshape(3, -1)).astype(float)
    keep = _HOLD * np.eye(count)
    moved = np.linalg.solve(normal + keep, right + _HOLD * centres) - centres
    length = np.linalg.norm(moved, axis=1, keepdims=True)
    inks = centres + moved * np.minimum(1, _FARTHEST / np.maximum(length, 1e-9))
    inks[:, 0] = np.clip(inks[:, 0], 0, 100)
    return np.asarray(inks)


def unexplained(raw: Planes, held: NDArray[np.uint16], inks: Floats) -> Planes:
    """ΔE76 (h, w) between the picture and the mixture it should be."""
    mixed = np.einsum("kyx,ki->iyx", held.astype(np.float32), (inks / 256).astype(np.float32))
    return np.sqrt(squared(raw - mixed))
