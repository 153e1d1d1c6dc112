"""What is seen in one photograph, and the photograph set right last, which is remembered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path, PurePath

from sequencer.errors import PhotoError
from sequencer.keeping.disk.readings import key_of
from sequencer.models import Found, Seen
from sequencer.photo.colour.taught import Camera
from sequencer.photo.files.load import Photo, load
from sequencer.photo.files.otherwise import doubt_of
from sequencer.photo.files.quality import check_quality
from sequencer.photo.finds.cloth import Cloth, find_cloth
from sequencer.photo.finds.edits import Edit
from sequencer.photo.reference.marking import marking_in, without
from sequencer.photo.reference.reference import Reference, look_for_reference, unasked
from sequencer.photo.scale.by_hand import card_at
from sequencer.photo.scale.no_scrap import bank_cards
from sequencer.photo.scale.scale import Scale, find_scale
from sequencer.photo.shapes.shape import Floats
from sequencer.prints.measure import Measured


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


@dataclass(frozen=True, eq=False)
class Looked:
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


class Last:
    """The photo that was set right last: whoever moves one corner moves another. Others are not
    kept, so that reading many holds no more than before.
    """

    def __init__(self) -> None:
        self._kept: tuple[str, Looked] | None = None

    def look(self, path: Path, shown: str, wishes: Wishes) -> Looked:
        """What is seen in the photo by all wishes but the corrections."""
        return self.remembered(path, shown, wishes) if wishes.edits else _look(path, shown, wishes)

    def remembered(self, path: Path, shown: str, wishes: Wishes) -> Looked:
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


LAST = Last()


def _look(path: Path, shown: str, wishes: Wishes) -> Looked:
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
    return Looked(photo, reference, known, cloth, scale, notes,
                  (*scale_notes, *guesses, *cloth.notes))


def found_in(looked: Looked, wishes: Wishes) -> Found:
    """Reference and card with their corners in photo pixels, for faces to show."""
    photo, reference, scale = looked.photo, looked.reference, looked.scale
    sheet = _sheet(reference)
    by_hand = scale is not None and (scale.source == "marked" or wishes.card is not None)
    told = Seen(scale.source, (), None if by_hand else scale.sure, by_hand) if scale else None
    if told and scale and scale.corners is not None:
        told = replace(told, corners=in_photo(scale.corners, photo))
    elif told and told.kind == "sheet" and sheet is not None:
        told = replace(told, corners=in_photo(sheet, photo))
    if reference is None:
        return Found(photo.full_size, None, told)
    odds = None if reference.marked else float(reference.sure)
    corners = in_photo(reference.polygon, photo)
    return Found(photo.full_size, Seen(reference.kind, corners, odds, reference.marked), told)


def in_photo(corners: Floats, photo: Photo) -> tuple[tuple[float, float], ...]:
    """Corners (n, 2) of the picture as it is read, in full-photo pixels."""
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
