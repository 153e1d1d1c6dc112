"""Scraps that touch or overlap are cut apart along straight lines.

Cut cloth is nearly rectangular, so a piece that is far from the rectangle of its own area and
moments is probably several. Candidates are straight cuts from its concave corners, on along each
of the two sides that meet there or across to another concave corner; the cut that leaves the most
rectangular parts wins, helped by the colours on its two sides differing. (Cutting at concave
corners: compare Feng, Han and Pavlidis on polygon decomposition, IEEE Trans. Computers C-24, 1975.)

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.models import Pixels
from sequencer.photo.finds.rays import Line, candidates
from sequencer.photo.finds.unlike import (
    COLOURS,
    beside,
    counts_differ,
    halves_differ,
    palette_index,
    palette_of,
)
from sequencer.photo.shapes.runs import largest_piece
from sequencer.photo.shapes.shape import Floats, Mask

_COARSE = 100
"""Longest side of the coarse copy that cuts are looked for in, about, in its own pixels."""
_LEAST_PART = 0.08
"""Least share of a piece that a cut takes off."""
_LEAST_SCORE = 0.12
"""Score (gain in rectangularity, and what colour adds or takes) beyond which a piece is cut."""
_COLOUR, _USUAL = 0.3, 0.2
"""Weight of contrast (0 to 1) in the score; how far beyond most other lines' it must be to add."""
_SURELY_ONE, _NEARLY_ONE = 0.955, 0.92
"""Rectangularity (IoU) beyond which no cut is looked for, and beyond which only where colours
differ, and none askew."""
_TRIED = 5
"""Cuts of most promise that are looked at closely."""
_SLIDES = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
"""Places that each end of a cut is slid to, as shares of its reach sideways."""
_BAND = 40
"""Analysis pixels on either side of a cut within which it is slid home."""
_POINTS = 1500
"""Pixels of a mask, about, by which its rectangularity is measured."""
_SQUARE, _ENOUGH = 1.8, 12
"""Ratio of second moments below which a rectangle's direction is not told by them; pixels by which
a piece's rectangularity is told at all."""
_OVER_MOMENT = 12
"""A side's square over the second moment about its middle."""
_STAYS = 0.01
"""Contrast (0 to 1) that a cut must gain by being slid: else it stays where it was."""
_DRAWN_ON, _NOT_FOUND = 8, 1.5
"""Pixels that a cut is drawn on by to leave the piece, at most, and where it does not."""


def cut_apart(mask: Mask, pixels: Pixels, least: float) -> list[Mask]:
    """Cut one connected ``mask`` (h, w) into the scraps it shows; masks of the same shape.

    ``pixels`` (h, w, 3): the picture there, sRGB. ``least``: pixels of the smallest scrap there
    can be.
    """
    best = _best_cut(mask, pixels, least)
    if best is None:
        return [mask]
    return [piece for part in best for piece in cut_apart(part, pixels, least)]


def rectangularity(mask: Mask) -> float:
    """Overlap (IoU) of a piece with the rectangle of its area and second moments, 0 to 1.

    The second moments of a square are those of a disk and tell no direction; its fourth do.
    """
    area = int(np.count_nonzero(mask))
    if area < _ENOUGH:
        return 0.0
    points, own = _sampled(mask, max(1, round(np.sqrt(area / _POINTS))))
    square = points * points
    long, round_ = complex(square.mean()), float(np.abs(square).mean()) + 2 * own
    overlap = _overlap(points, float(np.angle(long)) / 2, area, long, round_)
    if round_ + abs(long) > _SQUARE * (round_ - abs(long)):
        return overlap
    turn = float(np.angle(-complex((square * square).mean()))) / 4
    return max(overlap, _overlap(points, turn, area, long, round_))


def _sampled(mask: Mask, step: int) -> tuple[NDArray[np.complexfloating], float]:
    """Every so-manieth pixel of a mask down and across, x + iy about their mean, and the second
    moment of the square that each stands for; every pixel where hardly any is hit."""
    rows, columns = np.nonzero(mask[step // 2 :: step, step // 2 :: step])
    if step > 1 and len(rows) < _ENOUGH:
        return _sampled(mask, 1)
    points = (columns + 1j * rows) * step
    return points - points.mean(), step * step / _OVER_MOMENT


def _overlap(
    points: NDArray[np.complexfloating], turn: float, area: int, long: complex, round_: float
) -> float:
    """IoU of ``points`` about their mean with the rectangle of ``area`` and of their moments along
    the direction ``turn``, radians. ``long``, ``round_``: xx - yy + 2i xy and xx + yy."""
    laid = points * np.exp(-1j * turn)
    way = (long * np.exp(-2j * turn)).real
    ratio = np.sqrt((round_ + way) / (round_ - way))
    half = np.sqrt(area * ratio) / 2, np.sqrt(area / ratio) / 2
    inside = (np.abs(laid.real) <= half[0]) & (np.abs(laid.imag) <= half[1])
    within = float(np.count_nonzero(inside) / len(points))
    return within / (2 - within)


def _best_cut(mask: Mask, pixels: Pixels, least: float) -> tuple[Mask, Mask] | None:
    """Looked for on a coarse copy; the winner is slid into place at full size."""
    whole = np.count_nonzero(mask)
    if whole < 2 * least:
        return None
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    corner = np.array([columns[0], rows[0]])
    extent = max(rows[-1] - rows[0], columns[-1] - columns[0]) + 1
    step = max(1, round(extent / _COARSE))
    box = np.s_[rows[0] : rows[-1] + 1 : step, columns[0] : columns[-1] + 1 : step]
    small = largest_piece(mask[box])
    before = rectangularity(small)
    if before > _SURELY_ONE:
        return None
    colours = palette_of(pixels[box][small])
    index = palette_index(small, pixels[box], colours)
    if before > _NEARLY_ONE and not halves_differ(index):
        return None
    tried = []
    for cut in _promising(small, index, before, least / step**2):
        path, contrast = _refined(index, cut.line.a, cut.line.b, 4)
        contrast = min(contrast, cut.contrast)
        score = cut.score(contrast)
        if score > _LEAST_SCORE:
            tried.append((score, [point * step + corner for point in path]))
    tried.sort(key=lambda one: -one[0])
    for _, line in tried:
        inner = line[1:3] if len(line) == 4 else line
        path = _slid_home(mask, pixels, colours, inner[0], inner[1])
        parts = _split(mask, [line[0], *path, line[-1]], least)
        if parts is not None:
            return parts
    return None


@dataclass(frozen=True, eq=False)
class _Cut:
    """``gain`` in rectangularity; ``contrast`` between all colours of one part and the other."""

    line: Line
    gain: float
    contrast: float
    restless: float = 0.0

    @property
    def promise(self) -> float:
        return self.score(self.contrast)

    def score(self, contrast: float) -> float:
        return self.gain + _COLOUR * (contrast - _USUAL - self.restless)


def _promising(mask: Mask, index: NDArray[np.int64], before: float, least: float) -> list[_Cut]:
    """The few best candidates by shape and whole colour."""
    least = max(least, _LEAST_PART * np.count_nonzero(mask))
    found = []
    lines, restless = candidates(mask, index, before > _NEARLY_ONE)
    for line in lines:
        cut = _tried(line, mask, index, before, least)
        if cut is not None:
            cut = replace(cut, restless=restless)
        if cut is not None and cut.gain > line.least and cut.promise > _LEAST_SCORE:
            found.append(cut)
    found.sort(key=lambda one: -one.promise)
    return found[:_TRIED]


def _tried(
    line: Line, mask: Mask, index: NDArray[np.int64], before: float, least: float
) -> _Cut | None:
    """What a cut brings; None when it cuts off nothing."""
    labels = _labelled(mask, [line.a, line.b])
    if labels is None:
        return None
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0  # the cut's own pixels and what lies around
    if len(sizes) < 3:
        return None
    first, second = np.argsort(-sizes, kind="stable")[:2]
    if sizes[second] < least:
        return None
    parts = [labels == first, labels == second]
    share = sizes[first] / (sizes[first] + sizes[second])
    after = share * rectangularity(parts[0]) + (1 - share) * rectangularity(parts[1])
    counts = [np.bincount(index[part], minlength=COLOURS) for part in parts]
    return _Cut(line, after - before, float(counts_differ(*counts)))


def _refined(
    index: NDArray[np.int64], a: Floats, b: Floats, reach: float
) -> tuple[list[Floats], float]:
    """The cut, its ends slid up to ``reach`` pixels sideways to where the colours differ most."""
    length = float(np.hypot(*(b - a)))
    if length < 4:
        return [a, b], 0.0
    across = reach * np.array([a[1] - b[1], b[0] - a[0]]) / length
    first, second = (one.ravel() for one in np.meshgrid(_SLIDES, _SLIDES, indexing="ij"))
    p, q = a + first[:, None] * across, b + second[:, None] * across
    contrast = beside(index, p, q)
    contrast[len(first) // 2] += _STAYS
    best = int(np.argmax(contrast))
    if best == len(first) // 2:
        return [a, b], float(contrast[best])
    return [a, p[best], q[best], b], float(contrast[best])


def _slid_home(mask: Mask, pixels: Pixels, colours: Floats, a: Floats, b: Floats) -> list[Floats]:
    """The cut slid to where colours differ at full size; only what lies beside it is looked at."""
    low = np.maximum(np.floor(np.minimum(a, b)).astype(int) - _BAND, 0)
    high = np.ceil(np.maximum(a, b)).astype(int) + _BAND
    box = np.s_[low[1] : high[1], low[0] : high[0]]
    local = mask[box].copy()
    y, x = np.ogrid[: local.shape[0], : local.shape[1]]
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    local &= np.abs((x - a[0] + low[0]) * along[1] - (y - a[1] + low[1]) * along[0]) < _BAND
    path, _ = _refined(palette_index(local, pixels[box], colours), a - low, b - low, 3)
    return [point + low for point in path]


def _labelled(mask: Mask, path: list[Floats]) -> NDArray[np.int32] | None:
    """The parts that a cut along ``path`` leaves, numbered, 0 on the cut and off the mask.

    The path runs from a corner of the outline to another place on it; a simplified corner may lie
    a little inside, so that both ends are drawn on until they leave the piece. None: no length.
    """
    if np.hypot(*(path[-1] - path[0])) < 2:
        return None
    cut = mask.copy()
    column, row = np.floor(_walk(mask, path)).astype(int).T
    fits = (row >= 0) & (column >= 0) & (row < mask.shape[0]) & (column < mask.shape[1])
    cut[row[fits], column[fits]] = False
    return np.asarray(ndimage.label(cut)[0])


def _split(mask: Mask, path: list[Floats], least: float) -> tuple[Mask, Mask] | None:
    """The two sides of the cut along ``path``; None when it cuts off nothing."""
    labels = _labelled(mask, path)
    if labels is None:
        return None
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    if len(sizes) < 3:
        return None
    first, second = np.argsort(-sizes, kind="stable")[:2]
    if sizes[second] < least:
        return None
    return _with_barrier(labels == first, labels == second, mask)


def _walk(mask: Mask, path: list[Floats]) -> Floats:
    """Points along the path, ends drawn on, three abreast so that no diagonal step is open."""
    along = (path[-1] - path[0]) / np.hypot(*(path[-1] - path[0]))
    start = path[0] - _to_outside(mask, path[0], -along) * along
    end = path[-1] + _to_outside(mask, path[-1], along) * along
    points = []
    for p, q in pairwise([start, *path, end]):
        length = float(np.hypot(*(q - p)))
        if length > 1e-6:
            at = p + np.arange(0.0, length + 0.5, 0.5)[:, None] * (q - p) / length
            normal = np.array([p[1] - q[1], q[0] - p[0]]) / length
            points += [at - 0.5 * normal, at, at + 0.5 * normal]
    return np.concatenate(points)


def _to_outside(mask: Mask, start: Floats, direction: Floats, most: int = _DRAWN_ON) -> float:
    """How far a simplified corner must move on to leave the piece; ``most`` at the utmost."""
    for step in range(1, most):
        column, row = int(start[0] + step * direction[0]), int(start[1] + step * direction[1])
        within = 0 <= row < mask.shape[0] and 0 <= column < mask.shape[1]
        if not within or not mask[row, column]:
            return float(step)
    return _NOT_FOUND


def _with_barrier(one: Mask, other: Mask, mask: Mask) -> tuple[Mask, Mask]:
    """Give the cut's own pixels back, each to the nearer part."""
    rest = mask & ~one & ~other
    rows, columns = np.flatnonzero(rest.any(axis=1)), np.flatnonzero(rest.any(axis=0))
    if not len(rows):
        return one, other
    box = np.s_[max(rows[0] - 4, 0) : rows[-1] + 5, max(columns[0] - 4, 0) : columns[-1] + 5]
    nearer = ndimage.distance_transform_cdt(~one[box]) <= ndimage.distance_transform_cdt(
        ~other[box]
    )
    one, other = one.copy(), other.copy()
    one[box] |= rest[box] & nearer
    other[box] |= rest[box] & ~nearer
    return largest_piece(one), largest_piece(other)
