"""Several photos brought to one standard.

A photo with a reference of its own stands by itself. A photo without one can borrow: when prints in
it also show in a photo that has a reference, the adaptation that takes their colours there to their
colours here is undone for the whole photo. Photos of which none has a reference are brought to
their common mean, so that they agree with each other though with no others. That photos show the
same prints is read from their palettes (see :mod:`sequencer.photo.agreement.ties`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import ciede2000, lab_to_xyz, xyz_to_lab
from sequencer.models import PaletteColour
from sequencer.photo.agreement.texture import Texture
from sequencer.photo.agreement.ties import Find, Textures, Tie, Told, gains_matrix, tie

Floats = NDArray[np.floating]

_STEP_ERROR = 4.5  # ΔE00 that one borrowed step adds
_BEYOND = 1.5  # times what both photos' ± allow that a tie may move colours; by hand


@dataclass(frozen=True)
class PhotoColours:
    """What one photo gave. ``kind``: its reference. ``palettes``: one for each of its prints.
    ``alone``: it was said to show one print, which then is no other photo's."""

    photo: str
    kind: str
    uncertainty: float
    palettes: tuple[tuple[PaletteColour, ...], ...]
    alone: bool = False


@dataclass(frozen=True, eq=False)
class Agreement:
    """How to bring one photo to the common standard.

    ``matrix`` (3, 3): XYZ of this photo to XYZ of the standard, None where nothing changes.
    ``uncertainty``: ΔE00 as in Print. ``through``: the photo whose standard it borrows.
    """

    photo: str
    matrix: Floats | None
    uncertainty: float
    through: str | None = None
    warnings: tuple[str, ...] = ()

    def moved(self, lab: Floats) -> Floats:
        """Colours (…, 3) of this photo in the common standard."""
        if self.matrix is None:
            return np.asarray(lab, dtype=float)
        return xyz_to_lab(np.maximum(lab_to_xyz(lab) @ self.matrix.T, 0))


Known = dict[str, Tie | None]
"""Ties looked for before, by the keys of the two photos; None where nothing ties them."""


def no_texture(find: Find) -> Texture | None:
    """Where no cloth is at hand, nothing is proved."""
    del find
    return None


def agree(
    photos: Sequence[PhotoColours],
    textures: Textures = no_texture,
    told: Told | None = None,
    keys: Sequence[str] = (),
    known: Known | None = None,
) -> tuple[Agreement, ...]:
    """One agreement for each photo, in the same order.

    Two photos share a print where its ``textures`` prove it or the maker ``told`` so. ``keys`` tell
    what each photo gave apart from all else; pairs that are ``known`` by them are not looked at
    again, unless the maker spoke of them, and those that are looked at are added.

    Photos without a reference borrow the standard of one they share prints with, directly or over
    other photos; each step adds its own error. Where no reference is in reach, photos that share
    prints agree with each other, as uncertain as before. Where nothing ties a photo to the others
    its uncertainty stays that of an uncorrected photo and a warning says so.
    """
    ties = _ties(photos, textures, told or {}, keys, {} if known is None else known)
    found = _reached(ties, [i for i, one in enumerate(photos) if one.kind != "none"])
    done = {i: _borrowed(photos, found, i) for i in found}
    for i in range(len(photos)):
        if i not in done:
            group = _reached(ties, [i])
            done |= _among_themselves(photos, group) if len(group) > 1 else {i: _alone(photos, i)}
    return tuple(done[i] for i in range(len(photos)))


@dataclass(frozen=True, eq=False)
class _Way:
    """How a photo is reached: ``gains`` to ``start``, over ``steps`` ties, the last to ``base``."""

    gains: Floats
    steps: int = 0
    base: int | None = None
    start: int | None = None


_Ties = dict[tuple[int, int], tuple[Floats, int]]


def _ties(
    photos: Sequence[PhotoColours],
    textures: Textures,
    told: Told,
    keys: Sequence[str],
    known: Known,
) -> _Ties:
    """(here, there): gains and evidence, both ways; not between two photos with references."""
    names = list(keys) or [str(k) for k in range(len(photos))]
    spoken = {frozenset(photo for photo, _ in pair) for pair in told}
    cloth: Textures = cache(textures)
    ties: _Ties = {}
    for i, one in enumerate(photos):
        for j in range(i):
            if one.kind == "none" or photos[j].kind == "none":
                seen = no_texture if one.alone or photos[j].alone else cloth
                pair = f"{names[i]} {names[j]}"
                if pair in known and frozenset((i, j)) not in spoken:
                    found = known[pair]
                else:
                    found = tie(one.palettes, photos[j].palettes, (i, j), seen, told)
                    if frozenset((i, j)) not in spoken:
                        known[pair] = found
                if found is not None and (found.told or _believable(one, photos[j], found)):
                    ties[i, j] = found.gains, found.evidence
                    ties[j, i] = -found.gains, found.evidence
    return ties


def _believable(one: PhotoColours, other: PhotoColours, found: Tie) -> bool:
    """Whether light alone can part the two photos so far.

    One motif is also printed in several colourways: texture proves those the same, and three gains
    bring a palette on to another. What is moved farther than both photos' ± allow is one of these.
    """
    colours = [colour for palette in one.palettes for colour in palette]
    lab = np.array([colour.lab for colour in colours])
    moved = xyz_to_lab(np.maximum(lab_to_xyz(lab) @ gains_matrix(found.gains).T, 0))
    far = np.average(ciede2000(lab, moved), weights=[colour.share for colour in colours])
    return bool(far <= _BEYOND * np.hypot(one.uncertainty, other.uncertainty))


def _reached(ties: _Ties, starts: Sequence[int]) -> dict[int, _Way]:
    """Every photo that ``starts`` reach: over the fewest ties, of these the best proved."""
    ways = {i: _Way(np.zeros(3), start=i) for i in starts}
    while True:
        open_ones = [
            (ways[j].steps, -evidence, i, j)
            for (i, j), (_, evidence) in ties.items()
            if j in ways and i not in ways
        ]
        if not open_ones:
            return ways
        steps, _, i, j = min(open_ones)
        ways[i] = _Way(ties[i, j][0] + ways[j].gains, steps + 1, j, ways[j].start)


def _borrowed(photos: Sequence[PhotoColours], ways: dict[int, _Way], i: int) -> Agreement:
    way, one = ways[i], photos[i]
    if way.base is None or way.start is None:
        return Agreement(one.photo, None, one.uncertainty)
    base = photos[way.base].photo
    uncertainty = float(np.hypot(photos[way.start].uncertainty, _STEP_ERROR * way.steps**0.5))
    note = f"its colours were brought to those of {base}, where the same print shows"
    matrix = gains_matrix(way.gains)
    return Agreement(one.photo, matrix, min(uncertainty, one.uncertainty), base, (note,))


def _among_themselves(
    photos: Sequence[PhotoColours], group: dict[int, _Way]
) -> dict[int, Agreement]:
    """Photos without any reference, brought to their common mean."""
    mean = np.mean([way.gains for way in group.values()], axis=0)
    names = {i: photos[i].photo for i in sorted(group)}
    apart = "" if len(group) == len(photos) else ", not with the other photos'"
    out = {}
    for i, way in group.items():
        others = " and ".join(name for k, name in names.items() if k != i)
        note = (
            f"its colours agree with those of {others}, where the same print shows{apart}; none "
            "of these photos has a reference"
        )
        through = None if way.base is None else photos[way.base].photo
        matrix = gains_matrix(way.gains - mean)
        out[i] = Agreement(photos[i].photo, matrix, photos[i].uncertainty, through, (note,))
    return out


def _alone(photos: Sequence[PhotoColours], i: int) -> Agreement:
    notes: tuple[str, ...] = ()
    if len(photos) > 1:
        notes = (
            "nothing ties this photo's colours to the other photos: put the same white sheet, grey "
            "card or target in each, or say which prints are the same cloth",
        )
    return Agreement(photos[i].photo, None, photos[i].uncertainty, None, notes)
