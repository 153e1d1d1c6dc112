"""What in a photograph shows how the table lies: sheets and scraps with four straight sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import four_corners, straight, straighten
from sequencer.photo.scale.pose import Seen
from sequencer.photo.shapes.edges import refined_sides
from sequencer.photo.shapes.perspective import corners_of
from sequencer.photo.shapes.shape import Floats, area

SHEETS_IN = {
    "letter": (11.0, 8.5), "half letter": (8.5, 5.5),
    "A4": (297 / 25.4, 210 / 25.4), "A5": (210 / 25.4, 148 / 25.4),
}  # fmt: skip
"""Paper: ANSI/ASME Y14.1 size A and half of it, and ISO 216."""

_SHEET_SQUARE, _SCRAP_SQUARE = 0.0015, 0.012
"""How far from right the angles of paper and of cut cloth are, in radians."""
_EXACT = 0.2  # pixels of the finest picture that corners measured there are off; by hand
_PAPER_EXACT = 0.2  # analysis pixels that corners of paper are off; by hand
_SAME_PLACE, _SAME_CORNERS = 0.2, 0.1
"""Shares of the root of its area within which centres, and corners, are those of one thing."""
_NEARLY_STRAIGHT = (0.96, 1.03)
"""Area of an outline by that of its four corners, least and most, where no exact sides are seen."""
_BELIEVABLE = (10, 300)
"""Focal lengths of real cameras, millimetres for 35 mm film, least and most; by hand."""
_STRAY = 1.0  # the same pixels that edges of paper may stray from straight, in the median; by hand


@dataclass(frozen=True, eq=False)
class Around:
    """What is known beside the card: things with four straight sides, and a white sheet's."""

    things: tuple[Seen, ...]
    sheet: Seen | None

    @property
    def all(self) -> tuple[Seen, ...]:
        """The sheet first, if there is one."""
        return self.things if self.sheet is None else (self.sheet, *self.things)

    def apart(self) -> Around:
        """The same with the sheet's own outline no longer among the things."""
        if self.sheet is None:
            return self
        paper = self.sheet.corners
        mine = replace(self, sheet=None).without(paper)
        return Around(mine, self.sheet)

    def without(self, corners: Floats) -> tuple[Seen, ...]:
        """All but what lies where ``corners`` do."""
        reach = _SAME_PLACE * np.sqrt(area(corners))
        here = corners.mean(axis=0)
        return tuple(
            one for one in self.all if np.linalg.norm(one.corners.mean(axis=0) - here) > reach
        )


def look_around(photo: Photo, things: Sequence[Scrap], sheet: Floats | None) -> Around:
    """Everything in the picture that shows how the table lies.

    ``things``: what stands off the table. ``sheet``: corners of a white sheet, if one was found.
    """
    straighten(photo, things)
    seen = [one for one in (_seen(photo, thing) for thing in things) if one is not None]
    paper = None if sheet is None else paper_of(photo, sheet, [one.corners for one in seen])
    return Around(tuple(seen), paper).apart()


def _seen(photo: Photo, thing: Scrap) -> Seen | None:
    """A whole thing with four straight sides, or nearly straight ones."""
    found = straight(photo, thing)
    if found is not None and found.is_exact:
        return as_thing(found.corners, blur=_EXACT / found.finer)
    hull = four_corners(thing)
    rough = None if hull is None else corners_of(thing.outline, hull)
    if rough is None:
        return None
    low, high = _NEARLY_STRAIGHT
    straight_sided = low < area(thing.outline) / max(area(rough), 1e-9) < high
    return as_thing(rough) if straight_sided else None


def _nearest(sheet: Floats, roughs: Sequence[Floats]) -> Floats:
    """The sheet's corners as its own outline has them, where that was found."""
    size = np.sqrt(area(sheet))
    for rough in roughs:
        apart = np.linalg.norm(rough[:, None] - sheet[None], axis=-1).min(axis=0)
        if apart.max() < _SAME_CORNERS * size:
            return rough
    return sheet


def paper_of(photo: Photo, sheet: Floats, others: Sequence[Floats] = ()) -> Seen | None:
    """The sheet by its edges in the picture; None where they are not there, as when a user marked
    a part of it."""
    pixels, factor = photo.finest
    finer = photo.factor / factor
    rough = _nearest(sheet, others)
    found = refined_sides(pixels, np.asarray(rough) * finer)
    if found is None or np.median(found.stray) > _STRAY:
        return None
    return as_thing(found.corners / finer, is_sheet=True)


def as_thing(corners: Floats, is_sheet: bool = False, blur: float = 0.5) -> Seen:
    """Corners of a scrap or another thing, or of a sheet of paper, to ``blur`` pixels."""
    if is_sheet:
        return Seen(corners, _SHEET_SQUARE, _PAPER_EXACT)
    return Seen(corners, _SCRAP_SQUARE, blur)


def equivalent(photo: Photo) -> float | None:
    """Focal length for 35 mm film, where the file states a believable one."""
    stated = photo.equivalent
    low, high = _BELIEVABLE
    return stated if stated is not None and low <= stated <= high else None


def laid(corners: Floats, size: tuple[float, float]) -> Floats:
    """Corners of a rectangle of ``size`` in the order of ``corners``, long side to long side."""
    first = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[3] - corners[2])
    second = np.linalg.norm(corners[2] - corners[1]) + np.linalg.norm(corners[0] - corners[3])
    width, height = size if first >= second else size[::-1]
    return np.array([[0, 0], [width, 0], [width, height], [0, height]])
