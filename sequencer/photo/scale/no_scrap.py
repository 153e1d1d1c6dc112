"""Bank cards on the table are no cloth, whatever the scale was taken from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import four_corners
from sequencer.photo.scale.around import look_around
from sequencer.photo.scale.card import CARD_IN, LIKELY, SURE, card_shapes, cards
from sequencer.photo.scale.scale import Scale
from sequencer.photo.shapes.shape import Floats, sides

_SIZE_OFF = 0.04  # log: what perspective and a length marked by hand leave open
_PRIOR = -3.0  # log odds of any one thing of such a shape being a card


def bank_cards(
    photo: Photo, things: Sequence[Scrap], scale: Scale | None, sheet: Floats | None
) -> tuple[list[Floats], tuple[str, ...]]:
    """Corners (4, 2) of what are bank cards among ``things``, and a word where that is a guess.

    By size where a ``scale`` is known, and by sides, round corners and what size it would give the
    rest; ``sheet``: corners of a white sheet.
    """
    if scale is not None and scale.corners is not None:
        return [scale.corners], ()
    shapes = card_shapes(photo, things)
    likely = cards(photo, shapes, look_around(photo, things, sheet), _PRIOR) if shapes else []
    if scale is None:
        taken = [one.corners for one in likely if one.odds > LIKELY]
        return taken, tuple(_guess(photo, corners) for corners in taken)
    sure = [one.corners for one in likely if one.odds > SURE]
    seen = [rough for rough in map(four_corners, things) if rough is not None]
    return sure + [rough for rough in seen if _is_sized(rough, scale)], ()


def _is_sized(rough: Floats, scale: Scale) -> bool:
    return bool(np.abs(np.log(np.array(sides(scale.inches(rough))) / CARD_IN)).max() < _SIZE_OFF)


def _guess(photo: Photo, corners: Floats) -> str:
    x, y = corners.mean(axis=0) * photo.factor
    return (
        f"what lies at {x:.0f},{y:.0f} looks like a bank card, so it is no print; if it is cloth, "
        "give a length, --scale 6in=X,Y-X,Y, and it will be one"
    )
