"""The road from one photograph to its prints: load, find, correct, measure, cut a swatch."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path, PurePath

import numpy as np

from sequencer.errors import PhotoError
from sequencer.files import fingerprint
from sequencer.inches import round_down, show_inches
from sequencer.keeping.disk.readings import key_of
from sequencer.models import Found, Lab, Print, Rejected, Seen
from sequencer.photo.agreement.agree import PhotoColours
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.taught import Camera
from sequencer.photo.files.load import Photo, load
from sequencer.photo.files.otherwise import doubt_of
from sequencer.photo.files.quality import check_quality
from sequencer.photo.finds.cloth import Cloth, find_cloth
from sequencer.photo.finds.edits import Edit, Numbered, numbered
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import exact_outline
from sequencer.photo.finds.swatch import cut_swatch
from sequencer.photo.reference.marking import marking_in, without
from sequencer.photo.reference.reference import Reference, look_for_reference, unasked
from sequencer.photo.scale.by_hand import card_at
from sequencer.photo.scale.no_scrap import bank_cards
from sequencer.photo.scale.scale import Scale, find_scale
from sequencer.photo.shapes.morphology import diamond, eroded
from sequencer.photo.shapes.shape import (
    Floats,
    Mask,
    few_corners,
    largest_inside,
    rectangle_like,
    sides,
)
from sequencer.prints.measure import Measured, measure_print

_EDGE = 2
_RAGGED = 0.85
_STRAIGHT = 0.92
_MOST_COLOURED = 180.0
"""CIELAB a* or b*: the most saturated optimal colours stay below it (MacAdam 1935, from memory)."""
_CUT_OFF = "cut off by the picture's edge: its size is unknown"


@dataclass(frozen=True)
class Wishes:
    """What was asked of the reading, checked; ``marked``, ``card``: corners of the reference and of
    a bank card, in full-photo pixels; ``camera``: what was taught about the one that took it;
    ``spoilt``: patches of a target, 0 to 23, that take no part.
    """

    shows: str
    reference: str
    scale: str
    strip: Fraction
    edits: tuple[Edit, ...]
    marked: tuple[tuple[float, float], ...] | None = None
    card: tuple[tuple[float, float], ...] | None = None
    camera: Camera | None = None
    spoilt: tuple[int, ...] = ()


@dataclass(frozen=True)
class ReadPhoto:
    """The prints of one photo, not yet named: (number, print), number 0 where it shows one.

    ``found``: what was seen in it beside cloth.
    """

    stem: str
    prints: tuple[tuple[int, Print], ...]
    colours: PhotoColours
    found: Found


@dataclass(frozen=True, eq=False)
class _Looked:
    """What was seen in a photo before anything was corrected by the maker, and ``measured``: what
    was measured of its scraps, by the pixels; None where the photo is not remembered.
    """

    photo: Photo
    reference: Reference | None
    known: list[Floats]
    cloth: Cloth
    scale: Scale | None
    notes: tuple[str, ...]
    late_notes: tuple[str, ...]
    measured: dict[str, Measured] | None = None


class _Last:
    """The photo that was set right last: whoever moves one corner moves another. Others are not
    kept, so that reading many holds no more than before.
    """

    def __init__(self) -> None:
        self._kept: tuple[str, _Looked] | None = None

    def look(self, path: Path, shown: str, wishes: Wishes) -> _Looked:
        """What is seen in the photo by all wishes but the corrections."""
        return self.remembered(path, shown, wishes) if wishes.edits else _look(path, shown, wishes)

    def remembered(self, path: Path, shown: str, wishes: Wishes) -> _Looked:
        """The same from memory, or kept there."""
        try:
            told = path.stat()
        except OSError:
            return _look(path, shown, wishes)
        stamp = (str(path.absolute()), told.st_mtime_ns, told.st_size, told.st_ino)
        key, kept = key_of(stamp, shown, replace(wishes, edits=())), self._kept
        if kept is None or kept[0] != key:
            self._kept = kept = None  # one photo at a time
            self._kept = kept = (key, replace(_look(path, shown, wishes), measured={}))
        return kept[1]


_LAST = _Last()


def look_before(path: Path, wishes: Wishes, name: str) -> None:
    """Remember what is seen in a photo that is about to be set right."""
    with contextlib.suppress(PhotoError):  # whoever sets it right is told
        _read(_LAST.remembered(path, name, wishes), wishes)


def read_one(path: Path, wishes: Wishes, name: str = "") -> ReadPhoto | Rejected:
    """One photo from file to prints, or the reason why not; ``name``: what to call it."""
    shown = name or path.name
    try:
        return _read(_LAST.look(path, shown, wishes), wishes)
    except PhotoError as error:
        return Rejected(shown, error.why)


def _look(path: Path, shown: str, wishes: Wishes) -> _Looked:
    doubt: str | None = None
    try:
        photo = replace(load(path), name=shown, stem=PurePath(shown).stem)
        poor = (*doubt_of(photo), *check_quality(photo))
        marking = marking_in(photo, wishes.marked)
        found, doubt = look_for_reference(photo, wishes.reference, marking, wishes.spoilt)
        reference = without(found, wishes.spoilt)
        known, left_out = _no_cloth(photo, reference, wishes.reference)
        cloth = find_cloth(photo, wishes.shows, known)
        scale, scale_notes = _scale_of(photo, cloth, wishes, reference)
        no_scraps, guesses = bank_cards(photo, cloth.things, scale, _sheet(reference))
        cloth = cloth.without(no_scraps)
        if not cloth.scraps:
            raise PhotoError(photo.name, "nothing but a bank card on the table: no cloth in it")
    except PhotoError as error:
        raise PhotoError(shown, error.why if doubt is None else f"{error.why}; {doubt}") from None
    notes = (*photo.notes, *poor, *filter(None, (doubt, left_out)))
    return _Looked(photo, reference, known, cloth, scale, notes,
                   (*scale_notes, *guesses, *cloth.notes))


def _read(looked: _Looked, wishes: Wishes) -> ReadPhoto:
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
        made = _print(looked, one.scrap, corrected, wishes, own)
        prints.append((one.number if many else 0, made))
    palettes = tuple(one.palette for _, one in prints)
    colours = PhotoColours(
        photo.name, corrected.kind, corrected.doubt.usual, palettes, wishes.shows == "one"
    )
    found = _found(photo, looked.reference, looked.scale, wishes)
    return ReadPhoto(photo.stem, tuple(prints), colours, found)


def _found(
    photo: Photo, reference: Reference | None, scale: Scale | None, wishes: Wishes
) -> Found:
    """Reference and card with their corners in photo pixels, for faces to show."""
    sheet = _sheet(reference)
    by_hand = scale is not None and (scale.source == "marked" or wishes.card is not None)
    told = Seen(scale.source, (), None if by_hand else scale.sure, by_hand) if scale else None
    if told and scale and scale.corners is not None:
        told = replace(told, corners=_in_photo(scale.corners, photo))
    elif told and told.kind == "sheet" and sheet is not None:
        told = replace(told, corners=_in_photo(sheet, photo))
    if reference is None:
        return Found(photo.full_size, None, told)
    odds = None if reference.marked else float(reference.sure)
    corners = _in_photo(reference.polygon, photo)
    return Found(photo.full_size, Seen(reference.kind, corners, odds, reference.marked), told)


def _in_photo(corners: Floats, photo: Photo) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in corners * photo.factor)


def _scale_of(
    photo: Photo, cloth: Cloth, wishes: Wishes, reference: Reference | None
) -> tuple[Scale | None, tuple[str, ...]]:
    """By the card that the maker marked, or what can be found."""
    if wishes.card is not None:
        return card_at(photo, wishes.card), ()
    return find_scale(photo, cloth.things, wishes.scale, _sheet(reference))


def _no_cloth(
    photo: Photo, reference: Reference | None, wanted: str
) -> tuple[list[Floats], str | None]:
    """What is no scrap: the reference, and one that plainly lies there but was not asked for; in
    words where that is another."""
    by_hand = reference is not None and reference.marked
    other, words = (None, None) if by_hand or wanted == "auto" else unasked(photo)
    told = reference is None or (other is not None and other.kind != reference.kind)
    seen = [one.polygon for one in (reference, other) if one is not None]
    return seen, words if told else None


def _sheet(reference: Reference | None) -> Floats | None:
    return reference.polygon if reference is not None and reference.kind == "sheet" else None


def _together(scraps: Sequence[Numbered], shape: tuple[int, int]) -> Mask:
    mask = np.zeros(shape, bool)
    for one in scraps:
        mask |= one.scrap.full_mask(shape)
    return mask


@dataclass(frozen=True, eq=False)
class _Size:
    """``whole``: long and short side in inches, None without scale or where the picture's edge cuts
    the scrap. ``corners`` (4, 2): the largest rectangle inside, in the picture; ``held``: its sides
    in inches where the scrap is ragged.
    """

    whole: tuple[float, float] | None
    corners: Floats
    held: tuple[float, float] | None = None
    warnings: tuple[str, ...] = ()


def _print(
    looked: _Looked,
    scrap: Scrap,
    corrected: Corrected,
    wishes: Wishes,
    notes: tuple[str, ...],
) -> Print:
    photo, scale = looked.photo, looked.scale
    ppi = None if scale is None else scale.ppi(scrap.outline.mean(axis=0))
    lab = corrected.lab_in(scrap.box)
    measured = _measured(looked, lab, _measurable(scrap, corrected), ppi, wishes.strip)
    outline = scrap.outline if scale is None else exact_outline(photo, scrap)
    size = _sized(outline, scrap.cut_off, scale, looked.known)
    _check_possible(photo, [measured.mean_lab, *(one.lab for one in measured.palette)])
    doubt = corrected.uncertainty_of(measured.mean_lab)
    return Print(
        id="",
        name="",
        photo=photo.name,
        outline=_in_photo(few_corners(scrap.outline), photo),
        mean_lab=measured.mean_lab,
        palette=measured.palette,
        spread=measured.spread,
        size_in=size.whole,
        usable_in=size.held,
        reference=corrected.kind,
        uncertainty=doubt.total,
        shared_uncertainty=doubt.shared,
        own_uncertainty=doubt.own,
        warnings=(*notes, *size.warnings, *measured.warnings),
        swatch=cut_swatch(photo, size.corners, lab, scrap, ppi),
    )


def _measured(
    looked: _Looked, lab: Floats, mask: Mask, ppi: float | None, strip: Fraction
) -> Measured:
    """The scrap measured, or as it was measured before: most stay when one is set right."""
    if looked.measured is None:
        return measure_print(lab, mask, ppi, strip)
    key = fingerprint(b"".join((lab.tobytes(), mask.tobytes(), repr((lab.shape, ppi)).encode())))
    if key not in looked.measured:
        looked.measured[key] = measure_print(lab, mask, ppi, strip)
    return looked.measured[key]


def _check_possible(photo: Photo, colours: Sequence[Lab]) -> None:
    """Refuse colours that no cloth has: what was marked as white or grey is neither."""
    if any(max(abs(a), abs(b)) > _MOST_COLOURED for _, a, b in colours):
        raise PhotoError(
            photo.name,
            "if what was taken for white or grey were that, the cloth would have colours that no "
            "cloth has; mark a white sheet or a grey card, or say that there is none",
        )


def _measurable(scrap: Scrap, corrected: Corrected) -> Mask:
    """The scrap's box mask without its edge, where table shines in, and without lost pixels."""
    core = eroded(np.pad(scrap.mask, 1, mode="edge"), diamond(_EDGE))[1:-1, 1:-1]
    for mask in (core & corrected.valid_in(scrap.box), core):
        if mask.sum() > 0.1 * scrap.area:
            return np.asarray(mask)
    return scrap.mask


def _sized(
    outline: Floats, cut_off: bool, scale: Scale | None, known: Sequence[Floats]
) -> _Size:
    """How large a scrap is and what of it is usable, without size where it cannot be known."""
    if scale is None:
        angle = rectangle_like(outline)[2]
        return _Size(None, largest_inside(outline, angle, known))
    laid = scale.inches(outline)
    long, short, angle = rectangle_like(laid)
    usable = largest_inside(laid, angle, [scale.inches(polygon) for polygon in known])
    corners = scale.pixels(usable)
    if cut_off:
        return _Size(None, corners)
    held = sides(usable)
    share = held[0] * held[1] / (long * short)
    if share > _STRAIGHT:
        return _Size((long, short), corners)
    down = " × ".join(show_inches(round_down(Fraction(side))) for side in held)
    warning = f"ragged: the largest rectangle in it is {down} in"
    return _Size((long, short), corners, held, () if share > _RAGGED else (warning,))
