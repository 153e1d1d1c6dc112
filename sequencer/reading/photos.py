"""The road from photographs to prints: every photo, their agreement, ids, what was rejected."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np

from sequencer import doors
from sequencer.colour.names import plain_name
from sequencer.errors import NothingReadError, UsageError
from sequencer.files import shown
from sequencer.keeping.disk.naming import bases
from sequencer.models import Json, PaletteColour, Print, Progress, Rejected, Swatch
from sequencer.photo.agreement.agree import Agreement, agree
from sequencer.photo.agreement.texture import Texture, texture
from sequencer.photo.colour.taught import Camera
from sequencer.photo.files.opening import SUFFIXES
from sequencer.photo.finds.cloth import SHOWS
from sequencer.photo.finds.edits import Edit
from sequencer.photo.reference.marking import marked_corners, patch_numbers
from sequencer.photo.reference.reference import stated
from sequencer.photo.scale.by_hand import card_corners
from sequencer.photo.scale.scale import check_scale
from sequencer.reading.both_cores import Job, read_each
from sequencer.reading.cameras import chosen
from sequencer.reading.photograph import ReadPhoto
from sequencer.reading.seen import Wishes

STRIP = Fraction(1, 4)
"""Finished strip width in inches that prints are judged at unless something else is asked."""


@dataclass(frozen=True)
class Reading:
    """All that the photographs gave: prints in the order of the photos, and what was left out."""

    prints: tuple[Print, ...]
    rejected: tuple[Rejected, ...] = ()
    notes: tuple[str, ...] = ()

    def to_json(self) -> Json:
        """Document ``passalong.prints/1``."""
        return {
            "schema": "passalong.prints/1",
            "prints": [one.to_json() for one in self.prints],
            "rejected": [one.to_json() for one in self.rejected],
            "notes": list(self.notes),
        }


def read_photos(
    paths: Iterable[str | Path],
    shows: str = "auto",
    reference: str = "auto",
    scale: str = "auto",
) -> list[Print]:
    """The prints that photographs show; a folder stands for its photos.

    ``shows``: one (a photo of one print), many (scraps on a table) or auto. ``reference``: auto,
    sheet, grey, grey=L (a card of that L*), target or none. ``scale``: auto, bankcard, the sheet's
    format (letter, a4, a5), or a length in photo pixels, ``6in=1450``, or between two points,
    ``6in=210,1180-1640,1202``.

    Raises:
        UsageError: an argument is none of these.
        NothingReadError: not one photograph could be used; ``rejected`` says why for each.
    """
    for name, told in (("shows", shows), ("reference", reference), ("scale", scale)):
        doors.word(name, told)
    return list(read(paths, shows=shows, reference=reference, scale=scale).prints)


def read(
    paths: Iterable[str | Path],
    *,
    shows: str = "auto",
    reference: str = "auto",
    scale: str = "auto",
    strip: Fraction = STRIP,
    edits: Sequence[Edit | Mapping[str, Any]] = (),
    marked: Sequence[Sequence[float]] | None = None,
    camera: str = "auto",
    without_patches: Sequence[int] = (),
    progress: Progress | None = None,
) -> Reading:
    """As :func:`read_photos`, with what was rejected and why.

    ``strip``: finished strip width in inches that prints are judged at. ``edits``: the maker's
    corrections. ``marked``: where the reference lies, as x, y in pixels of the upright photo: two
    opposite corners or four in order; it holds for every photo of the call. ``camera``: a taught
    one by name, auto (known by what the file says took it) or none. ``without_patches``: spoilt
    patches of targets, 1 to 24 row by row. ``progress`` is called in this thread after each photo.

    Raises:
        UsageError: an argument cannot be understood.
        NothingReadError: not one photograph could be used.
    """
    fixed = tuple(one if isinstance(one, Edit) else Edit.from_json(one) for one in edits)
    asked = {"shows": shows, "reference": reference, "scale": scale, "marked": marked,
             "without_patches": without_patches}
    wishes = wishes_from(asked, fixed, strip)
    photos = photo_files(paths)
    jobs = [Job(path, replace(wishes, camera=chosen(path, camera)), shown(path.name))
            for path in photos]  # fmt: skip
    results = read_each(jobs, progress)
    rejected = tuple(one for one in results if isinstance(one, Rejected))
    read_ones = [one for one in results if not isinstance(one, Rejected)]
    if not read_ones:
        raise nothing_read(rejected)
    return Reading(_with_ids(_agreed(read_ones)), rejected)


def wishes_from(
    asked: Mapping[str, Any],
    edits: tuple[Edit, ...] = (),
    strip: Fraction = STRIP,
    camera: Camera | None = None,
) -> Wishes:
    """The options of a reading, checked before the first photo is opened.

    ``camera``: what was taught about the camera of the photo that is read.

    Raises:
        UsageError: one cannot be understood.
    """
    shows, reference = asked.get("shows") or "auto", asked.get("reference") or "auto"
    scale = asked.get("scale") or "auto"
    _check(shows, reference, scale)
    corners = marked_corners(asked.get("marked"), reference)
    card = card_corners(asked.get("card"))
    spoilt = tuple(patch_numbers(asked.get("without_patches") or ()))
    return Wishes(shows, reference, scale, strip, edits, corners, card, camera, spoilt)


def photo_files(paths: Iterable[str | Path]) -> list[Path]:
    """The photographs meant: files as given, folders as the pictures in them, none twice.

    Raises:
        UsageError: what is no path.
        NothingReadError: nothing was given, or a folder holds no picture.
    """
    found: dict[Path, None] = {}
    alone = isinstance(paths, (str, PathLike))
    named = [paths] if alone else doors.listed("paths", paths, object, "a list of photographs")
    for path in (doors.path("paths", one) for one in named):
        if path.is_dir():
            inside = [one for one in path.iterdir() if _is_photo(one)]
            if not inside:
                raise NothingReadError(
                    f"{path} holds no photographs (looked for {', '.join(sorted(SUFFIXES))}). "
                    "Put photos there or name them one by one."
                )
            found |= dict.fromkeys(sorted(inside, key=_natural))
        else:
            found[path] = None
    if not found:
        raise NothingReadError("no photographs were given; name at least one photo or a folder.")
    return list(found)


def _is_photo(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and path.is_file()


def _natural(path: Path) -> tuple[list[tuple[int, int, str]], str]:
    """img2 before img10, moss before moss2."""
    parts = re.findall(r"\d+|\D+", path.stem.casefold())
    return [(0, int(p), "") if p.isdecimal() else (1, 0, p) for p in parts], path.suffix


def _check(shows: str, reference: str, scale: str) -> None:
    """Refuse what cannot be understood before the first photo is opened."""
    if shows not in SHOWS:
        raise UsageError(f"shows '{shows}' is not known: use one of {', '.join(SHOWS)}")
    stated(reference)
    check_scale(scale)


def _agreed(photos: Sequence[ReadPhoto]) -> list[ReadPhoto]:
    """The photos' colours brought to one standard, where a shared print ties them."""

    def cloth(find: tuple[int, int]) -> Texture | None:
        swatch = photos[find[0]].prints[find[1]][1].swatch
        return None if swatch is None else texture(swatch.pixels)

    agreements = agree([photo.colours for photo in photos], cloth)
    return [
        replace(
            photo,
            prints=tuple((number, moved(one, agreement)) for number, one in photo.prints),
        )
        for photo, agreement in zip(photos, agreements, strict=True)
    ]


def moved(one: Print, agreement: Agreement) -> Print:
    """The print in the common standard."""
    warnings = (*one.warnings, *agreement.warnings)
    if agreement.matrix is None:
        return replace(one, warnings=warnings)  # each print's own uncertainty stands
    mean = agreement.moved(np.array(one.mean_lab))
    swatch = one.swatch
    if swatch is not None:
        matrix = tuple(round(float(part), 9) for part in agreement.matrix.ravel())
        swatch = Swatch(swatch.source, swatch.ppi, matrix, swatch.content)
    return replace(
        one,
        mean_lab=(float(mean[0]), float(mean[1]), float(mean[2])),
        palette=tuple(_moved_colour(colour, agreement) for colour in one.palette),
        uncertainty=agreement.uncertainty,
        shared_uncertainty=_shared(agreement.uncertainty, one.own_uncertainty),
        warnings=warnings,
        swatch=swatch,
    )


def _shared(whole: float, own: float | None) -> float | None:
    return None if own is None else float(max(0.0, whole**2 - own**2) ** 0.5)


def _moved_colour(colour: PaletteColour, agreement: Agreement) -> PaletteColour:
    lab = agreement.moved(np.array(colour.lab))
    moved = (float(lab[0]), float(lab[1]), float(lab[2]))
    return replace(colour, lab=moved, name=plain_name(moved))


def nothing_read(rejected: Sequence[Rejected]) -> NothingReadError:
    """Not one photograph could be used, and why each could not."""
    why = [(one.photo, one.why) for one in rejected]
    if len(rejected) == 1:
        return NothingReadError(f"the photograph could not be used: {why[0][0]}: {why[0][1]}", why)
    lines = "".join(f"\n  {name}: {reason}" for name, reason in why)
    return NothingReadError(f"none of the {len(why)} photographs could be used:{lines}", why)


def _with_ids(photos: Sequence[ReadPhoto]) -> tuple[Print, ...]:
    """Give every print an id: the photo's stem, or stem-1, stem-2… where it shows many."""
    taken: set[str] = set()
    prints: list[Print] = []
    for photo in photos:
        for base in bases(photo.stem):
            ids = [f"{base}-{number}" if number else base for number, _ in photo.prints]
            if not taken & {id_.casefold() for id_ in ids}:
                break
        taken |= {id_.casefold() for id_ in ids}
        prints += [
            replace(one, id=id_, name=id_) for id_, (_, one) in zip(ids, photo.prints, strict=True)
        ]
    return tuple(prints)
