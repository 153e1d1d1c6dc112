"""What the piece folder holds, as the program works with it: frozen, checked, ids resolved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sequencer.errors import PieceError
from sequencer.keys import labels
from sequencer.models import Found, Json, Print, Rejected, Sequence

Point = tuple[float, float]
Outline = tuple[Point, ...]


@dataclass(frozen=True)
class KeptPhoto:
    """One photograph of the piece, known by its content.

    ``id``: the fingerprint of the file's bytes, ``content``; where two files of the same bytes were
    given at once, the second has one of its own. ``name``: the file's own name, for people.
    ``stem``: what the ids of its prints begin with. ``file``: where it lies, relative to the piece
    folder; absolute where the maker keeps photos elsewhere; None where nothing is known any more.
    ``wishes``: how it is to be read, as typed. ``found``: what was seen in it beside cloth.
    ``reading`` and ``swatches``: fingerprints of what it gave, so that it is not read twice.
    """

    id: str
    content: str
    name: str
    stem: str
    file: str | None = None
    wishes: Mapping[str, Any] = field(default_factory=dict)
    found: Found | None = None
    reading: str | None = None
    swatches: tuple[str, ...] = ()


@dataclass(frozen=True)
class Find:
    """A scrap as a correction names it: by photo and outline, so that it survives a new reading."""

    photo: str
    outline: Outline


@dataclass(frozen=True)
class Correction:
    """What the maker set right. Points are x, y in the upright photo's own pixels.

    ``drop``: finds that are no scraps. ``merge``: finds of one photo that are one scrap. ``split``:
    one find, ``line`` the two ends of the cut. ``redraw``: one find, ``line`` its new outline.
    ``add``: a scrap that was missed, ``photo`` and ``line``. ``same`` and ``different``: finds of
    different photos are one print, or are none.
    """

    op: str
    photo: str = ""
    finds: tuple[Find, ...] = ()
    line: Outline = ()


@dataclass(frozen=True)
class Step:
    """One change of the piece: its name, when (UTC, ISO 8601), and the state to go to."""

    name: str
    at: str
    state: str


@dataclass
class Growing:
    """A step that is saved in parts: each adds to the part before, as long as that still lies there
    when the folder is held; where somebody else saved between, it is a step of its own.

    ``revision``: what its last part left; empty before the first.
    """

    name: str
    revision: str = ""


@dataclass(frozen=True)
class Piece:
    """One piece of work.

    ``names`` are those the maker gave and ``sizes`` what she measured (scraps as exact length,
    width), by print id. ``order_wishes`` and ``plan_wishes`` are the options as they were typed,
    JSON-plain; ``read_wishes`` those that the next photographs are read by. ``plan`` is the kept
    plan's document; ``sewn`` what of it is done. ``cameras``: taught cameras by name. ``ties``:
    fingerprint of what was found out about pairs of photos. ``past`` and ``future``: the steps that
    can be taken back and taken again, oldest first. ``revision`` tells the saved state that this
    was read from; empty for a piece not yet saved.
    """

    prints: tuple[Print, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    photos: tuple[KeptPhoto, ...] = ()
    read_wishes: Mapping[str, Any] = field(default_factory=dict)
    corrections: tuple[Correction, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    sizes: Mapping[str, Any] = field(default_factory=dict)
    cameras: Mapping[str, Any] = field(default_factory=dict)
    sequence: Sequence | None = None
    order_wishes: Mapping[str, Any] = field(default_factory=dict)
    plan_wishes: Mapping[str, Any] = field(default_factory=dict)
    plan: Json | None = None
    sewn: Mapping[str, Any] = field(default_factory=dict)
    ties: str | None = None
    past: tuple[Step, ...] = ()
    future: tuple[Step, ...] = ()
    revision: str = ""

    def print_of(self, id_: str) -> Print:
        """The print with this id.

        Raises:
            PieceError: there is none; close ids are named.
        """
        check_ids([id_], [one.id for one in self.prints])
        return next(one for one in self.prints if one.id == id_)

    @property
    def labels(self) -> dict[str, str]:
        """What each print goes by, by id: its name, or a letter of the sequence and its colour."""
        return labels(self.prints, self.sequence.order if self.sequence else ())

    def id_of(self, text: str) -> str:
        """The id that a text means: an id, a print's own name, or what an unnamed one goes by;
        capitals count only in doubt.

        Raises:
            PieceError: no print is called so; what is close to it is named.
        """
        ids = [one.id for one in self.prints]
        called = {label: id_ for id_, label in self.labels.items()}
        for told in ({one: one for one in ids}, {one.name: one.id for one in self.prints}, called,
                     {one.casefold(): one for one in ids},
                     {one.name.casefold(): one.id for one in self.prints},
                     {label.casefold(): id_ for label, id_ in called.items()}):
            for typed in (text, text.casefold()):
                if typed in told:
                    return told[typed]
        check_ids([text], [*ids, *(one.name for one in self.prints if one.name != one.id)])
        raise AssertionError("check_ids refuses what is not there")

    def with_print(self, changed: Print) -> Piece:
        """The same piece with one print replaced (by id)."""
        prints = tuple(changed if one.id == changed.id else one for one in self.prints)
        return replace(self, prints=prints)

    def photo_of(self, id_: str) -> KeptPhoto:
        """The photo that the print with this id was found in."""
        wanted = self.print_of(id_).photo_id
        return next(photo for photo in self.photos if photo.id == wanted)


def check_ids(wanted: list[str], known: list[str]) -> None:
    """Refuse ids the piece does not hold.

    Raises:
        PieceError: names the unknown id, what is close to it, and every id there is.
    """
    from difflib import get_close_matches

    for id_ in wanted:
        if id_ not in known:
            close = get_close_matches(id_, known, n=2)
            hint = f" Did you mean {' or '.join(close)}?" if close else ""
            raise PieceError(f"no print is called '{id_}'.{hint} There are: {', '.join(known)}.")
