"""Scraps that touch or overlap are cut apart along straight lines.

Cut cloth is nearly rectangular, so a piece that is far from the rectangle of its own area and
moments is probably several. Candidates are straight cuts from its concave corners, on along each
of the two sides that meet there or across to another concave corner; the cut that leaves the most
rectangular parts wins, helped by the colours on its two sides differing. (Cutting at concave
corners: compare Feng, Han and Pavlidis on polygon decomposition, IEEE Trans. Computers C-24, 1975.)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from sequencer.photo.shape import Floats, Mask, outline_of, simplified
from sequencer.photo.unlike import beside, halves_differ, palette_index, parts_differ

_COARSE = 130
_LEAST_PART = 0.04
_GAIN = 0.08
_COLOUR = 0.3
_USUAL = 0.22
_SURELY_ONE = 0.955
_WORSE = -0.03
_SIDE_BY_SIDE = 0.004
_TRIED = 5
_NEARLY_ONE = 0.92


def cut_apart(mask: Mask, lab: Floats, least: float) -> list[Mask]:
    """Cut one connected ``mask`` (h, w) into the scraps it shows; masks of the same shape.

    ``lab`` (h, w, 3): the picture there. ``least``: pixels of the smallest scrap there can be.
    """
    best = _best_cut(mask, lab, least)
    if best is None:
        return [mask]
    return [piece for part in best for piece in cut_apart(part, lab, least)]


def rectangularity(mask: Mask) -> float:
    """Overlap (IoU) of a piece with the rectangle of its area and second moments, 0 to 1."""
    rows, columns = np.nonzero(mask)
    if len(rows) < 12:
        return 0.0
    step = max(1, len(rows) // 3000)
    points = np.column_stack([columns[::step], rows[::step]]).astype(float)
    points -= points.mean(axis=0)
    values, vectors = np.linalg.eigh(points.T @ points / len(points) + np.eye(2) / 12)
    ratio = float(np.sqrt(values[1] / values[0]))
    area = len(rows)
    half = np.sqrt(area * np.array([1 / ratio, ratio])) / 2
    within = float((np.abs(points @ vectors) <= half).all(axis=1).mean())
    return within / (2 - within)


def _best_cut(mask: Mask, lab: Floats, least: float) -> tuple[Mask, Mask] | None:
    """Looked for on a coarse copy; the winner is slid into place at full size."""
    if mask.sum() < 2 * least:
        return None
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    corner = np.array([columns[0], rows[0]])
    extent = max(rows[-1] - rows[0], columns[-1] - columns[0]) + 1
    step = max(1, round(extent / _COARSE))
    box = np.s_[rows[0] : rows[-1] + 1 : step, columns[0] : columns[-1] + 1 : step]
    small = _main(mask[box])
    before = rectangularity(small)
    if before > _SURELY_ONE:
        return None
    index = palette_index(small, lab[box])
    if before > _NEARLY_ONE and not halves_differ(index):
        return None
    best, line = _GAIN, None
    for gain, whole, a, b in _promising(small, index, before, least / step**2):
        path, contrast = _refined(index, a, b, 4)
        score = gain + _COLOUR * (min(contrast, whole) - _USUAL)
        if score > best:
            best, line = score, [point * step + corner for point in path]
    if line is None:
        return None
    inner = line[1:3] if len(line) == 4 else line
    path, _ = _refined(palette_index(mask, lab), inner[0], inner[1], 3)
    return _split(mask, [line[0], *path, line[-1]], least)


def _promising(
    mask: Mask, index: NDArray[np.int64], before: float, least: float
) -> list[tuple[float, float, Floats, Floats]]:
    """The few best candidates by shape and whole colour: (gain, contrast of the parts, a, b)."""
    least = max(least, _LEAST_PART * mask.sum())
    found = []
    for a, b, least in _candidates(outline_of(mask), mask, index, before):
        parts = _split(mask, [a, b], least)
        if parts is None:
            continue
        share = parts[0].sum() / (parts[0].sum() + parts[1].sum())
        after = share * rectangularity(parts[0]) + (1 - share) * rectangularity(parts[1])
        gain, whole = after - before, parts_differ(parts, index)
        if gain > least and gain + _COLOUR * (whole - _USUAL) > _GAIN:
            found.append((gain, whole, a, b))
    found.sort(key=lambda one: -(one[0] + _COLOUR * one[1]))
    return found[:_TRIED]


def _refined(
    index: NDArray[np.int64], a: Floats, b: Floats, reach: float
) -> tuple[list[Floats], float]:
    """The cut, its ends slid up to ``reach`` pixels sideways to where the colours differ most."""
    length = float(np.linalg.norm(b - a))
    if length < 4:
        return [a, b], 0.0
    across = np.array([a[1] - b[1], b[0] - a[0]]) / length
    path, best = [a, b], beside(index, a, b) + 0.01
    for first in (-reach, -reach / 2, 0.0, reach / 2, reach):
        for second in (-reach, -reach / 2, 0.0, reach / 2, reach):
            p, q = a + first * across, b + second * across
            contrast = beside(index, p, q)
            if contrast > best:
                path, best = [a, p, q, b], contrast
    return path, best


def _candidates(
    outline: Floats, mask: Mask, index: NDArray[np.int64], before: float
) -> Iterator[tuple[Floats, Floats, float]]:
    """Cuts (a, b) and the least gain in rectangularity that each must bring."""
    size = float(np.sqrt(mask.sum()))
    closed = np.vstack([outline[:: max(1, len(outline) // 200)], outline[:1]])
    corners = simplified(closed, max(1.2, 0.02 * size))[:-1]
    concave = _concave(corners)
    for k in concave:
        here = corners[k]
        for other in (corners[k - 1], corners[(k + 1) % len(corners)]):
            length = float(np.linalg.norm(here - other))
            if length > 3:
                yield *_ray(mask, here, (here - other) / length), _WORSE
        if before > _NEARLY_ONE:
            continue
        for a, b in _telling(_fan(mask, here), index):
            yield a, b, _WORSE
    for i, k in enumerate(concave):
        for m in concave[i + 1 :]:
            if _runs_inside(mask, corners[k], corners[m]):
                yield corners[k], corners[m], _WORSE
    for a, b in _telling(_across(mask), index):
        yield a, b, _SIDE_BY_SIDE


def _telling(
    lines: Iterable[tuple[Floats, Floats]], index: NDArray[np.int64]
) -> list[tuple[Floats, Floats]]:
    """The two lines along which the colours on both sides differ most."""
    rated = [(beside(index, a, b), a, b) for a, b in lines if np.linalg.norm(b - a) > 8]
    rated.sort(key=lambda one: -one[0])
    return [(a, b) for contrast, a, b in rated[:2] if contrast > _USUAL]


def _fan(mask: Mask, here: Floats) -> Iterator[tuple[Floats, Floats]]:
    """Rays all round a corner."""
    for angle in np.arange(0, 2 * np.pi, np.pi / 12):
        yield _ray(mask, here, np.array([np.cos(angle), np.sin(angle)]))


def _across(mask: Mask) -> Iterator[tuple[Floats, Floats]]:
    """Lines straight across the piece's two main directions: scraps laid side by side, flush."""
    rows, columns = np.nonzero(mask)
    points = np.column_stack([columns, rows]) + 0.5
    centre = points.mean(axis=0)
    vectors = np.linalg.eigh(np.cov((points - centre).T))[1]
    for along, across in ((vectors[:, 1], vectors[:, 0]), (vectors[:, 0], vectors[:, 1])):
        reach = (points - centre) @ along
        for at in np.linspace(np.quantile(reach, 0.04), np.quantile(reach, 0.96), 17):
            middle = centre + at * along
            yield _ray(mask, middle, -across)[1], _ray(mask, middle, across)[1]


def _concave(corners: Floats) -> list[int]:
    """Corners that turn inward by more than 25 degrees."""
    before = corners - np.roll(corners, 1, axis=0)
    after = np.roll(corners, -1, axis=0) - corners
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (before * after).sum(axis=1))
    inward = -np.sign(turn.sum()) * turn
    return [int(k) for k in np.argsort(-inward, kind="stable") if inward[k] > 0.44][:8]


def _ray(mask: Mask, start: Floats, direction: Floats) -> tuple[Floats, Floats]:
    """From a concave corner straight on until it leaves the piece."""
    along = np.arange(1.0, float(np.hypot(*mask.shape)))
    at = start + along[:, None] * direction
    column, row = np.floor(at).astype(int).T
    within = (row >= 0) & (column >= 0) & (row < mask.shape[0]) & (column < mask.shape[1])
    hit = np.zeros(len(at), bool)
    hit[within] = mask[row[within], column[within]]
    inside = np.flatnonzero(hit[:6])
    if not len(inside):
        return start, start
    leaves = np.flatnonzero(~hit[inside[0] :])
    end = inside[0] + (leaves[0] if len(leaves) else len(hit) - inside[0] - 1)
    return start, at[end]


def _runs_inside(mask: Mask, a: Floats, b: Floats) -> bool:
    count = int(np.linalg.norm(b - a))
    if count < 4:
        return False
    at = a + np.linspace(0.1, 0.9, count)[:, None] * (b - a)
    column, row = np.clip(np.floor(at).astype(int).T, 0, np.array(mask.shape[::-1])[:, None] - 1)
    return bool(mask[row, column].mean() > 0.97)


def _split(mask: Mask, path: list[Floats], least: float) -> tuple[Mask, Mask] | None:
    """The two sides of the cut along ``path``; None when it cuts off nothing.

    The path runs from a corner of the outline to another place on it; a simplified corner may lie
    a little inside, so that both ends are drawn on until they leave the piece.
    """
    if np.linalg.norm(path[-1] - path[0]) < 2:
        return None
    barrier = np.zeros_like(mask)
    for at in _walk(mask, path):
        column, row = np.floor(at).astype(int).T
        fits = (row >= 0) & (column >= 0) & (row < mask.shape[0]) & (column < mask.shape[1])
        barrier[row[fits], column[fits]] = True
    labels, count = ndimage.label(mask & ~barrier)
    if count < 2:
        return None
    sizes = np.bincount(labels.ravel())[1:]
    first, second = np.argsort(-sizes, kind="stable")[:2] + 1
    if sizes[second - 1] < least:
        return None
    return _with_barrier(labels == first, labels == second, mask)


def _walk(mask: Mask, path: list[Floats]) -> Iterator[Floats]:
    """Points along the path, ends drawn on, three abreast so that no diagonal step is open."""
    along = (path[-1] - path[0]) / np.linalg.norm(path[-1] - path[0])
    start = path[0] - _to_outside(mask, path[0], -along) * along
    end = path[-1] + _to_outside(mask, path[-1], along) * along
    corners = [start, *path, end]
    for p, q in pairwise(corners):
        length = float(np.linalg.norm(q - p))
        if length > 1e-6:
            at = p + np.arange(0.0, length + 0.5, 0.5)[:, None] * (q - p) / length
            normal = np.array([p[1] - q[1], q[0] - p[0]]) / length
            yield from (at + shift * normal for shift in (-0.5, 0.0, 0.5))


def _to_outside(mask: Mask, start: Floats, direction: Floats, most: int = 8) -> float:
    """How far a simplified corner must move on to leave the piece; ``most`` at the utmost."""
    for step in range(1, most):
        column, row = np.floor(start + step * direction).astype(int)
        within = 0 <= row < mask.shape[0] and 0 <= column < mask.shape[1]
        if not within or not mask[row, column]:
            return float(step)
    return 1.5


def _with_barrier(one: Mask, other: Mask, mask: Mask) -> tuple[Mask, Mask]:
    """Give the cut's own pixels back, each to the nearer part."""
    rest = mask & ~one & ~other
    to_one = ndimage.distance_transform_cdt(~one)
    to_other = ndimage.distance_transform_cdt(~other)
    return _main(one | (rest & (to_one <= to_other))), _main(other | (rest & (to_other < to_one)))


def _main(mask: Mask) -> Mask:
    labels, count = ndimage.label(mask)
    if count < 2:
        return mask
    return np.asarray(labels == np.argmax(np.bincount(labels.ravel())[1:]) + 1)
