"""Where finds lie in a photo: how far two are one, what a line cuts, in words; ids that stay."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.models import Print
from sequencer.photo.shapes.shape import Floats, area, inside
from sequencer.piece import Correction, Outline, Piece

ALIKE = 0.5
"""Shared over joint area from which two outlines are one scrap."""
_PERHAPS = 0.3
_GRID = 240


@dataclass(frozen=True)
class Overlap:
    """How two outlines cover each other: shared area as a share of the first, of the second, of
    both together.
    """

    of_first: float
    of_second: float
    alike: float


def overlap(first: Outline, second: Outline) -> Overlap:
    """Compare two outlines on a grid laid over both."""
    a, b = np.asarray(first, float), np.asarray(second, float)
    if len(a) < 3 or len(b) < 3 or _apart(a, b):
        return Overlap(0.0, 0.0, 0.0)
    low = np.minimum(a.min(axis=0), b.min(axis=0))
    cell = max(float((np.maximum(a.max(axis=0), b.max(axis=0)) - low).max()) / _GRID, 1e-9)
    shape = (_GRID + 2, _GRID + 2)
    here, there = (inside((one - low) / cell + 0.5, shape) for one in (a, b))
    both = int((here & there).sum())
    one, other = max(1, int(here.sum())), max(1, int(there.sum()))
    return Overlap(both / one, both / other, both / max(1, one + other - both))


def _apart(a: Floats, b: Floats) -> bool:
    return bool((a.max(axis=0) <= b.min(axis=0)).any() or (b.max(axis=0) <= a.min(axis=0)).any())


def smaller_part(outline: Outline, line: Outline) -> float:
    """What the straight line through two points cuts off an outline: the smaller share of it."""
    points = np.asarray(outline, float)
    (x, y), (u, v) = line[:2]
    side = (u - x) * (points[:, 1] - y) - (v - y) * (points[:, 0] - x)
    whole = area(points)
    if whole <= 0 or (x, y) == (u, v):
        return 0.0
    part = area(_clipped(points, side))
    return min(part, whole - part) / whole


def _clipped(points: Floats, side: Floats) -> Floats:
    """What of a polygon lies where ``side`` is above 0 (Sutherland and Hodgman 1974)."""
    kept = []
    for k in range(len(points)):
        a, b, p, q = side[k - 1], side[k], points[k - 1], points[k]
        if (a > 0) != (b > 0):
            kept.append(p + (q - p) * (a / (a - b)))
        if b > 0:
            kept.append(q)
    return np.array(kept) if len(kept) >= 3 else np.zeros((3, 2))


def where(outline: Outline) -> str:
    """Where something lies, in words: the box around it, in photo pixels."""
    points = np.asarray(outline, float)
    if not len(points):
        return "nowhere that is known"
    (x, y), (u, v) = points.min(axis=0), points.max(axis=0)
    return f"x {x:.0f} to {u:.0f}, y {y:.0f} to {v:.0f}"


def without_dropped(prints: Sequence[Print], corrections: Sequence[Correction]) -> list[Print]:
    """The finds of one photo less those that are no scraps, unless drawn again since.

    A drawing brings back the find it made, the one most like it, and no other beneath it.
    """
    kept = []
    for one in prints:
        gone = False
        for edit in corrections:
            if edit.op == "drop":
                gone |= any(overlap(one.outline, find.outline).alike >= ALIKE
                            for find in edit.finds if find.photo == one.photo_id)
            elif edit.op in ("add", "redraw") and edit.photo == one.photo_id:
                alike = [overlap(other.outline, edit.line).alike for other in prints]
                made = max(alike) >= ALIKE and prints[alike.index(max(alike))] is one
                gone &= not made
        if not gone:
            kept.append(one)
    return kept


class Names:
    """Ids of prints: each stays with its scrap, a new one is none that is an id or a name."""

    def __init__(self, taken: Iterable[str]) -> None:
        self._taken = {name.casefold() for name in taken}

    @classmethod
    def of(cls, piece: Piece) -> Names:
        """All ids and names that a piece holds."""
        ids = [one.id for one in piece.prints]
        return cls([*ids, *piece.names, *piece.names.values(), *piece.sizes])

    def named(
        self, stem: str, found: Sequence[Print], old: Sequence[Print], many: bool
    ) -> list[Print]:
        """The finds of a photo with ids: those they had by place, else stem-1, stem-2…

        ``many``: whether the photo shows more than one print; the only one is called like it.
        """
        kept = _by_place(found, old)
        named = []
        for one in found:
            id_ = kept.get(one.number) or self._fresh(stem, one.number, many or bool(old))
            self._taken.add(id_.casefold())
            named.append(replace(one, id=id_, name=id_))
        return named

    def _fresh(self, stem: str, number: int, many: bool) -> str:
        wanted = f"{stem}-{number}" if many else stem
        tried = 1
        while wanted.casefold() in self._taken:
            tried += 1
            wanted = f"{stem}-{max(number, 1) + tried - 1}"
        return wanted


def _by_place(found: Sequence[Print], old: Sequence[Print]) -> dict[int, str]:
    """Ids by number: a find keeps that of the scrap it lies on, best likeness first."""
    pairs = []
    for one in found:
        for other in old:
            shared = overlap(one.outline, other.outline)
            own = one.number == other.number and shared.alike > 0
            if own or shared.alike >= _PERHAPS:
                pairs.append((not own, -shared.alike, one.number, other.id))
    ids: dict[int, str] = {}
    for _, _, number, id_ in sorted(pairs):
        if number not in ids and id_ not in ids.values():
            ids[number] = id_
    return ids
