"""Scraps that touch or overlap are cut apart along straight lines.

Cut cloth is nearly rectangular, so a piece that is far from the rectangle of its own area and
moments is probably several. Candidates are straight cuts from its concave corners, on along each
of the two sides that meet there or across to another concave corner; the cut that leaves the most
rectangular parts wins, helped by the colours on its two sides differing. (Cutting at concave
corners: compare Feng, Han and Pavlidis on polygon decomposition, IEEE Trans. Computers C-24, 1975.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from sequencer.photo.shape import Floats, Mask, outline_of

_COARSE = 110
_LEAST_PART = 0.04
_GAIN = 0.07
_COLOUR = 0.3
_USUAL = 0.22
_SURELY_ONE = 0.955
_WORSE = -0.03
_TRIED = 5


@dataclass(frozen=True, eq=False)
class _Cut:
    parts: tuple[Mask, Mask]
    score: float


def cut_apart(mask: Mask, outline: Floats, lab: Floats) -> list[Mask]:
    """Cut one connected ``mask`` (h, w) into the scraps it shows; masks of the same shape.

    ``outline`` (n, 2): its contour in the mask's pixels. ``lab`` (h, w, 3): the picture there.
    """
    best = _best_cut(mask, outline, lab)
    if best is None:
        return [mask]
    return [piece for part in best.parts for piece in cut_apart(part, outline_of(part), lab)]


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


def _best_cut(mask: Mask, outline: Floats, lab: Floats) -> _Cut | None:
    before = rectangularity(mask)
    if before > _SURELY_ONE:
        return None
    best: _Cut | None = None
    for gain, whole, a, b in _promising(mask, outline, lab, before):
        path, beside = _refined(mask, lab, a, b)
        score = gain + _COLOUR * (min(beside, whole) - _USUAL)
        if score <= max(_GAIN, best.score if best else 0.0):
            continue
        parts = _split(mask, path, int(mask.sum()))
        if parts is not None:
            best = _Cut(parts, score)
    return best


def _promising(
    mask: Mask, outline: Floats, lab: Floats, before: float
) -> list[tuple[float, float, Floats, Floats]]:
    """The few best candidates by shape and whole colour: (gain, contrast of the parts, a, b)."""
    step = max(1, max(mask.shape) // _COARSE)
    small, colours = mask[::step, ::step], lab[::step, ::step]
    area = int(small.sum())
    found = []
    for a, b in _candidates(outline, mask, lab):
        parts = _split(small, [a / step, b / step], area)
        if parts is None:
            continue
        share = parts[0].sum() / (parts[0].sum() + parts[1].sum())
        after = share * rectangularity(parts[0]) + (1 - share) * rectangularity(parts[1])
        gain, whole = after - before, _whole(parts, colours)
        if gain > _WORSE and gain + _COLOUR * (whole - _USUAL) > _GAIN:
            found.append((gain, whole, a, b))
    found.sort(key=lambda one: -(one[0] + _COLOUR * one[1]))
    return found[:_TRIED]


def _refined(mask: Mask, lab: Floats, a: Floats, b: Floats) -> tuple[list[Floats], float]:
    """The cut with its ends slid a few pixels sideways to where the colours differ most."""
    length = float(np.linalg.norm(b - a))
    if length < 4:
        return [a, b], 0.0
    across = np.array([a[1] - b[1], b[0] - a[0]]) / length
    reach = float(np.clip(length / 16, 1.5, 6.0))
    path, best = [a, b], _beside(mask, lab, a, b) + 0.01
    for first in (-reach, -reach / 2, 0.0, reach / 2, reach):
        for second in (-reach, -reach / 2, 0.0, reach / 2, reach):
            p, q = a + first * across, b + second * across
            contrast = _beside(mask, lab, p, q)
            if contrast > best:
                path, best = [a, p, q, b], contrast
    return path, best


def _candidates(outline: Floats, mask: Mask, lab: Floats) -> Iterator[tuple[Floats, Floats]]:
    from skimage.measure import approximate_polygon

    size = float(np.sqrt(mask.sum()))
    closed = np.vstack([outline, outline[:1]])
    corners = approximate_polygon(closed, max(1.5, 0.02 * size))[:-1]
    concave = _concave(corners)
    for k in concave:
        here = corners[k]
        for other in (corners[k - 1], corners[(k + 1) % len(corners)]):
            length = float(np.linalg.norm(here - other))
            if length > 3:
                yield _ray(mask, here, (here - other) / length)
        yield from _fan(mask, lab, here)
    for i, k in enumerate(concave):
        for m in concave[i + 1 :]:
            if _runs_inside(mask, corners[k], corners[m]):
                yield corners[k], corners[m]


def _fan(mask: Mask, lab: Floats, here: Floats) -> list[tuple[Floats, Floats]]:
    """Of the rays all round a corner, the two along which the colours on both sides differ most."""
    rays = []
    for angle in np.arange(0, 2 * np.pi, np.pi / 18):
        a, b = _ray(mask, here, np.array([np.cos(angle), np.sin(angle)]))
        if np.linalg.norm(b - a) > 8:
            rays.append((_beside(mask, lab, a, b), a, b))
    rays.sort(key=lambda one: -one[0])
    return [(a, b) for contrast, a, b in rays[:2] if contrast > _USUAL]


def _concave(corners: Floats) -> list[int]:
    """Corners that turn inward by more than 25 degrees."""
    before = corners - np.roll(corners, 1, axis=0)
    after = np.roll(corners, -1, axis=0) - corners
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, (before * after).sum(axis=1))
    inward = -np.sign(turn.sum()) * turn
    return [int(k) for k in np.argsort(-inward, kind="stable") if inward[k] > 0.44][:10]


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


def _split(mask: Mask, path: list[Floats], area: int) -> tuple[Mask, Mask] | None:
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
    if sizes[second - 1] < _LEAST_PART * area:
        return None
    return _with_barrier(labels == first, labels == second, mask)


def _walk(mask: Mask, path: list[Floats]) -> Iterator[Floats]:
    """Points along the path, ends drawn on, three abreast so that no diagonal step is open."""
    along = (path[-1] - path[0]) / np.linalg.norm(path[-1] - path[0])
    start = path[0] - _to_outside(mask, path[0], -along) * along
    end = path[-1] + _to_outside(mask, path[-1], along) * along
    corners = [start, *path, end]
    for p, q in zip(corners, corners[1:], strict=False):
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


def _beside(mask: Mask, lab: Floats, a: Floats, b: Floats) -> float:
    """How different the colours on the two sides of a cut are, 0 to 1, beyond the print's own.

    Hellinger distance of coarse CIELAB histograms of the strips beside the cut, less that between
    each strip and the one behind it.
    """
    length = float(np.linalg.norm(b - a))
    if length < 4:
        return 0.0
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    deep = float(np.clip(length / 4, 5, 16))
    strips = []
    for low, high in ((2, deep), (deep, 2 * deep), (-deep, -2), (-2 * deep, -deep)):
        t, s = np.meshgrid(np.arange(1.0, length - 0.5), np.arange(low, high), indexing="ij")
        at = a + t[..., None] * along + s[..., None] * across
        strips.append(_histogram(mask, lab, at.reshape(-1, 2)))
    near, behind, far, beyond = strips
    if near is None or far is None:
        return 0.0
    own = [_hellinger(x, y) for x, y in ((near, behind), (far, beyond)) if y is not None]
    return max(0.0, _hellinger(near, far) - (float(np.mean(own)) if own else 0.3))


def _whole(parts: tuple[Mask, Mask], lab: Floats) -> float:
    """Hellinger distance between all the colours of one part and all of the other."""
    first, second = (_colours(lab[part]) for part in parts)
    return 0.0 if first is None or second is None else _hellinger(first, second)


def _histogram(mask: Mask, lab: Floats, at: Floats) -> Floats | None:
    column, row = np.floor(at).astype(int).T
    fits = (row >= 0) & (column >= 0) & (row < mask.shape[0]) & (column < mask.shape[1])
    row, column = row[fits], column[fits]
    held = mask[row, column]
    return _colours(lab[row[held], column[held]])


def _colours(colours: Floats) -> Floats | None:
    """Coarse, softened histogram of (n, 3) CIELAB; None for too few."""
    if len(colours) < 12:
        return None
    cells = np.clip((colours + np.array([0, 80, 80])) / [12.5, 20, 20], 0, 7).astype(int)
    counts = np.bincount(cells @ np.array([64, 8, 1]), minlength=512)
    spread = ndimage.uniform_filter(counts.reshape(8, 8, 8).astype(float), 2, mode="constant")
    total = spread.sum()
    return np.asarray(spread.ravel() / total) if total else None


def _hellinger(p: Floats, q: Floats) -> float:
    return float(np.sqrt(max(0.0, 1.0 - np.sqrt(p * q).sum())))
