"""The bank card in a photograph: what looks like one, and how surely.

A card of format ID-1 is told by what nothing else on a sewing table has together: straight sides in
its ratio as the camera saw them, corners of one radius, and a size at which the rest of the picture
is neither a doll's nor a giant's. Each speaks in log odds, added up (Good 1950).
Constants without a source are by hand, never fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import four_corners, straight, straighten
from sequencer.photo.scale.around import SHEETS_IN, Around, equivalent, laid
from sequencer.photo.scale.pose import Pose, Seen, table_pose
from sequencer.photo.shapes.edges import corner_roundness, refined_sides
from sequencer.photo.shapes.perspective import project
from sequencer.photo.shapes.shape import Floats, area, sides

CARD_IN = (85.60 / 25.4, 53.98 / 25.4)
"""Length and width of an ID-1 card in inches (ISO/IEC 7810:2019, 5.1.1)."""
CARD_RADIUS_IN = 3.18 / 25.4
"""Radius of its rounded corners (ISO/IEC 7810:2019, 5.1.1)."""
RATIO_SEEN = 0.3
"""Log of how far a card's side ratio may seem off, seen from 25° and at the picture's edge."""
_CUT_CORNERS, _CUT_CORNERS_CLEAR = (1.015, 1.22), (1.03, 1.22)
"""What a card covers over the quadrilateral that its rounded outline holds: 1.06, more or less. In
photos of few pixels outlines follow the blocks of a JPEG; reduced ones are clear of them."""
_FILLED = (0.93, 1.16)
"""The same over the quadrilateral of its sides drawn on until they meet."""
_SMALLEST = 14.0  # analysis pixels of the short side
_STRAY = 0.5  # pixels of the finest picture that the edge strays from its sides, in the median
_NOT_ROUND = -4.5  # log odds of the corners below which nothing is looked at further
_NORMALS = 72  # places on each side for the last and closest look
_TAIL = 3.0  # log odds up to which a misfit counts in full, about; beyond, by its logarithm
_EXACT = 0.0012  # share of its sides, and radians of its angles, that a card is off
_PIXEL_OFF = 0.15  # pixels of the finest picture that its corners are off
_FORMAT_OFF, _FORMAT_SLACK = 0.03, 0.0025
"""Log of sides up to which paper beside a card is of a format; share that its own sides are off."""
_FAR_OFF = -4.0  # log odds below asking at which paper beside it cannot make it one
_ALL_FOUR_SEEN, _BY_CHANCE = 0.8, 0.03
"""Shares of cards, and of other things of such a shape, whose four sides are seen: a guess."""
_BY_ITS_SIZE = 3.0  # log odds that paper of a known format beside it adds
_SAME_PLACE = 0.2  # share of the root of its area within which the sheet's middle is its own
_LEAST_SIZE = -12.0  # log odds that size alone takes at most
_OTHER_PAPER, _OTHER_SIZE = -1.0, -5.0
"""Log odds of a card beside paper of an odd shape, and beside a letter or A sheet of a size that
does not exist."""
SHAPES = np.log([11 / 8.5, 2**0.5])
"""Log of the side ratios of letter paper and of the A series of ISO 216."""
_ROUND_OFF, _ROUND_PIXELS, _ROUND_SPAN = 0.1, 1.2, 4.0
"""Scatter of corners' roundness (1: a card's) however large they are, pixels that over their radius
scatter it too, and the span over which strays lie evenly."""
_CARD_STRAYS, _SQUARE_STRAYS, _RAGGED, _RAGGED_OFF = 0.05, 0.1, 0.1, 1.2
"""Share of a card's and of square corners that read as anything, of things that are ragged, and how
far those scatter: by hand, on 59 cards and 717 other shapes of simulated photos (benchmarks/photo/
finding seeds 62000 and 63000 on)."""
_WIDE_IN, _WIDE_OFF = 27.0, 0.5
"""Inches of table that a photo shows, and their spread in natural logarithms: a guess."""
ODD_SIZE = -2.5
"""Log odds of size at which shape alone convinces no more: table of under 9 or over 83 in."""
SURE, LIKELY, PERHAPS = 2.0, 0.0, -1.0
"""Log odds from which a card is taken unasked, is no scrap, and from which its finder asks."""


@dataclass(frozen=True, eq=False)
class Card:
    """What may be a card: ``corners`` (4, 2) in analysis pixels, log ``odds``, the pose it gives.

    ``size``: log odds that its size alone gives, 0 or less. ``sheet``: name of the paper whose
    known sides helped, if one lay there.
    """

    corners: Floats
    odds: float
    pose: Pose
    size: float
    sheet: str | None = None


Shape = tuple[Floats, float]
"""Corners (4, 2) in analysis pixels, and log odds of a card from how round they are."""


def cards(photo: Photo, shapes: Sequence[Shape], around: Around, prior: float) -> list[Card]:
    """Which of the shapes may be a card, likeliest first; ``prior``: log odds of any being one."""
    found = []
    for quad, odds in shapes:
        pose, cost, size = with_card(photo, quad, around)
        told = prior + odds - _TAIL * np.log1p(cost / _TAIL) + size
        told += np.log(_ALL_FOUR_SEEN / _BY_CHANCE)
        one = Card(quad, told, pose, size)
        if told > PERHAPS + _FAR_OFF and around.sheet is not None:
            one = beside_sheet(photo, one, around)
        found.append(one)
    return sorted(found, key=lambda one: -one.odds)


def card_shapes(photo: Photo, things: Sequence[Scrap]) -> list[Shape]:
    """What has a card's sides and does not have square corners."""
    pixels = photo.finest[0]
    cut = _CUT_CORNERS_CLEAR if photo.factor >= 2 else _CUT_CORNERS
    found = []
    likely = [
        thing for thing in things
        if (rough := four_corners(thing)) is not None
        and _like_a_card(rough, area(thing.outline), cut)
    ]  # fmt: skip
    straighten(photo, likely)
    for thing in likely:
        one = straight(photo, thing)
        if one is None or np.median(one.sides.stray) > _STRAY:
            continue
        if _like_a_card(one.corners, area(thing.outline), _FILLED):
            quad = one.sides.corners
            radius = CARD_RADIUS_IN / CARD_IN[1] * sides(quad)[1]
            odds = roundness_odds(corner_roundness(pixels, quad, _radius(quad)), radius)
            if odds > _NOT_ROUND:
                closer = refined_sides(pixels, quad, rounds=1, normals=_NORMALS)
                found.append((one.corners if closer is None else closer.corners / one.finer, odds))
    return found


def _like_a_card(corners: Floats, covered: float, share: tuple[float, float]) -> bool:
    long, short = sides(corners)
    if short < _SMALLEST or not share[0] < covered / max(area(corners), 1e-9) < share[1]:
        return False
    return bool(abs(np.log(long / short / (CARD_IN[0] / CARD_IN[1]))) < RATIO_SEEN)


def _radius(corners: Floats) -> tuple[float, float]:
    """The corner radius as a share of the first and the second side."""
    size = laid(corners, CARD_IN)[2]
    return CARD_RADIUS_IN / float(size[0]), CARD_RADIUS_IN / float(size[1])


def roundness_odds(roundness: Floats, radius: float) -> float:
    """Log odds of a card from its corners' roundness (n,), 1 where it is a card's.

    Corners of paper and cloth are mostly square (0), each now and then anything; where a print's
    own figures meet its sides they stray all together, about a card's as well. A card's are alike
    (1), the more surely the more pixels their ``radius`` has.
    """
    off = float(np.hypot(_ROUND_OFF, _ROUND_PIXELS / max(radius, 1.0)))

    def near(middle: float, spread: float, strays: float) -> float:
        bell = np.exp(-0.5 * ((roundness - middle) / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
        return float(np.log((1 - strays) * bell + strays / _ROUND_SPAN).sum())

    square = np.log(1 - _RAGGED) + near(0.0, off, _SQUARE_STRAYS)
    ragged = np.log(_RAGGED) + near(1.0, _RAGGED_OFF, _SQUARE_STRAYS)
    return near(1.0, off, _CARD_STRAYS) - float(np.logaddexp(square, ragged))


def with_card(photo: Photo, quad: Floats, around: Around) -> tuple[Pose, float, float]:
    """The pose if this is a card, how much worse everything fits than if it were none, and the log
    odds that its size alone gives."""
    rest = around.without(quad)
    seen = as_card(photo, quad)
    shape, lens = photo.pixels.shape, equivalent(photo)
    plain = replace(seen, sides=None, sure=False)
    pose = table_pose((seen, *rest), shape, lens)
    worse = pose.cost - table_pose((plain, *rest), shape, lens).cost
    return pose, max(worse, 0.0), plausible_width(pose, shape)


def as_card(photo: Photo, quad: Floats) -> Seen:
    """Corners taken for a card's, with its exact sides."""
    first, second = laid(quad, CARD_IN)[2]
    blur = _PIXEL_OFF * photo.finest[1] / photo.factor
    return Seen(quad, _EXACT, blur, (float(first), float(second)), _EXACT, sure=True)


def plausible_width(pose: Pose, shape: tuple[int, ...]) -> float:
    """Log odds from how much table the picture then shows: a doll's table or a floor is unlikely.

    That people photograph about 27 in of table, give or take a half, is a guess from experience.
    """
    wide = max(width_seen(pose, shape), 1e-6)
    return float(max(-0.5 * (np.log(wide / _WIDE_IN) / _WIDE_OFF) ** 2, _LEAST_SIZE))


def width_seen(pose: Pose, shape: tuple[int, ...]) -> float:
    """Inches of table along the picture's longer middle line, from a scale at its middle."""
    height, width = shape[:2]
    middle = np.array([[width / 2, height / 2]]) + np.array([[-1.0, 0], [1, 0], [0, -1], [0, 1]])
    there = project(pose.to_plane, middle)
    across, down = there[1] - there[0], there[3] - there[2]
    size = np.sqrt(abs(across[0] * down[1] - across[1] * down[0])) / 2
    return float(size * max(height, width))


def beside_sheet(photo: Photo, card: Card, around: Around) -> Card:
    """A sheet of a known format confirms the card, and its long sides make the scale surer."""
    sheet = around.sheet
    if sheet is None or np.linalg.norm(
        sheet.corners.mean(axis=0) - card.corners.mean(axis=0)
    ) < _SAME_PLACE * np.sqrt(area(card.corners)):
        return card
    there = project(card.pose.to_plane, sheet.corners)
    seen = np.array(sides(there))
    off = {name: float(np.abs(np.log(seen / size)).max()) for name, size in SHEETS_IN.items()}
    name = min(off, key=lambda one: off[one])
    if off[name] > _FORMAT_OFF:
        usual = np.abs(np.log(seen[0] / seen[1]) - SHAPES).min() < _FORMAT_OFF / 2
        return replace(card, odds=card.odds + (_OTHER_SIZE if usual else _OTHER_PAPER))
    first, second = laid(sheet.corners, SHEETS_IN[name])[2]
    known = replace(sheet, sides=(float(first), float(second)), slack=_FORMAT_SLACK)
    rest = [known if one is sheet else one for one in around.without(card.corners)]
    pose = table_pose((as_card(photo, card.corners), *rest), photo.pixels.shape, equivalent(photo))
    return replace(card, odds=card.odds + _BY_ITS_SIZE, pose=pose, sheet=name)
