"""How large things on the table are: from a bank card in the picture or from a marked length."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequencer.errors import UsageError
from sequencer.inches import parse_length
from sequencer.photo.edges import corner_radius, refined_corners
from sequencer.photo.load import Photo
from sequencer.photo.perspective import (
    corners_of,
    homography,
    local_scale,
    project,
    without_convergence,
)
from sequencer.photo.scraps import Scrap
from sequencer.photo.shape import Floats, area, sides

CARD_IN = (85.60 / 25.4, 53.98 / 25.4)
"""Length and width of an ID-1 card in inches (ISO/IEC 7810:2019, 5.1.1)."""
CARD_RADIUS_IN = 3.18 / 25.4
"""Radius of its rounded corners (ISO/IEC 7810:2019, 5.1.1)."""
SHEETS_IN = {"letter": (11.0, 8.5), "A4": (297 / 25.4, 210 / 25.4), "A5": (210 / 25.4, 148 / 25.4)}
"""Paper: ANSI/ASME Y14.1 size A, and ISO 216."""
_BY_SHEET = 0.03
_BY_SHAPE = 0.05
_ROUND = (0.68, 1.3)
_WARPED = 1.06
_CARD_TRUE, _SHEET_TRUE, _SCRAP_TRUE = 0.0012, 0.0005, 0.012
"""How far from parallel opposite sides are measured or cut, in radians."""


@dataclass(frozen=True, eq=False)
class Scale:
    """``to_inches`` (3, 3): analysis pixels → inches on the table. ``source``: bankcard or marked.

    ``corners`` (4, 2): the card in analysis pixels, None for a marked length.
    """

    to_inches: Floats
    source: str
    corners: Floats | None = None

    def ppi(self, point: Floats) -> float:
        """Analysis pixels for an inch of cloth at a point of the picture."""
        return 1.0 / local_scale(self.to_inches, point)

    def inches(self, points: Floats) -> Floats:
        """Points of the analysis picture (n, 2) as inches on the table."""
        return project(self.to_inches, points)

    def pixels(self, points: Floats) -> Floats:
        """Points on the table in inches (n, 2) as points of the analysis picture."""
        return project(np.linalg.inv(self.to_inches), points)


def find_scale(
    photo: Photo,
    things: Sequence[Scrap],
    wanted: str = "auto",
    sheet: Floats | None = None,
) -> tuple[Scale | None, tuple[str, ...]]:
    """The scale ``wanted`` (auto, bankcard, or LENGTH=PIXELS of the photo), and warnings.

    ``things``: what stands off the table. ``sheet``: corners of a white sheet, if one was found.
    A card is taken when its shape and round corners say so, or its size beside a sheet of a known
    format does; when several things could be one, none is taken and the warning asks.

    Raises:
        UsageError: ``wanted`` is none of these.
    """
    if wanted not in ("auto", "bankcard"):
        return _marked(photo, wanted), ()
    roughs = [rough for rough in (_rough(one) for one in things) if rough is not None]
    quads = [quad for quad in (_quad(photo, rough) for rough in roughs) if quad is not None]
    flat = None if sheet is None else _refined(photo, _nearest(sheet, roughs))
    rated = sorted((_likeness(photo, quad, flat), k) for k, quad in enumerate(quads))
    fitting = [(rate, quads[k]) for rate, k in rated if rate < 1.0]
    if fitting and (len(fitting) == 1 or fitting[1][0] - fitting[0][0] > 0.3):
        scale = _from_card(photo, fitting[0][1], flat, roughs)
        return scale, _warp(photo, scale)
    if fitting:
        return None, (
            f"{len(fitting)} things look like a bank card, so none was taken and sizes are "
            "unknown; leave one in the picture, or give a length: --scale 6in=PIXELS",
        )
    if wanted == "bankcard":
        return None, (
            "no bank card was found, so sizes are unknown; give a length instead: "
            "--scale 6in=PIXELS",
        )
    return None, ()


def _rough(thing: Scrap) -> Floats | None:
    """Corners of a whole thing with four straight sides."""
    if thing.cut_off:
        return None
    rough = corners_of(thing.outline)
    if rough is None or not 0.96 < area(thing.outline) / max(area(rough), 1e-9) < 1.03:
        return None
    return rough


def _nearest(sheet: Floats, roughs: Sequence[Floats]) -> Floats:
    """The sheet's corners as its own outline has them, where that was found."""
    size = np.sqrt(area(sheet))
    for rough in roughs:
        apart = np.linalg.norm(rough[:, None] - sheet[None], axis=-1).min(axis=0)
        if apart.max() < 0.1 * size:
            return rough
    return sheet


def _quad(photo: Photo, rough: Floats) -> Floats | None:
    """The corners to a fraction of a pixel, if their shape is a card's, roughly."""
    long, short = sides(rough)
    if abs(np.log(long / max(short, 1e-9) / (CARD_IN[0] / CARD_IN[1]))) > 2 * _BY_SHAPE:
        return None
    return _refined(photo, rough)


def _refined(photo: Photo, corners: Floats) -> Floats | None:
    pixels, factor = photo.finest
    found = refined_corners(pixels, np.asarray(corners) * photo.factor / factor)
    return None if found is None else found * factor / photo.factor


def _likeness(photo: Photo, quad: Floats, sheet: Floats | None) -> float:
    """How unlike a bank card four corners are: 0 is one, 1 and more is none.

    By its corners' radius and its ratio; or by its size beside a sheet of a known format.
    """
    pixels, factor = photo.finest
    long, short = sides(quad)
    ratio = abs(np.log(long / short / (CARD_IN[0] / CARD_IN[1]))) / _BY_SHAPE
    finer = photo.factor / factor
    radius = (corner_radius(pixels, quad * finer) - 1.0) / (short * finer) * CARD_IN[1]
    roundness = radius / CARD_RADIUS_IN
    is_round = _ROUND[0] < roundness < _ROUND[1]
    by_sheet = (
        min(
            (_misfit(quad, sheet, size) for size in SHEETS_IN.values())
            if sheet is not None
            else [9.0],
        )
        / _BY_SHEET
    )
    if is_round:
        return float(min(ratio, by_sheet)) * 0.7
    return float(max(0.4, by_sheet)) if ratio < 2 else 9.0


def _misfit(quad: Floats, sheet: Floats, size: tuple[float, float]) -> float:
    """Largest relative error of the card's sides if the sheet has this size."""
    seen = project(homography(sheet, _laid(sheet, size)), quad)
    long, short = sides(seen)
    return float(max(abs(np.log(long / CARD_IN[0])), abs(np.log(short / CARD_IN[1]))))


def _from_card(photo: Photo, card: Floats, sheet: Floats | None, others: Sequence[Floats]) -> Scale:
    """Lengths and angles are the card's; how lines converge is seen on everything with four
    straight sides, most surely on a sheet, whose corners lie far apart."""
    quads = [(card, _CARD_TRUE)] + ([] if sheet is None else [(sheet, _SHEET_TRUE)])
    quads += [(corners, _SCRAP_TRUE) for corners in others]
    height, width = photo.pixels.shape[:2]
    even = without_convergence(quads, float(np.hypot(height, width)) / 2)
    design = np.column_stack([project(even, card), np.ones(4)])
    affine = np.linalg.lstsq(design, _laid(card, CARD_IN), rcond=None)[0].T
    return Scale(np.vstack([affine, [0, 0, 1]]) @ even, "bankcard", card)


def _warp(photo: Photo, scale: Scale) -> tuple[str, ...]:
    """Say so when the camera was tilted enough to matter."""
    height, width = photo.pixels.shape[:2]
    ppi = [scale.ppi(np.array(at)) for at in ((0, 0), (width, 0), (width, height), (0, height))]
    stretch = max(ppi) / min(ppi)
    if stretch < _WARPED:
        return ()
    return (
        f"the camera was tilted: things look {stretch - 1:.0%} larger on one side of the picture "
        "than on the other; sizes are corrected for it",
    )


def check_scale(wanted: str) -> None:
    """Refuse a ``wanted`` scale that cannot be understood.

    Raises:
        UsageError: neither auto, bankcard nor LENGTH=PIXELS.
    """
    if wanted not in ("auto", "bankcard"):
        _inches_per_pixel(wanted)


def _inches_per_pixel(wanted: str) -> float:
    found = re.fullmatch(r"\s*(.+?)\s*=\s*(\d+(?:\.\d+)?)\s*(?:px)?\s*", wanted)
    if not found:
        raise UsageError(
            f"scale '{wanted}' is not known: use auto, bankcard, or a length and the photo pixels "
            "it spans, like 6in=1450"
        )
    length, pixels = float(parse_length(found[1])), float(found[2])
    if length <= 0 or pixels <= 0:
        raise UsageError(f"scale '{wanted}': the length and the pixels must be more than zero")
    return length / pixels


def _marked(photo: Photo, wanted: str) -> Scale:
    step = _inches_per_pixel(wanted) * photo.factor
    return Scale(np.diag([step, step, 1.0]), "marked")


def _laid(corners: Floats, size: tuple[float, float]) -> Floats:
    """Corners of a rectangle of ``size`` in the order of ``corners``, long side to long side."""
    first = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[3] - corners[2])
    second = np.linalg.norm(corners[2] - corners[1]) + np.linalg.norm(corners[0] - corners[3])
    width, height = size if first >= second else size[::-1]
    return np.array([[0, 0], [width, 0], [width, height], [0, height]])
