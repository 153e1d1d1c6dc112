"""Photos of a piece brought to one standard, by what proves a shared print and the maker's word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from sequencer.files import fingerprint
from sequencer.intake.places import ALIKE, overlap
from sequencer.keeping.disk.readings import key_of
from sequencer.models import Print, Progress, Swatch
from sequencer.photo.agreement.agree import Agreement, Known, PhotoColours, agree
from sequencer.photo.agreement.texture import Texture, texture
from sequencer.photo.agreement.ties import Textures, tie
from sequencer.piece import Correction, KeptPhoto, Writer
from sequencer.reading.photograph import ReadPhoto


def agreements_of(
    photos: Sequence[KeptPhoto],
    readings: Sequence[ReadPhoto | None],
    old: Mapping[str, Sequence[Print]],
    corrections: Sequence[Correction],
    writer: Writer,
) -> tuple[tuple[Agreement, ...], str]:
    """What brings each photo to one standard; one not read by this version counts as it stands.

    Pairs of photos that are as they were are not compared again.
    """
    colours, finds, cloth = _seen(photos, readings, old)
    keys = [key_of(one) for one in colours]
    known: Known = writer.kept_ties(Known) or {}
    agreements = agree(colours, cloth, _told(photos, finds, corrections), keys, known)
    there = {f"{one} {other}" for one in keys for other in keys}
    return agreements, writer.keep_ties({pair: tie for pair, tie in known.items() if pair in there})


def compare_ahead(
    photos: Sequence[KeptPhoto],
    readings: Sequence[ReadPhoto | None],
    old: Mapping[str, Sequence[Print]],
    which: int,
    say: Progress,
) -> None:
    """Compare one photo's cloth with all others' before it is set right: what stays of it then need
    not be compared again.
    """
    colours, _, cloth = _seen(photos, readings, old)
    for other, there in enumerate(colours):
        say(other, len(colours), "comparing cloth")
        if other != which and "none" in (there.kind, colours[which].kind):
            one, two = max(which, other), min(which, other)
            tie(colours[one].palettes, colours[two].palettes, (one, two), cloth, {})


def _seen(
    photos: Sequence[KeptPhoto],
    readings: Sequence[ReadPhoto | None],
    old: Mapping[str, Sequence[Print]],
) -> tuple[list[PhotoColours], list[Sequence[Print]], Textures]:
    """Each photo's colours and finds, and the texture of each find."""
    colours: list[PhotoColours] = []
    finds: list[Sequence[Print]] = []
    for photo, reading in zip(photos, readings, strict=True):
        mine = old[photo.id]
        finds.append(mine if reading is None else [one for _, one in reading.prints])
        colours.append(reading.colours if reading is not None else PhotoColours(
            photo.name,
            mine[0].reference if mine else "none",
            max((one.uncertainty for one in mine), default=0.0),
            tuple(one.palette for one in mine),
        ))

    def cloth(find: tuple[int, int]) -> Texture | None:
        return _texture_of(finds[find[0]][find[1]].swatch)

    return colours, finds, cloth


_textures: dict[tuple[object, ...], Texture] = {}
_MOST_TEXTURES = 64
"""As many are remembered, by their cloth: whoever sets one corner right sets another."""


def _texture_of(swatch: Swatch | None) -> Texture | None:
    if swatch is None:
        return None
    source = swatch.source
    content = swatch.content or (fingerprint(source) if isinstance(source, bytes) else None)
    if content is None:
        return texture(swatch.pixels)
    key = content, swatch.matrix
    if key not in _textures:
        while len(_textures) >= _MOST_TEXTURES:
            del _textures[next(iter(_textures))]
        _textures[key] = texture(swatch.pixels)
    return _textures[key]


def _told(
    photos: Sequence[KeptPhoto],
    finds: Sequence[Sequence[Print]],
    corrections: Sequence[Correction],
) -> dict[frozenset[tuple[int, int]], bool]:
    """The maker's word on finds of two photos, by number; the last one counts."""
    numbers = {photo.id: i for i, photo in enumerate(photos)}
    told: dict[frozenset[tuple[int, int]], bool] = {}
    for edit in corrections:
        if edit.op not in ("same", "different"):
            continue
        meant = [
            (numbers[find.photo], k)
            for find in edit.finds if find.photo in numbers
            for k, one in enumerate(finds[numbers[find.photo]])
            if overlap(one.outline, find.outline).alike >= ALIKE
        ]  # fmt: skip
        told |= {frozenset(pair): edit.op == "same" for pair in combinations(meant, 2)}
    return told
