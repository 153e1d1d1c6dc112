"""What cloth a photograph shows: one print that fills it, or many scraps on a table.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.colour import srgb8_to_lab
from sequencer.errors import PhotoError, UsageError
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo
from sequencer.photo.finds.mixed import unlike_parts
from sequencer.photo.finds.scraps import Scrap, as_scrap, find_scraps
from sequencer.photo.finds.table import Floats, Mask, Table, find_table
from sequencer.photo.finds.unlike import mean_colour
from sequencer.photo.shapes.morphology import diamond, dilated
from sequencer.photo.shapes.runs import largest_piece
from sequencer.photo.shapes.shape import area, hull, inside, sides, smallest_rectangle

SHOWS = ("auto", "one", "many")
_FRAME = 0.12
"""Share of the picture's height or width within which a dark frame is looked for."""
_DARK = 14.0
"""L* below which a line of pixels may be a frame."""
_EVEN = 1.5
"""Standard deviation of the table's L* up to which a picture read whole may be a bare table."""
_AROUND, _ALL_AROUND = 0.65, 0.97
"""Share of the border that is table: from which scraps are looked for, and beyond which they may
be alike in colour."""
_STRAIGHT = 0.8
"""Share of their smallest rectangles that scraps fill in the median, at least."""
_MOST_CUT, _MOST_TWINS, _SEVERAL = 0.4, 0.6, 4
"""Share of scraps that the picture's edge cuts, at most; of those that are alike, at most, where
there are several."""
_AROUND_ONE, _LEAST_ONE, _MOSTLY_ONE, _SOLID_ONE = 0.75, 0.08, 0.8, 0.85
"""A single piece with table around it: share of the border that is table, and least shares of the
picture, of all cloth and of its own hull that it covers."""
_BARE, _LAID = 0.9, 0.3
"""Share of the border that is table from which all of it may be one; share of it that things may
cover."""
_DARKER, _ENDS = 0.45, 12.0
"""Share of the picture's lightness below which a line is dark; L* by which a frame ends."""
_AWAY_FROM_REFERENCE, _AWAY_FROM_THINGS = 3, 4
"""Analysis pixels that a reference's edge, and that of things on the table, may reach further."""
_SAME = 7.0
"""CIE76 between mean colours below which two pieces are alike."""
_FEW = 5
"""Things on a print that fills the photo, at most; more are its own figures."""
_EVERY = 4
"""Analysis pixels of a line of which one is looked at for a frame."""


@dataclass(frozen=True, eq=False)
class Cloth:
    """``shows``: one or many. ``scraps``: as found, in reading order; with one, that one.

    ``things``: every piece that stands off the table, sheets and cards among them (none where they
    are a print's own figures). ``table``
    (h, w): True on bare table, None where no table is seen.
    """

    shows: str
    scraps: tuple[Scrap, ...]
    things: tuple[Scrap, ...]
    table: Mask | None
    notes: tuple[str, ...] = ()

    def without(self, polygons: Sequence[Floats]) -> Cloth:
        """The same without scraps that lie mostly in one of ``polygons``: cards, recognised."""
        kept = (s for s in self.scraps if not any(covers(one, s) for one in polygons))
        return replace(self, scraps=tuple(kept))


def find_cloth(photo: Photo, shows: str = "auto", known: Sequence[Floats] = ()) -> Cloth:
    """Find the cloth in a photo; ``known`` polygons (analysis pixels) are no cloth.

    Raises:
        UsageError: ``shows`` is not auto, one or many.
        PhotoError: scraps were asked for and none is there.
    """
    if shows not in SHOWS:
        raise UsageError(f"shows {shows!r} is not known: use one of {', '.join(SHOWS)}")
    pixels = photo.pixels
    table = find_table(pixels, photo.opaque)
    things: list[Scrap] = []
    if table is not None and (shows == "many" or table.border_share >= _AROUND):
        things = find_scraps(pixels, table, photo.opaque)
    scraps = [one for one in things if not any(covers(polygon, one) for polygon in known)]
    guessed = shows == "auto"
    if guessed:
        shows = (
            "many" if table is not None and _looks_many(pixels, scraps, things, table) else "one"
        )
    if shows == "one":
        whole = _only(photo, scraps, table, known)
        bare = None if whole.cut_off else _bare(table, things, pixels.shape)
        beside = things if not whole.cut_off or len(things) <= _FEW else []
        doubts = _doubts(whole, things, table)
        if guessed and not doubts:
            doubts = unlike_parts(pixels[whole.box])
        return Cloth("one", (whole,), tuple(beside), bare, doubts)
    if not scraps:
        raise PhotoError(
            photo.name,
            "no scraps found on a plain table; use --shows one for a photo of one print, or "
            "photograph the scraps on a plain table of another colour",
        )
    return Cloth(
        "many", tuple(in_reading_order(scraps)), tuple(things), _bare(table, things, pixels.shape)
    )


def in_reading_order(scraps: Sequence[Scrap]) -> list[Scrap]:
    """Rows from top to bottom, each from left to right."""
    rest = sorted(scraps, key=lambda one: _centre(one)[1])
    ordered: list[Scrap] = []
    while rest:
        first = rest[0]
        reach = _centre(first)[1] + 0.5 * min(one.mask.shape[0] for one in rest[:1])
        row = [one for one in rest if _centre(one)[1] <= reach]
        ordered += sorted(row, key=lambda one: _centre(one)[0])
        rest = [one for one in rest if _centre(one)[1] > reach]
    return ordered


def _centre(scrap: Scrap) -> Floats:
    return np.asarray((scrap.outline.min(axis=0) + scrap.outline.max(axis=0)) / 2)


def covers(polygon: Floats, scrap: Scrap) -> bool:
    """Whether most of the scrap lies in the polygon."""
    here = np.asarray(polygon) - scrap.corner
    if (here.max(axis=0) < 0).any() or (here.min(axis=0) > scrap.mask.shape[::-1]).any():
        return False
    local = inside(here, scrap.mask.shape)
    return bool((local & scrap.mask).sum() > 0.5 * scrap.area)


# ── one or many ───────────────────────────────────────────────────────────────────────────


def _looks_many(pixels: Pixels, scraps: list[Scrap], things: list[Scrap], table: Table) -> bool:
    """Many: the table runs around, and what lies on it is whole, straight-sided and various.

    A print's own figures are cut by the picture's edge, rounder, and come again and again in the
    same colour.
    """
    if table.border_share < _AROUND or not scraps:
        return False
    straight = float(np.median([_straight(one) for one in scraps]))
    if len(scraps) == 1:
        return len(things) > 1 and straight > _STRAIGHT
    cut = sum(one.cut_off for one in scraps) / len(scraps)
    if cut > _MOST_CUT or straight < _STRAIGHT:
        return False
    if table.border_share > _ALL_AROUND or len(scraps) < _SEVERAL:
        return True
    return _twins(pixels, scraps) <= _MOST_TWINS


def _twins(pixels: Pixels, scraps: list[Scrap]) -> float:
    """Share of pieces whose mean colour another piece has too."""
    means = np.array([mean_colour(pixels[one.box], one.mask) for one in scraps])
    apart = np.linalg.norm(means[:, None] - means, axis=-1)
    np.fill_diagonal(apart, np.inf)
    return float((apart.min(axis=1) < _SAME).mean())


def _straight(scrap: Scrap) -> float:
    """Share of its smallest rectangle that a piece fills: 1 for a rectangle, 0.79 for a disk."""
    long, short = sides(smallest_rectangle(scrap.outline))
    return area(scrap.outline) / max(long * short, 1e-9)


def _only(
    photo: Photo,
    scraps: list[Scrap],
    table: Table | None,
    known: Sequence[Floats],
) -> Scrap:
    """The one print: a single piece with table around it, or the photo less its own margin."""
    shape = photo.pixels.shape[:2]
    cloth = sum(one.area for one in scraps)
    if scraps and table is not None and table.border_share > _AROUND_ONE:
        largest = max(scraps, key=lambda one: one.area)
        solid = largest.area / max(area(hull(largest.outline)), 1)
        if (
            largest.area > _LEAST_ONE * shape[0] * shape[1]
            and largest.area > _MOSTLY_ONE * cloth
            and solid > _SOLID_ONE
        ):
            return largest
    mask = _inside_frame(photo.pixels)
    if photo.opaque is not None:
        mask &= largest_piece(photo.opaque)
    for polygon in known:
        mask &= ~dilated(inside(polygon, shape), diamond(_AWAY_FROM_REFERENCE))
    if not mask.any():
        raise PhotoError(photo.name, "nothing but transparency or a dark frame: no cloth in it")
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return as_scrap(mask[box], (int(columns[0]), int(rows[0])), shape)


def _doubts(whole: Scrap, things: list[Scrap], table: Table | None) -> tuple[str, ...]:
    """Say so when what was read as cloth may be a bare table."""
    if table is None or not whole.cut_off:
        return ()
    if table.border_share < _BARE or table.spread > _EVEN:
        return ()
    if sum(one.area for one in things) > _LAID * whole.area:
        return ()
    return (
        "no scrap stands out, so the whole picture was read as one print; if it shows a bare "
        "table, drop it",
    )


def _inside_frame(pixels: Pixels) -> Mask:
    """The picture without dark bars along its edges (a lens hood, a scanner's lid)."""
    mask = np.ones(pixels.shape[:2], bool)
    for turned in (mask, mask.T):
        across = pixels if turned is mask else pixels.swapaxes(0, 1)
        lines = np.median(srgb8_to_lab(across[:, ::_EVERY])[..., 0], axis=1)
        turned[: _bars(lines)] = False
        turned[len(lines) - _bars(lines[::-1]) :] = False
    return mask


def _bars(lines: Floats) -> int:
    """How many lines at the start are a dark frame: dark, and ended by a jump in lightness."""
    reach = max(2, int(_FRAME * len(lines)))
    level = float(np.median(lines[reach : 2 * reach]))
    dark = lines[:reach] < min(_DARK, _DARKER * level)
    if not dark[0]:
        return 0
    end = int(np.argmin(dark)) if not dark.all() else reach
    return end + 1 if level - float(lines[: max(end, 1)].mean()) > _ENDS else 0


def _bare(table: Table | None, things: Sequence[Scrap], shape: tuple[int, ...]) -> Mask | None:
    """Bare table: a little away from everything on it."""
    if table is None:
        return None
    taken = np.zeros(shape[:2], bool)
    for one in things:
        taken[one.box] |= one.mask
    return np.asarray(~dilated(taken, diamond(_AWAY_FROM_THINGS)))
