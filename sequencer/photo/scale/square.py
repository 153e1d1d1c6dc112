"""Things of a bank card's sides whose corners look square: taken only on further evidence.

A real card's corners are round, but a blurred or drawn one may not show it. Beside a sheet of a
known format its size can be told all the same, and then no harm is done should it be something
else. Without a sheet it is only asked about, where the user said that a card lies there: cloth of a
card's shape is common. Constants are by hand, never fitted.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import four_corners, straight
from sequencer.photo.scale.around import SHEETS_IN, Around, laid
from sequencer.photo.scale.card import CARD_IN, RATIO_SEEN, SHAPES, Card, beside_sheet, with_card
from sequencer.photo.shapes.perspective import homography, project
from sequencer.photo.shapes.shape import Floats, sides

_ROUGHLY = 0.08  # log that the worse side is off a card's by the sheet, at a quick look
_FITS = 4.5  # half the sum of squares by which all else may fit worse
_APART = 0.3  # of its short side that its middle lies off the sheet's, at least
_USUAL_SIZE = -0.8  # log odds of size from which it is asked about
_USUAL_SHAPE = 0.02  # log that a sheet's side ratio is off letter or A paper's


def square_cards(
    photo: Photo, things: Sequence[Scrap], around: Around, asked: bool
) -> tuple[list[Card], bool]:
    """What may be a card in spite of square corners, best first, and whether a sheet confirms it.

    Without a sheet nothing, unless a card was ``asked`` for.
    """
    if around.sheet is None and not asked:
        return [], False
    found = []
    for thing in things:
        sheet = None if around.sheet is None else around.sheet.corners
        rough = _rough(thing, sheet)
        if rough is None:
            continue
        by_sheet = sheet is not None and _misfit(rough, sheet) < _ROUGHLY
        one = straight(photo, thing) if by_sheet or asked else None
        if one is None or not one.is_exact:
            continue
        pose, cost, size = with_card(photo, one.corners, around)
        if cost < _FITS:
            found.append(Card(one.corners, -cost, pose, size))
    confirmed = [one for one in (beside_sheet(photo, one, around) for one in found) if one.sheet]
    if confirmed:
        return sorted(confirmed, key=lambda one: -one.odds), True
    if not asked or _usual(found, around):
        return [], False
    found.sort(key=lambda one: -one.odds)
    return (found if found and found[0].size > _USUAL_SIZE else []), False


def may_be_square(things: Sequence[Scrap], sheet: Floats | None) -> bool:
    """Whether something has a card's size beside the sheet, looked at quickly."""
    if sheet is None:
        return False
    roughs = (_rough(thing, sheet) for thing in things)
    return any(rough is not None and _misfit(rough, sheet) < _ROUGHLY for rough in roughs)


def _rough(thing: Scrap, sheet: Floats | None) -> Floats | None:
    """Corners of a whole thing in a card's ratio, more or less, that is not the sheet itself."""
    rough = four_corners(thing)
    if rough is None or _ratio_off(rough) > RATIO_SEEN:
        return None
    if sheet is not None:
        apart = float(np.linalg.norm(sheet.mean(axis=0) - rough.mean(axis=0)))
        return rough if apart > _APART * sides(rough)[1] else None
    return rough


def _usual(found: Sequence[Card], around: Around) -> bool:
    """Whether the sheet is letter or A paper by its shape: then its size would have confirmed."""
    if around.sheet is None or not found:
        return False
    long, short = sides(project(found[0].pose.to_plane, around.sheet.corners))
    return bool(np.abs(np.log(long / short) - SHAPES).min() < _USUAL_SHAPE)


def _ratio_off(corners: Floats) -> float:
    long, short = sides(corners)
    return float(abs(np.log(long / max(short, 1e-9) / (CARD_IN[0] / CARD_IN[1]))))


def _misfit(corners: Floats, sheet: Floats) -> float:
    """Largest log error of a card's sides, were the sheet of the best fitting format."""
    off = []
    for size in SHEETS_IN.values():
        seen = np.array(sides(project(homography(sheet, laid(sheet, size)), corners)))
        off.append(float(np.abs(np.log(seen / CARD_IN)).max()))
    return min(off)
