"""The colour of a spot in a photograph, with its ±: one point, not a print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sequencer import doors
from sequencer.errors import PhotoError, UsageError
from sequencer.models import Json, Lab
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.exposure import shows_several
from sequencer.photo.files.load import Photo, load
from sequencer.photo.reference.marking import marked_corners, marking_in, patch_numbers, without
from sequencer.photo.reference.reference import Reference, look_for_reference
from sequencer.reading.cameras import chosen

_FINE = 0.5
"""Share of a spot that must be neither blown out nor lighter than a perfect diffuser (chosen)."""
_HIDDEN = 40.0
"""± at least where it is not: anything from white to a middle grey may lie under glare (chosen)."""


@dataclass(frozen=True)
class Spot:
    """``at``: x, y in pixels of the upright photo. ``lab``: mean CIELAB, D65, 2°.

    ``uncertainty``: ΔE00 that the true colour stays within about nine times in ten.
    """

    at: tuple[float, float]
    lab: Lab
    uncertainty: float

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "at": [round(one, 2) for one in self.at],
            "lab": [round(one, 4) for one in self.lab],
            "uncertainty": round(self.uncertainty, 3),
        }


class Spots(list[Spot]):
    """The colours of one photo's spots, in the order asked for.

    ``reference``: sheet, grey, target or none. ``camera``: the taught one they were read by.
    ``notes``: what is doubtful.
    """

    def __init__(
        self, photo: str, reference: str, points: Iterable[Spot], camera: str | None = None,
        notes: tuple[str, ...] = (),
    ) -> None:
        super().__init__(points)
        self.photo, self.reference, self.camera, self.notes = photo, reference, camera, notes

    def to_json(self) -> Json:
        """Document ``passalong.colours/1``."""
        return {
            "schema": "passalong.colours/1",
            "photo": self.photo,
            "reference": self.reference,
            "camera": self.camera,
            "points": [one.to_json() for one in self],
            "notes": list(self.notes),
        }


def colours_at(
    photo: str | Path,
    points: Sequence[Sequence[float]],
    reference: str = "auto",
    marked: Sequence[Sequence[float]] | None = None,
    camera: str = "auto",
    without_patches: Sequence[int] = (),
    radius: float = 4,
) -> Spots:
    """The colours at ``points`` of a photo, x and y in pixels of the photo turned upright.

    ``reference``: auto, sheet, grey, grey=L (a card of that L*), target or none. ``marked``: its
    corners, two opposite or four in order. ``camera``: a phone taught under that name, auto or
    none. ``without_patches``: patches of a target, 1 to 24 row by row, that take no part. Each
    colour is the mean of CIELAB over a disc of ``radius`` pixels, lost highlights left out.

    Raises:
        UsageError: an argument cannot be understood.
        PhotoError: the photo cannot be used, a point lies outside it, or a reference asked for by
            name is not there.
    """
    corners = marked_corners(marked, reference)
    spoilt = patch_numbers(without_patches)
    asked = _points(points)
    if not (isinstance(radius, Real) and 0 <= float(radius) < float("inf")):
        raise UsageError(f"radius {radius} is not a number of pixels of 0 or more")
    place = doors.path("photo", photo)
    doors.word("camera", camera)
    seen = load(place)
    _inside(seen, asked)
    known, notes = _reference(seen, reference, corners, spoilt)
    # A spot is not told from a table: all that is smooth in the picture bears witness to the light,
    # and a photo that seems to show one print only is not lifted.
    shows_table = known is not None or shows_several(seen.pixels)
    everywhere = np.full(seen.pixels.shape[:2], shows_table)
    taken_by = chosen(place, camera)
    corrected = correct(seen, known, everywhere, camera=taken_by)
    fine, factor = seen.finest
    full = replace(corrected, seen=fine)
    discs = [_disc(full, at, radius, factor) for at in asked]
    spots = [_spot(full, at, disc) for at, disc in zip(asked, discs, strict=True)]
    used = taken_by.name if taken_by is not None and corrected.by_lessons else None
    lost = _lost([at for at, disc in zip(asked, discs, strict=True) if disc.lost])
    return Spots(
        seen.name, corrected.kind, spots, used, (*seen.notes, *notes, *corrected.warnings, *lost)
    )


# ── what was asked ────────────────────────────────────────────────────────────────────────


def _points(points: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
    try:
        asked = [(float(x), float(y)) for x, y in points]
    except (TypeError, ValueError):
        raise UsageError(f"the points {points!r} are not pairs of x and y") from None
    if not asked or not np.isfinite(asked).all():
        raise UsageError("name at least one point, as x,y in pixels of the photo turned upright")
    return asked


def _inside(photo: Photo, points: Sequence[tuple[float, float]]) -> None:
    width, height = photo.full_size
    for x, y in points:
        if not (0 <= x <= width and 0 <= y <= height):
            raise PhotoError(
                photo.name,
                f"the point {x:g},{y:g} lies outside this photo of {width} × {height} pixels",
            )


# ── the photo ─────────────────────────────────────────────────────────────────────────────


def _reference(
    photo: Photo,
    wanted: str,
    corners: tuple[tuple[float, float], ...] | None,
    spoilt: list[int],
) -> tuple[Reference | None, tuple[str, ...]]:
    found, doubt = look_for_reference(photo, wanted, marking_in(photo, corners), spoilt)
    if found is None and wanted not in ("auto", "none"):
        raise PhotoError(photo.name, doubt or "the reference was not found; mark its corners")
    if spoilt and (found is None or found.kind != "target"):
        raise UsageError("patches can only be left out of a 24-patch target, and none was found")
    return without(found, spoilt), () if doubt is None else (doubt,)


@dataclass(frozen=True, eq=False)
class _Disc:
    """Pixels of a spot: the ``box`` around it, which of that count, and whether they are lost."""

    box: tuple[slice, slice]
    counted: NDArray[np.bool_]
    lost: bool


def _disc(seen: Corrected, at: tuple[float, float], radius: float, factor: float) -> _Disc:
    x, y = at[0] / factor, at[1] / factor
    reach = max(radius / factor, 0.5)
    height, width = seen.seen.shape[:2]
    rows = slice(max(0, min(int(y - reach), height - 1)), min(height, int(y + reach) + 1))
    columns = slice(max(0, min(int(x - reach), width - 1)), min(width, int(x + reach) + 1))
    down = np.arange(rows.start, rows.stop)[:, None] + 0.5 - y
    across = np.arange(columns.start, columns.stop)[None] + 0.5 - x
    apart = down**2 + across**2
    disc = apart <= max(reach**2, float(apart.min()))
    fine = disc & seen.valid_in((rows, columns))
    lost = bool(fine.sum() < _FINE * disc.sum())
    return _Disc((rows, columns), fine if fine.any() else disc, lost)


def _spot(seen: Corrected, at: tuple[float, float], disc: _Disc) -> Spot:
    lab = seen.lab_in(disc.box)[disc.counted].mean(axis=0)
    mean = (float(lab[0]), float(lab[1]), float(lab[2]))
    stated = seen.uncertainty_of(mean).total
    return Spot(at, mean, max(stated, _HIDDEN) if disc.lost else stated)


def _lost(points: Sequence[tuple[float, float]]) -> tuple[str, ...]:
    if not points:
        return ()
    where = " ".join(f"{x:g},{y:g}" for x, y in points)
    return (
        f"overexposed at {where}: how light it is and what colour cannot be told from this photo",
    )
