"""Smooth quadrilaterals in a photo: candidates for a sheet or a grey card.

Pixels whose colour hardly changes are grouped; :mod:`sequencer.photo.foursided` lays four sides
round a group. ``fill`` says how well the group fills its quadrilateral, ``straight`` how much of
the outline follows the four sides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.models import Pixels
from sequencer.photo.foursided import quadrilateral
from sequencer.photo.view import View

Floats = NDArray[np.floating]

_QUIET = 0.3  # share of a picture that shows nothing but noise and weave
_LIMITS = ((6.0, 4.0, 8.0), (3.0, 2.0, 4.0), (1.5, 0.7, 2.0))  # times that noise, least, most
_SMALLEST = 0.006
_LARGEST = 0.45
_LOOSEST = 0.35  # share of its upright box that a turned rectangle fills at least
_ONE_COLOUR = 0.1
_BARELY = 0.7  # of its quadrilateral a group fills at least: a scrap may lie over part of it
_REACH = 2.0  # view pixels to either side of an outline where inside and outside are looked up
_ALONG = np.linspace(0.08, 0.92, 22)


@dataclass(frozen=True, eq=False)
class Quad:
    """``corners`` (4, 2) x, y in analysis pixels, in order round the outline.

    ``encoded`` (3,): median sRGB 0 to 1. ``luminance``: of that, linear 0 to 1. ``chroma`` and
    ``hue`` (degrees): CIELAB. ``texture``: standard deviation of L* about its own slow change.
    ``area``: share of the picture. ``fill``: intersection over union with its quadrilateral,
    less what is holes.
    ``straight``: share of the quadrilateral's sides where the group ends. ``touches``: how many
    sides of the picture it reaches.
    """

    corners: Floats
    encoded: Floats
    luminance: float
    chroma: float
    hue: float
    texture: float
    area: float
    fill: float
    straight: float
    touches: int

    @property
    def linear(self) -> Floats:
        """Linear sRGB of the median colour."""
        return srgb_to_linear(self.encoded)


@dataclass(frozen=True, eq=False)
class _Outline:
    """A quadrilateral before its texture and hue are known: ``corners`` in pixels of its ``box`` of
    the view, ``filled``: the group without its holes, ``core``: its pixels well inside.

    ``middle``, ``span``: x, y in the view; ``colour``: sRGB 0 to 1. All three plain numbers, since
    each outline is held against all others.
    """

    corners: Floats
    box: tuple[slice, slice]
    filled: NDArray[np.bool_]
    core: NDArray[np.bool_]
    colour: list[float]
    middle: list[float]
    span: list[float]
    area: float
    fill: float
    touches: int

    @property
    def offset(self) -> Floats:
        return np.array([self.box[1].start, self.box[0].start], dtype=float)


def smooth_quads(view: View) -> list[Quad]:
    """Every smooth quadrilateral of the photo that is not its background, largest first.

    Looked for at three limits of smoothness, drawn from the picture's own noise: a sheet on a white
    table is parted from it only by a faint edge, a card in a noisy photo only hangs together at a
    generous limit.
    """
    found: list[_Outline] = []
    noise = float(np.quantile(view.change[::3, ::3], _QUIET))
    for times, least, most in _LIMITS:
        for one in _outlines_below(view, min(max(times * noise, least), most)):
            there = [other for other in found if _same_place(one, other)]
            if all(one.fill > other.fill + 0.02 for other in there):
                found = [other for other in found if other not in there] + [one]
    return sorted((_described(one, view) for one in found), key=lambda q: -q.area)


def _same_place(one: _Outline, other: _Outline) -> bool:
    """Two outlines of one thing: of one colour, the middle of either well inside the other."""
    (ax, ay), (bx, by) = one.middle, other.middle
    across, down = abs(ax - bx), abs(ay - by)
    if not any(across < 0.35 * w.span[0] and down < 0.35 * w.span[1] for w in (one, other)):
        return False
    colours = zip(one.colour, other.colour, strict=True)
    return all(abs(a - b) <= _ONE_COLOUR for a, b in colours)


def _outlines_below(view: View, limit: float) -> Iterator[_Outline]:
    from scipy.ndimage import find_objects, label

    groups, _ = label(view.change < limit)
    least, largest = _SMALLEST * 0.5 * groups.size, _LARGEST * groups.size
    for number, box in enumerate(find_objects(groups), start=1):
        room = (box[0].stop - box[0].start) * (box[1].stop - box[1].start)
        if room <= least:
            continue
        touches = _touches(box, groups.shape)
        if touches > 2:
            continue
        box = _grown(box, 3, groups.shape)
        member = groups[box] == number
        size = np.count_nonzero(member)
        if least < size < largest and size >= _LOOSEST * room:
            one = _outline(_widened(member), box, view, touches)
            if one is not None:
                yield one


def _touches(box: tuple[slice, slice], shape: tuple[int, ...]) -> int:
    rows, columns = box
    reached = (rows.start <= 2, columns.start <= 2)
    return sum((*reached, rows.stop >= shape[0] - 2, columns.stop >= shape[1] - 2))


def _grown(box: tuple[slice, slice], by: int, shape: tuple[int, ...]) -> tuple[slice, slice]:
    rows, columns = (
        slice(max(0, side.start - by), min(limit, side.stop + by))
        for side, limit in zip(box, shape, strict=False)
    )
    return rows, columns


def _outline(
    member: NDArray[np.bool_], box: tuple[slice, slice], view: View, touches: int
) -> _Outline | None:
    filled = _without_holes(member)
    count = np.count_nonzero(filled)
    area = count / view.change.size
    # Four sides span at least what lies between the ends of each row: cheaper to know than they.
    if area < _SMALLEST or count < (_BARELY - 0.02) * _between_ends(filled):
        return None
    corners = quadrilateral(member)
    offset = np.array([box[1].start, box[0].start])
    if corners is None or not _oblong(corners, _on_border(corners + offset, view.change.shape)):
        return None
    x, y = corners.T
    spanned = abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2
    if count < _BARELY * spanned:
        return None
    fill = _overlap(filled, corners) * np.count_nonzero(member) / count
    if fill < _BARELY:
        return None
    core = _core(corners, member.shape) & member
    if np.count_nonzero(core) < 30:
        return None
    colour = (_middle(view.pixels[box][core]) / 255).tolist()
    middle, span = (corners.mean(axis=0) + offset).tolist(), np.ptp(corners, axis=0).tolist()
    return _Outline(corners, box, filled, core, colour, middle, span, area, fill, touches)


def _described(one: _Outline, view: View) -> Quad:
    """Everything that is told of an outline, its corners in analysis pixels."""
    lab = view.lab[one.box]
    a, b = (float(np.median(lab[..., k][one.core])) for k in (1, 2))
    texture = _texture(lab[..., 0], one.core)
    encoded = np.array(one.colour)
    luminance = float(srgb_to_linear(encoded) @ [0.2126, 0.7152, 0.0722])
    chroma, hue = float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a)) % 360)
    straight = _straight(one.filled, one.corners, one.offset, view.change.shape)
    at = (one.corners + one.offset) * view.step
    return Quad(
        at, encoded, luminance, chroma, hue, texture, one.area, one.fill, straight, one.touches
    )  # fmt: skip


def _middle(pixels: Pixels) -> Floats:
    """Median (3,) of 8-bit colours (n, 3), by counting."""
    counts = np.stack([np.bincount(channel, minlength=256).cumsum() for channel in pixels.T])
    half = len(pixels)
    return np.array([
        (c.searchsorted((half - 1) // 2, "right") + c.searchsorted(half // 2, "right")) / 2
        for c in counts
    ])


def _between_ends(member: NDArray[np.bool_]) -> int:
    """Pixels from the first to the last of the group in each row, summed."""
    rows = member[member.any(axis=1)]
    return int(rows.size - rows.argmax(axis=1).sum() - rows[:, ::-1].argmax(axis=1).sum())


def _widened(member: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Grown twice by the four neighbours of each pixel."""
    for _ in range(2):
        wide = member.copy()
        wide[1:] |= member[:-1]
        wide[:-1] |= member[1:]
        wide[:, 1:] |= member[:, :-1]
        wide[:, :-1] |= member[:, 1:]
        member = wide
    return member


def _without_holes(member: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """All but what is joined to the edge of the box outside the group."""
    from scipy.ndimage import label

    others, count = label(~member)
    outside = np.zeros(count + 1, bool)
    for edge in (others[0], others[-1], others[:, 0], others[:, -1]):
        outside[edge] = True
    outside[0] = False
    return np.asarray(~outside[others])


def _straight(
    filled: NDArray[np.bool_], corners: Floats, offset: Floats, picture: tuple[int, ...]
) -> float:
    """Share of points along the sides with the group on one hand and something else on the other.

    Beyond the picture's edge nothing is known: points there do not count.
    """
    sides = np.roll(corners, -1, axis=0) - corners
    along = corners[:, None] + _ALONG[:, None] * sides[:, None]
    outward = sides[:, ::-1] * [1, -1] / np.hypot(*sides.T)[:, None]
    if (outward * (corners - corners.mean(axis=0))).sum() < 0:
        outward = -outward
    within = _looked_up(filled, along - _REACH * outward[:, None])
    beyond_at = along + _REACH * outward[:, None]
    beyond = _looked_up(filled, beyond_at)
    on = beyond_at + offset
    counts = ((on > 2) & (on < np.array(picture[::-1]) - 2)).all(axis=-1)
    if not counts.any():
        return 1.0
    return float((within & ~beyond)[counts].mean())


def _looked_up(mask: NDArray[np.bool_], points: Floats) -> NDArray[np.bool_]:
    """Values of a mask at points (…, 2) x, y; False outside it."""
    x, y = np.floor(points).astype(int)[..., 0], np.floor(points).astype(int)[..., 1]
    height, width = mask.shape
    held = mask[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]
    return np.asarray(held & (x >= 0) & (y >= 0) & (x < width) & (y < height))


def _oblong(corners: Floats, cut: NDArray[np.bool_]) -> bool:
    """Corners near right angles, sides no more than 4 to 1: a sheet or a card seen from above.

    ``cut`` (4,): sides that are the picture's edge, which meets the others at any angle.
    """
    sides = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*sides.T)
    sine = np.abs(_cross(sides, np.roll(sides, -1, axis=0))) / (length * np.roll(length, -1))
    sine[cut | np.roll(cut, -1)] = 1.0
    return bool(length.min() > 3 and sine.min() > 0.85 and length.max() < 4 * length.min())


def _on_border(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """(4,): which sides, from each corner to the next, run along the picture's edge."""
    x, y = corners.T
    edges = np.stack([x < 4, y < 4, x > shape[1] - 4, y > shape[0] - 4])
    return np.asarray((edges & np.roll(edges, -1, axis=1)).any(axis=0))


def _texture(lightness: Floats, core: NDArray[np.bool_]) -> float:
    """Scatter of L* about a plane: paper is quiet, cloth has a weave."""
    y, x = np.nonzero(core)
    few = slice(None, None, 1 + len(x) // 2000)
    y, x = y[few], x[few]
    design = np.stack([np.ones(len(x)), x, y], axis=1)
    values = lightness[y, x].astype(float)
    slope = np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.median(np.abs(values - design @ slope)) * 1.4826)


def _cross(a: Floats, b: Floats) -> Floats:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _core(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """The inner 70 % of a quadrilateral."""
    centre = corners.mean(axis=0)
    return _inside(centre + 0.7 * (corners - centre), shape)


def _inside(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Pixels whose centre lies inside a convex polygon."""
    x, y = np.arange(shape[1]) + 0.5, np.arange(shape[0])[:, None] + 0.5
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    if first[0] * second[1] < first[1] * second[0]:
        corners = corners[::-1]
    inside = np.ones(shape, bool)
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        dx, dy = end - start
        inside &= dx * (y - start[1]) >= dy * (x - start[0])
    return inside


def _overlap(member: NDArray[np.bool_], corners: Floats) -> float:
    inside = _inside(corners, member.shape)
    both, either = np.count_nonzero(inside & member), np.count_nonzero(inside | member)
    return float(both / max(1, int(either)))
