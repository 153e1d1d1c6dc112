"""How large things on the table are: from a bank card, a sheet of paper or a marked length.

Constants are by hand, never fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.scale.around import SHEETS_IN, Around, equivalent, laid, look_around
from sequencer.photo.scale.asking import (
    FORMAT_SEEN,
    long_sides,
    paper_shape,
    question,
    square_corners,
    without_card,
)
from sequencer.photo.scale.card import CARD_IN, ODD_SIZE, PERHAPS, SURE, as_card, card_shapes, cards
from sequencer.photo.scale.marked import Marked, parse_marked
from sequencer.photo.scale.pose import Pose, Seen, table_pose
from sequencer.photo.scale.square import may_be_square, square_cards
from sequencer.photo.shapes.perspective import local_scale, project
from sequencer.photo.shapes.shape import Floats

__all__ = ["CARD_IN", "Scale", "check_scale", "find_scale"]

_WARPED = 1.06  # times as large on one side of the picture as on the other, from which it is told
_UNSURE_WARP = 0.05  # spread of the table's slope from which the tilt counts as unknown
_APART = 3.0  # log odds by which the likeliest card outdoes what is no rival
_PRIOR_UNASKED, _PRIOR_ASKED = -3.0, 0.0  # log odds of a shape being a card before it is looked at
_CARD_LENGTH, _AT_ENDS = 0.01, 0.06
"""A marked length is a card's long side: inches it may be off, share that its ends may."""
_NAMED = {"letter": "letter", "a4": "A4", "a5": "A5"}


@dataclass(frozen=True, eq=False)
class Scale:
    """``to_inches`` (3, 3): analysis pixels → inches on the table.

    ``source``: bankcard, sheet or marked. ``corners`` (4, 2): the card in analysis pixels, else
    None. ``sure``: how likely it is that what was found is a card; None where the maker says so.
    """

    to_inches: Floats
    source: str
    corners: Floats | None = None
    sure: float | None = None

    def ppi(self, point: Floats) -> float:
        """Analysis pixels for an inch of cloth at a point of the picture."""
        return 1.0 / local_scale(self.to_inches, point)

    def inches(self, points: Floats) -> Floats:
        """Points of the analysis picture (n, 2) as inches on the table."""
        return project(self.to_inches, points)

    def pixels(self, points: Floats) -> Floats:
        """Points on the table in inches (n, 2) as points of the analysis picture."""
        return project(np.linalg.inv(self.to_inches), points)


Found = tuple[Scale | None, tuple[str, ...]]


def find_scale(
    photo: Photo,
    things: Sequence[Scrap],
    wanted: str = "auto",
    sheet: Floats | None = None,
) -> Found:
    """The scale ``wanted`` in a photo, and warnings.

    ``wanted``: auto, bankcard, letter, a4, a5 (the white sheet is of that format), LENGTH=PIXELS
    or LENGTH=X,Y-X,Y of the upright photo. ``things``: what stands off the table. ``sheet``:
    corners of a white sheet, if one was found. A card is taken when its shape, its round corners
    and what it says of the rest leave little doubt; when something might be one, or several things
    might, none is taken and the warning asks.

    Raises:
        UsageError: ``wanted`` is none of these.
    """
    if wanted in ("auto", "bankcard"):
        return _by_card(photo, things, wanted == "bankcard", sheet)
    if wanted in _NAMED:
        return _by_sheet(photo, things, _NAMED[wanted], sheet)
    return _by_marking(photo, things, parse_marked(wanted), sheet)


def check_scale(wanted: str) -> None:
    """Refuse a ``wanted`` scale that cannot be understood.

    Raises:
        UsageError: none of what :func:`find_scale` takes.
    """
    if wanted not in ("auto", "bankcard", *_NAMED):
        parse_marked(wanted)


# ── from a card ───────────────────────────────────────────────────────────────────────────


def _by_card(photo: Photo, things: Sequence[Scrap], asked: bool, sheet: Floats | None) -> Found:
    shapes = card_shapes(photo, things)
    prior = _PRIOR_ASKED if asked else _PRIOR_UNASKED
    if not (shapes or asked or may_be_square(things, sheet)):
        return None, without_card(photo, asked, sheet)
    around = look_around(photo, things, sheet)
    likely = [one for one in cards(photo, shapes, around, prior) if one.odds > PERHAPS]
    if not likely:
        return _by_square_card(photo, things, around, asked, sheet)
    best = likely[0]
    rivals = [one for one in likely[1:] if one.odds > min(SURE, best.odds - _APART)]
    if best.odds < SURE or best.size < ODD_SIZE or rivals:
        return None, (question(photo, [best, *rivals]),)
    scale = Scale(best.pose.to_plane, "bankcard", best.corners, _chance(best.odds))
    return scale, _warp(photo, scale)


def _chance(log_odds: float) -> float:
    return float(1 / (1 + np.exp(-log_odds)))


def _by_square_card(
    photo: Photo, things: Sequence[Scrap], around: Around, asked: bool, sheet: Floats | None
) -> Found:
    found, by_sheet = square_cards(photo, things, around, asked)
    if not found:
        return None, without_card(photo, asked, sheet)
    best = found[0]
    if not by_sheet:
        return None, (question(photo, found),)
    scale = Scale(best.pose.to_plane, "bankcard", best.corners, _chance(best.odds))
    return scale, (*square_corners(photo, best), *_warp(photo, scale))


# ── from a sheet or a marked length ───────────────────────────────────────────────────────


def _by_sheet(photo: Photo, things: Sequence[Scrap], name: str, sheet: Floats | None) -> Found:
    around = look_around(photo, things, sheet)
    if around.sheet is None:
        return None, (
            f"no white sheet was found to tell sizes by; mark it, or give a length: "
            f"--scale {SHEETS_IN[name][0]:g}in=X,Y-X,Y",
        )
    first, second = laid(around.sheet.corners, SHEETS_IN[name])[2]
    known = replace(around.sheet, sides=(float(first), float(second)), sure=True)
    pose = table_pose((known, *around.things), photo.pixels.shape, equivalent(photo))
    scale = Scale(pose.to_plane, "sheet")
    return scale, (*_wrong_paper(photo, around.sheet, name), *_warp(photo, scale))


def _wrong_paper(photo: Photo, sheet: Seen, name: str) -> tuple[str, ...]:
    shape = paper_shape(photo, sheet)
    if abs(shape - np.log(SHEETS_IN[name][0] / SHEETS_IN[name][1])) < FORMAT_SEEN:
        return ()
    return (f"the white sheet does not look like {name} paper: check sizes against a ruler",)


def _by_marking(
    photo: Photo, things: Sequence[Scrap], marked: Marked, sheet: Floats | None
) -> Found:
    """Between two points the perspective is taken out, as far as anything square shows it."""
    around = look_around(photo, things, sheet)
    pose = table_pose(around.all, photo.pixels.shape, equivalent(photo))
    if marked.points is None:
        step = marked.inches / marked.pixels * photo.factor
        return Scale(np.diag([step, step, 1.0]), "marked"), _uneven(photo, pose, around)
    ends = np.array(marked.points) / photo.factor
    card = _confirmed(marked, ends, around)
    if card is not None:
        known = (as_card(photo, card), *around.without(card))
        pose = table_pose(known, photo.pixels.shape, equivalent(photo))
        scale = Scale(pose.to_plane, "bankcard", card)
        return scale, _warp(photo, scale)
    laid_ends = project(pose.to_plane, ends)
    pose = pose.scaled(marked.inches / float(np.linalg.norm(laid_ends[1] - laid_ends[0])))
    scale = Scale(pose.to_plane, "marked")
    if _doubt(pose) < _UNSURE_WARP:
        return scale, _warp(photo, scale)
    flat = marked.inches / float(np.linalg.norm(ends[1] - ends[0]))
    return Scale(np.diag([flat, flat, 1.0]), "marked"), (
        "nothing with square corners shows how the camera was tilted, so sizes are true only near "
        "the marked length; a sheet of paper in the picture would help",
    )


def _confirmed(marked: Marked, ends: Floats, around: Around) -> Floats | None:
    """The thing that the marking says is the card: a card's length along its long side."""
    if abs(marked.inches - CARD_IN[0]) > _CARD_LENGTH:
        return None
    reach = _AT_ENDS * float(np.linalg.norm(ends[1] - ends[0]))
    for one in around.things:
        for side in long_sides(one.corners):
            if min(np.abs(side - ends).max(), np.abs(side[::-1] - ends).max()) < reach:
                return one.corners
    return None


def _uneven(photo: Photo, pose: Pose, around: Around) -> tuple[str, ...]:
    stretch = _stretch(photo, pose.to_plane)
    if not around.all or stretch < _WARPED or _doubt(pose) > _UNSURE_WARP:
        return ()
    return (
        f"the camera was tilted: things look {stretch - 1:.0%} larger on one side of the picture "
        "than on the other, and one length in pixels cannot correct it; give its two ends: "
        "--scale 6in=X,Y-X,Y",
    )


def _doubt(pose: Pose) -> float:
    """Standard deviation of the table's steeper slope: how far from known the tilt is."""
    return float(np.sqrt(np.linalg.eigvalsh(pose.spread[:2, :2])[-1]))


# ── shared ────────────────────────────────────────────────────────────────────────────────


def _stretch(photo: Photo, to_plane: Floats) -> float:
    height, width = photo.pixels.shape[:2]
    corners = ((0, 0), (width, 0), (width, height), (0, height))
    steps = [local_scale(to_plane, np.array(at)) for at in corners]
    return max(steps) / min(steps)


def _warp(photo: Photo, scale: Scale) -> tuple[str, ...]:
    """Say so when the camera was tilted enough to matter."""
    stretch = _stretch(photo, scale.to_inches)
    if stretch < _WARPED:
        return ()
    return (
        f"the camera was tilted: things look {stretch - 1:.0%} larger on one side of the picture "
        "than on the other; sizes are corrected for it",
    )
