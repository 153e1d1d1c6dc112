"""The road from photographs to prints: load, find, correct, measure, cut a swatch."""

from __future__ import annotations

import os
import re
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from sequencer.colour import lab_to_srgb8, srgb8_to_lab
from sequencer.colour.names import plain_name
from sequencer.errors import NothingReadError, PhotoError, UsageError
from sequencer.inches import round_down, show_inches
from sequencer.models import Json, PaletteColour, Print, Progress, Rejected
from sequencer.photo.agree import Agreement, PhotoColours, agree
from sequencer.photo.cloth import SHOWS, find_cloth
from sequencer.photo.correct import Corrected, correct
from sequencer.photo.edits import Edit, Numbered, numbered
from sequencer.photo.load import SUFFIXES, Photo, load
from sequencer.photo.morphology import diamond, eroded
from sequencer.photo.quality import check_quality
from sequencer.photo.reference import KINDS, Reference, find_reference
from sequencer.photo.scale import Scale, check_scale, find_scale
from sequencer.photo.scraps import Scrap
from sequencer.photo.shape import Floats, Mask, largest_inside, rectangle_like, sides
from sequencer.photo.swatch import cut_swatch
from sequencer.prints.measure import measure_print

_EDGE = 2
_RAGGED = 0.85
_STRAIGHT = 0.92
_CUT_OFF = "cut off by the picture's edge: its size is unknown"
_WORKERS = 2


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


@dataclass(frozen=True)
class _Wishes:
    shows: str
    reference: str
    scale: str
    strip: Fraction
    edits: tuple[Edit, ...]
    marked: tuple[tuple[float, float], ...] | None = None


def read_photos(
    paths: Iterable[str | Path],
    shows: str = "auto",
    reference: str = "auto",
    scale: str = "auto",
) -> list[Print]:
    """The prints that photographs show; a folder stands for its photos.

    ``shows``: one (a photo of one print), many (scraps on a table) or auto. ``reference``: auto,
    sheet, grey, target or none. ``scale``: auto, bankcard, or LENGTH=PIXELS like ``6in=1450``.

    Raises:
        UsageError: an argument is none of these.
        NothingReadError: not one photograph could be used; ``rejected`` says why for each.
    """
    return list(read(paths, shows=shows, reference=reference, scale=scale).prints)


def read(
    paths: Iterable[str | Path],
    *,
    shows: str = "auto",
    reference: str = "auto",
    scale: str = "auto",
    strip: Fraction = Fraction(1, 4),
    edits: Sequence[Edit | Mapping[str, Any]] = (),
    marked: Sequence[Sequence[float]] | None = None,
    progress: Progress | None = None,
) -> Reading:
    """As :func:`read_photos`, with what was rejected and why.

    ``strip``: finished strip width in inches that prints are judged at. ``edits``: the maker's
    corrections. ``marked``: where the reference lies, as x, y in pixels of the upright photo: two
    opposite corners or four in order; it holds for every photo of the call. ``progress`` is called
    in this thread after each photo.

    Raises:
        UsageError: an argument cannot be understood.
        NothingReadError: not one photograph could be used.
    """
    _check(shows, reference, scale)
    corners = _marked_corners(marked, reference)
    photos = photo_files(paths)
    fixed = tuple(one if isinstance(one, Edit) else Edit.from_json(one) for one in edits)
    wishes = _Wishes(shows, reference, scale, strip, fixed, corners)
    results = _each(photos, partial(_read_one, wishes=wishes), progress)
    rejected = tuple(one for one in results if isinstance(one, Rejected))
    read_ones = [one for one in results if not isinstance(one, Rejected)]
    if not read_ones:
        raise NothingReadError(_nothing(rejected), [(one.photo, one.why) for one in rejected])
    return Reading(_with_ids(_agreed(read_ones)), rejected)


def photo_files(paths: Iterable[str | Path]) -> list[Path]:
    """The photographs meant: files as given, folders as the pictures in them, none twice.

    Raises:
        NothingReadError: nothing was given, or a folder holds no picture.
    """
    found: dict[Path, None] = {}
    given = [Path(paths)] if isinstance(paths, (str, Path)) else [Path(one) for one in paths]
    for path in given:
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
    for name, value, known in (("shows", shows, SHOWS), ("reference", reference, KINDS)):
        if value not in known:
            raise UsageError(f"{name} '{value}' is not known: use one of {', '.join(known)}")
    check_scale(scale)


def _marked_corners(
    marked: Sequence[Sequence[float]] | None, reference: str
) -> tuple[tuple[float, float], ...] | None:
    """The marking as numbers, refused when it is no area."""
    if marked is None:
        return None
    if reference == "none":
        raise UsageError("a reference was marked, but 'none' was asked for: leave one of them out")
    try:
        corners = tuple((float(x), float(y)) for x, y in marked)
    except (TypeError, ValueError):
        raise UsageError(f"the marked corners {marked!r} are not pairs of x and y") from None
    if len(corners) not in (2, 4) or not np.isfinite(corners).all():
        raise UsageError("mark the reference by two opposite corners or by four corners in order")
    return corners


# ── many photos ───────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class _ReadPhoto:
    """The prints of one photo, not yet named: (number, print), number 0 where it shows one."""

    stem: str
    prints: tuple[tuple[int, Print], ...]
    colours: PhotoColours


def _each(
    photos: list[Path],
    work: Callable[[Path], _ReadPhoto | Rejected],
    progress: Progress | None,
) -> list[_ReadPhoto | Rejected]:
    """Work through the photos on both cores; results in the photos' order."""
    say = progress or (lambda done, total, what: None)
    total = len(photos)
    say(0, total, "reading photographs")
    pool = ThreadPoolExecutor(min(_WORKERS, os.cpu_count() or 1, total))
    with warnings.catch_warnings():
        # What a decoder has to say about a damaged file ends up in `rejected`.
        warnings.filterwarnings("ignore", module="PIL")
        try:
            running = {pool.submit(work, path): path for path in photos}
            for done, future in enumerate(as_completed(running), 1):
                future.result()
                say(done, total, f"read {running[future].name}")
            return [future.result() for future in running]
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _agreed(photos: Sequence[_ReadPhoto]) -> list[_ReadPhoto]:
    """The photos' colours brought to one standard, where a shared print ties them."""
    agreements = agree([photo.colours for photo in photos])
    return [
        replace(
            photo,
            prints=tuple((number, _moved(one, agreement)) for number, one in photo.prints),
        )
        for photo, agreement in zip(photos, agreements, strict=True)
    ]


def _moved(one: Print, agreement: Agreement) -> Print:
    warnings = (*one.warnings, *agreement.warnings)
    if agreement.matrix is None:
        return replace(one, uncertainty=agreement.uncertainty, warnings=warnings)
    mean = agreement.moved(np.array(one.mean_lab))
    swatch = one.swatch
    if swatch is not None:
        pixels = lab_to_srgb8(agreement.moved(srgb8_to_lab(swatch.pixels)))
        swatch = replace(swatch, pixels=pixels)
    return replace(
        one,
        mean_lab=(float(mean[0]), float(mean[1]), float(mean[2])),
        palette=tuple(_moved_colour(colour, agreement) for colour in one.palette),
        uncertainty=agreement.uncertainty,
        warnings=warnings,
        swatch=swatch,
    )


def _moved_colour(colour: PaletteColour, agreement: Agreement) -> PaletteColour:
    lab = agreement.moved(np.array(colour.lab))
    moved = (float(lab[0]), float(lab[1]), float(lab[2]))
    return replace(colour, lab=moved, name=plain_name(moved))


def _nothing(rejected: Sequence[Rejected]) -> str:
    if len(rejected) == 1:
        return f"the photograph could not be used: {rejected[0].photo}: {rejected[0].why}"
    lines = "".join(f"\n  {one.photo}: {one.why}" for one in rejected)
    return f"none of the {len(rejected)} photographs could be used:{lines}"


def _with_ids(photos: Sequence[_ReadPhoto]) -> tuple[Print, ...]:
    """Give every print an id: the photo's stem, or stem-1, stem-2… where it shows many."""
    taken: set[str] = set()
    prints: list[Print] = []
    for photo in photos:
        for base in _bases(photo.stem):
            ids = [f"{base}-{number}" if number else base for number, _ in photo.prints]
            if not taken & {id_.casefold() for id_ in ids}:
                break
        taken |= {id_.casefold() for id_ in ids}
        prints += [
            replace(one, id=id_, name=id_) for id_, (_, one) in zip(ids, photo.prints, strict=True)
        ]
    return tuple(prints)


def _bases(stem: str) -> Iterable[str]:
    """The stem as an id that a command line and a file system take, then stem-b, stem-c…"""
    safe = re.sub(r"[^\w.]+", "-", stem).strip("-._")[:60] or "photo"
    yield safe
    count = 2
    while True:
        yield f"{safe}-{_letters(count)}"
        count += 1


def _letters(count: int) -> str:
    """2 → b, 26 → z, 27 → aa."""
    text = ""
    while count:
        count, digit = divmod(count - 1, 26)
        text = chr(ord("a") + digit) + text
    return text


# ── one photo ─────────────────────────────────────────────────────────────────────────────


def _read_one(path: Path, wishes: _Wishes) -> _ReadPhoto | Rejected:
    """One photo from file to prints, or the reason why not."""
    try:
        photo = load(path)
        poor = check_quality(photo)
        reference = find_reference(photo, wishes.reference, _marking(photo, wishes.marked))
        known = _no_cloth(photo, reference, wishes.reference)
        cloth = find_cloth(photo, wishes.shows, known)
        scale, scale_notes = find_scale(photo, cloth.things, wishes.scale, _sheet(reference))
        cloth = cloth.without(None if scale is None else scale.corners)
        mine = [edit for edit in wishes.edits if edit.photo == photo.name]
        shape = photo.pixels.shape[:2]
        scraps, lost = numbered(cloth.scraps, mine, photo.factor, shape)
        corrected = correct(photo, reference, cloth.table, _together(scraps, shape))
    except PhotoError as error:
        return Rejected(error.photo, error.why)
    notes = (*photo.notes, *poor, *corrected.warnings, *scale_notes, *cloth.notes, *lost)
    many = len(cloth.scraps) > 1 or len(scraps) > 1
    prints = []
    for one in scraps:
        own = (*notes, _CUT_OFF) if one.scrap.cut_off and cloth.shows == "many" else notes
        made = _print(photo, one.scrap, corrected, scale, wishes.strip, own, known)
        prints.append((one.number if many else 0, made))
    palettes = tuple(one.palette for _, one in prints)
    colours = PhotoColours(photo.name, corrected.kind, corrected.uncertainty, palettes)
    return _ReadPhoto(photo.stem, tuple(prints), colours)


def _marking(
    photo: Photo, marked: tuple[tuple[float, float], ...] | None
) -> list[tuple[float, float]] | None:
    """The user's marking in analysis pixels."""
    if marked is None:
        return None
    width, height = photo.full_size
    if not all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in marked):
        raise PhotoError(
            photo.name,
            f"the marked reference reaches beyond this photo of {width} × {height} pixels",
        )
    return [(x / photo.factor, y / photo.factor) for x, y in marked]


def _no_cloth(photo: Photo, reference: Reference | None, wanted: str) -> list[Floats]:
    """What is no scrap: the reference, and one that lies there but was not asked for."""
    by_hand = reference is not None and reference.marked
    seen = [reference] if by_hand or wanted == "auto" else [reference, find_reference(photo)]
    return [one.polygon for one in seen if one is not None]


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
    photo: Photo,
    scrap: Scrap,
    corrected: Corrected,
    scale: Scale | None,
    strip: Fraction,
    notes: tuple[str, ...],
    known: Sequence[Floats],
) -> Print:
    ppi = None if scale is None else scale.ppi(scrap.outline.mean(axis=0))
    lab = corrected.lab_in(scrap.box)
    measured = measure_print(lab, _measurable(scrap, corrected), ppi, strip)
    size = _sized(scrap, scale, known)
    return Print(
        id="",
        name="",
        photo=photo.name,
        outline=tuple((float(x), float(y)) for x, y in scrap.outline * photo.factor),
        mean_lab=measured.mean_lab,
        palette=measured.palette,
        spread=measured.spread,
        size_in=size.whole,
        usable_in=size.held,
        reference=corrected.kind,
        uncertainty=corrected.uncertainty,
        warnings=(*notes, *size.warnings, *measured.warnings),
        swatch=cut_swatch(photo, size.corners, lab, scrap, ppi),
    )


def _measurable(scrap: Scrap, corrected: Corrected) -> Mask:
    """The scrap's box mask without its edge, where table shines in, and without lost pixels."""
    core = eroded(np.pad(scrap.mask, 1, mode="edge"), diamond(_EDGE))[1:-1, 1:-1]
    for mask in (core & corrected.valid[scrap.box], core):
        if mask.sum() > 0.1 * scrap.area:
            return np.asarray(mask)
    return scrap.mask


def _sized(scrap: Scrap, scale: Scale | None, known: Sequence[Floats]) -> _Size:
    """How large a scrap is and what of it is usable, without size where it cannot be known."""
    if scale is None:
        angle = rectangle_like(scrap.outline)[2]
        return _Size(None, largest_inside(scrap.outline, angle, known))
    laid = scale.inches(scrap.outline)
    long, short, angle = rectangle_like(laid)
    usable = largest_inside(laid, angle, [scale.inches(polygon) for polygon in known])
    corners = scale.pixels(usable)
    if scrap.cut_off:
        return _Size(None, corners)
    held = sides(usable)
    share = held[0] * held[1] / (long * short)
    if share > _STRAIGHT:
        return _Size((long, short), corners)
    down = " × ".join(show_inches(round_down(Fraction(side))) for side in held)
    warning = f"ragged: the largest rectangle in it is {down} in"
    return _Size((long, short), corners, held, () if share > _RAGGED else (warning,))
