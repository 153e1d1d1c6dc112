"""The maker's corrections to what was found: drop, merge, split, redraw.

Each names scraps by their outlines in photo pixels, not by number, so that it still finds them
when the photograph is read again and something else has changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import ndimage

from sequencer.errors import UsageError
from sequencer.models import Json
from sequencer.photo.finds.scraps import Scrap, as_scrap
from sequencer.photo.shapes.shape import Floats, Mask, hull, inside

Points = tuple[tuple[float, float], ...]
OPS = ("drop", "merge", "split", "redraw")
_PART_OF = 0.2  # of a scrap that lies in an outline which means it; by hand
_GAP = 5  # analysis pixels, half the gap that is closed between parts that are merged; by hand
_NOTHING = 0.01  # share of a scrap that is no part of it when it is cut; by hand


@dataclass(frozen=True)
class Edit:
    """One correction. ``photo``: file name. Points are x, y in the upright photo's own pixels.

    ``drop``: ``outlines`` of scraps that are none. ``merge``: outlines of the parts of one scrap.
    ``split``: one outline, and ``line`` with two points of the straight cut. ``redraw``: one
    outline, or none for a scrap that was missed, and ``line`` with the new outline.
    """

    op: str
    photo: str
    outlines: tuple[Points, ...] = ()
    line: Points = ()

    def __post_init__(self) -> None:
        if self.op not in OPS:
            raise UsageError(f"'{self.op}' is no correction: use one of {', '.join(OPS)}")
        least = {"drop": 1, "merge": 2, "split": 1, "redraw": 0}[self.op]
        if len(self.outlines) < least:
            raise UsageError(f"to {self.op} takes at least {least} outline(s)")
        points = {"drop": 0, "merge": 0, "split": 2, "redraw": 3}[self.op]
        if len(self.line) < points:
            raise UsageError(f"to {self.op} takes at least {points} points")

    def to_json(self) -> Json:
        """Plain form, as kept in the piece."""
        return {
            "op": self.op,
            "photo": self.photo,
            "outlines": [[list(point) for point in outline] for outline in self.outlines],
            "line": [list(point) for point in self.line],
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Edit:
        """Read the plain form.

        Raises:
            UsageError: it is none.
        """
        try:
            outlines = tuple(_points(outline) for outline in data.get("outlines", ()))
            return Edit(
                str(data["op"]), str(data["photo"]), outlines, _points(data.get("line", ()))
            )
        except (KeyError, TypeError, ValueError, AttributeError):
            raise UsageError(f"this correction cannot be understood: {dict(data)!r}") from None


def _points(raw: Any) -> Points:
    return tuple((float(x), float(y)) for x, y in raw)


@dataclass(frozen=True, eq=False)
class Numbered:
    """A scrap and the number it keeps through corrections, from 1."""

    number: int
    scrap: Scrap


def numbered(
    scraps: Sequence[Scrap], edits: Sequence[Edit], factor: float, shape: tuple[int, int]
) -> tuple[list[Numbered], tuple[str, ...]]:
    """Number the scraps as found, then correct them; numbers never move to another scrap.

    ``factor``: photo pixels per analysis pixel; ``shape`` (h, w) of the analysis picture. A merged
    scrap keeps its lowest number, cut-off parts and added scraps get the next free one. Also says
    which corrections found nothing to act on.
    """
    now = [Numbered(k, scrap) for k, scrap in enumerate(scraps, 1)]
    free = len(now) + 1
    lost = []
    for edit in edits:
        meant = [one for one in now if any(_meant(o, one.scrap, factor) for o in edit.outlines)]
        if edit.op in ("split", "redraw"):
            meant = meant[:1]
        if edit.outlines and not meant:
            lost.append(f"a correction ({edit.op}) no longer finds its scrap and was left out")
            continue
        rest = [one for one in now if one not in meant]
        fresh = _corrected(edit, meant, factor, shape, free)
        free = max([free, *(one.number + 1 for one in fresh)])
        now = sorted(rest + fresh, key=lambda one: one.number)
    return now, tuple(lost)


def _meant(outline: Points, scrap: Scrap, factor: float) -> bool:
    """Whether outline and scrap are mostly the same cloth, or the scrap lies mostly in it."""
    polygon = np.array(outline) / factor
    low = np.minimum(np.floor(polygon.min(axis=0)), scrap.corner).astype(int)
    high = np.maximum(np.ceil(polygon.max(axis=0)), np.add(scrap.corner, scrap.mask.shape[::-1]))
    shape = tuple(int(n) for n in (high - low)[::-1])
    drawn = inside(polygon - low, shape)
    x, y = np.subtract(scrap.corner, low)
    both = int((drawn[y : y + scrap.mask.shape[0], x : x + scrap.mask.shape[1]] & scrap.mask).sum())
    return both > 0.5 * min(scrap.area, int(drawn.sum())) and both > _PART_OF * scrap.area


def _corrected(
    edit: Edit, meant: list[Numbered], factor: float, shape: tuple[int, int], free: int
) -> list[Numbered]:
    if edit.op == "drop":
        return []
    if edit.op == "redraw":
        drawn = inside(np.array(edit.line) / factor, shape)
        parts = [_scrap(drawn)] if drawn.any() else []
    elif edit.op == "merge":
        parts = [_scrap(_joined([one.scrap for one in meant], shape))]
    else:
        parts = _cut(meant[0].scrap, np.array(edit.line[:2]) / factor, shape)
    numbers = [one.number for one in meant[:1]]
    return [
        Numbered(number, part)
        for number, part in zip([*numbers, *range(free, free + len(parts))], parts, strict=False)
    ]


def _joined(scraps: Sequence[Scrap], shape: tuple[int, int]) -> Mask:
    """One mask: the parts and what lies between them; parts far apart fill their common hull."""
    together = np.zeros(shape, bool)
    for one in scraps:
        together |= one.full_mask(shape)
    grown = np.asarray(ndimage.binary_closing(np.pad(together, _GAP + 1), iterations=_GAP))
    grown = grown[_GAP + 1 : -_GAP - 1, _GAP + 1 : -_GAP - 1]
    grown |= together
    if ndimage.label(grown)[1] > 1:
        points = np.vstack([one.outline for one in scraps])
        return inside(hull(points), shape)
    return np.asarray(ndimage.binary_fill_holes(grown))


def _cut(scrap: Scrap, line: Floats, shape: tuple[int, int]) -> list[Scrap]:
    a, b = line
    x, y = np.meshgrid(np.arange(shape[1]) + 0.5, np.arange(shape[0]) + 0.5)
    side = (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) > 0
    whole = scrap.full_mask(shape)
    parts = [whole & side, whole & ~side]
    return [_scrap(part) for part in parts if part.sum() > _NOTHING * scrap.area] or [scrap]


def _scrap(mask: Mask) -> Scrap:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return as_scrap(mask[box], (int(columns[0]), int(rows[0])), mask.shape)
