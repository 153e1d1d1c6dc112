"""How large things on the table are: from a bank card in the picture or from a marked length."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequencer.errors import UsageError
from sequencer.inches import parse_length
from sequencer.photo.load import Photo
from sequencer.photo.perspective import corners_of, homography, local_scale, project
from sequencer.photo.scraps import Scrap
from sequencer.photo.shape import Floats, area, sides

CARD_IN = (85.60 / 25.4, 53.98 / 25.4)
"""Length and width of an ID-1 card in inches (ISO/IEC 7810:2019, 5.1.1)."""
CARD_RADIUS_IN = 3.18 / 25.4
"""Radius of its rounded corners (ISO/IEC 7810:2019, 5.1.1)."""
_SHEETS_IN = {"letter": (11.0, 8.5), "A4": (297 / 25.4, 210 / 25.4), "A5": (210 / 25.4, 148 / 25.4)}


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


def find_scale(
    photo: Photo,
    things: Sequence[Scrap],
    wanted: str = "auto",
    sheet: Floats | None = None,
) -> tuple[Scale | None, tuple[str, ...]]:
    """The scale ``wanted`` (auto, bankcard, or LENGTH=PIXELS of the photo), and warnings.

    ``things``: what stands off the table. ``sheet``: corners of a white sheet, if one was found.

    Raises:
        UsageError: ``wanted`` is none of these.
    """
    if wanted not in ("auto", "bankcard"):
        return _marked(photo, wanted), ()
    cards = [card for card in (_as_card(one) for one in things) if card is not None]
    if len(cards) == 1:
        return Scale(homography(cards[0], _card_inches(cards[0])), "bankcard", cards[0]), ()
    if wanted == "bankcard":
        why = "several things look like a bank card" if cards else "no bank card was found"
        return None, (f"{why}; sizes are unknown. Give a length instead: --scale 6in=PIXELS",)
    return None, ()


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


def _as_card(thing: Scrap) -> Floats | None:
    """The corners of a thing that has a bank card's shape: ratio, straight sides, round corners."""
    if thing.cut_off:
        return None
    corners = corners_of(thing.outline)
    if corners is None:
        return None
    long, short = sides(corners)
    ratio = long / max(short, 1e-9) / (CARD_IN[0] / CARD_IN[1])
    fill = area(thing.outline) / max(area(corners), 1e-9)
    if not 0.93 < ratio < 1.07 or not 0.97 < fill < 1.01:
        return None
    radius = _corner_radius(thing.outline, corners) / short * CARD_IN[1]
    return corners if 0.4 < radius / CARD_RADIUS_IN < 1.8 else None


def _corner_radius(outline: Floats, corners: Floats) -> float:
    """Median radius of the four corners: the outline passes (√2 - 1) r from a corner."""
    gaps = [float(np.min(_distance(outline, corner))) for corner in corners]
    return float(np.median(gaps)) / (np.sqrt(2) - 1)


def _distance(outline: Floats, point: Floats) -> Floats:
    """From a point to each side of the closed outline."""
    start, step = outline, np.roll(outline, -1, axis=0) - outline
    along = ((point - start) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-12)
    nearest = start + np.clip(along, 0, 1)[:, None] * step
    return np.asarray(np.linalg.norm(nearest - point, axis=1))


def _card_inches(corners: Floats) -> Floats:
    """The card's corners in inches, in the order of ``corners``, first side long or short."""
    first = np.linalg.norm(corners[1] - corners[0]) + np.linalg.norm(corners[3] - corners[2])
    second = np.linalg.norm(corners[2] - corners[1]) + np.linalg.norm(corners[0] - corners[3])
    width, height = CARD_IN if first >= second else CARD_IN[::-1]
    return np.array([[0, 0], [width, 0], [width, height], [0, height]])
