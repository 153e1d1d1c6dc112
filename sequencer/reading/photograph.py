"""The road from one photograph to its prints: load, find, correct, measure, cut a swatch."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sequencer.errors import PhotoError
from sequencer.models import Found, Print, Rejected
from sequencer.photo.agreement.agree import PhotoColours
from sequencer.photo.colour.correct import correct
from sequencer.photo.finds.edits import Numbered, numbered
from sequencer.photo.shapes.shape import Mask
from sequencer.reading import seen
from sequencer.reading.scrap import print_of
from sequencer.reading.seen import Looked, Wishes

_CUT_OFF = "cut off by the picture's edge: its size is unknown"


@dataclass(frozen=True)
class ReadPhoto:
    """The prints of one photo, not yet named: (number, print), number 0 where it shows one.

    ``found``: what was seen in it beside cloth.
    """

    stem: str
    prints: tuple[tuple[int, Print], ...]
    colours: PhotoColours
    found: Found


def look_before(path: Path, wishes: Wishes, name: str) -> None:
    """Remember what is seen in a photo that is about to be set right."""
    with contextlib.suppress(PhotoError):  # whoever sets it right is told
        _read(seen.LAST.remembered(path, name, wishes), wishes)


def read_one(path: Path, wishes: Wishes, name: str = "") -> ReadPhoto | Rejected:
    """One photo from file to prints, or the reason why not; ``name``: what to call it."""
    shown = name or path.name
    try:
        return _read(seen.LAST.look(path, shown, wishes), wishes)
    except PhotoError as error:
        return Rejected(shown, error.why)


def _read(looked: Looked, wishes: Wishes) -> ReadPhoto:
    photo, cloth = looked.photo, looked.cloth
    mine = [edit for edit in wishes.edits if edit.photo == photo.name]
    shape = photo.pixels.shape[:2]
    scraps, lost = numbered(cloth.scraps, mine, photo.factor, shape)
    corrected = correct(
        photo, looked.reference, cloth.table, _together(scraps, shape), wishes.camera
    )
    notes = (*looked.notes, *corrected.warnings, *looked.late_notes, *lost)
    many = len(cloth.scraps) > 1 or len(scraps) > 1
    prints = []
    for one in scraps:
        own = (*notes, _CUT_OFF) if one.scrap.cut_off and cloth.shows == "many" else notes
        made = print_of(looked, one.scrap, corrected, wishes, own)
        prints.append((one.number if many else 0, made))
    palettes = tuple(one.palette for _, one in prints)
    colours = PhotoColours(
        photo.name, corrected.kind, corrected.doubt.usual, palettes, wishes.shows == "one"
    )
    found = seen.found_in(looked, wishes)
    return ReadPhoto(photo.stem, tuple(prints), colours, found)


def _together(scraps: Sequence[Numbered], shape: tuple[int, int]) -> Mask:
    mask = np.zeros(shape, bool)
    for one in scraps:
        mask |= one.scrap.full_mask(shape)
    return mask
