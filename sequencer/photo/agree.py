"""Several photos brought to one standard.

A photo with a reference of its own stands by itself. A photo without one can borrow: when a print
in it also shows in a photo that has a reference, the adaptation that takes its colours there to
its colours here is undone for the whole photo. That two prints are the same cloth is read from
their palettes: after one Bradford adaptation and exposure (three numbers) the colours of the one
must fall on those of the other, shares alike. A palette of three or more colours says six numbers
more than the adaptation can explain away, so that a chance match is rare; plainer prints never tie.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import D65_WHITE, adaptation_matrix, ciede2000, lab_to_xyz, xyz_to_lab
from sequencer.models import PaletteColour

Floats = NDArray[np.floating]

_FEWEST_COLOURS = 3
_SHARES_ALIKE = 0.12
_SAME_CLOTH = 2.5  # mean ΔE00 left after the adaptation
_COLOURFUL = 12.0  # a palette of near-greys fits anything
_STEP_ERROR = 4.0  # ΔE00 that one borrowed step adds


@dataclass(frozen=True)
class PhotoColours:
    """What one photo gave. ``kind``: its reference. ``palettes``: one for each of its prints."""

    photo: str
    kind: str
    uncertainty: float
    palettes: tuple[tuple[PaletteColour, ...], ...]


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


def agree(photos: Sequence[PhotoColours]) -> tuple[Agreement, ...]:
    """One agreement for each photo, in the same order.

    Photos without a reference borrow the standard of one they share a print with, directly or over
    other photos; each step adds its own error. Where nothing ties a photo to the others its
    uncertainty stays that of an uncorrected photo and a warning says so.
    """
    done: dict[int, Agreement] = {
        i: Agreement(one.photo, None, one.uncertainty)
        for i, one in enumerate(photos)
        if one.kind != "none"
    }
    queue = deque(done)
    while queue:
        base = queue.popleft()
        for i, one in enumerate(photos):
            if i not in done:
                step = _tie(one, photos[base])
                if step is not None:
                    done[i] = _borrowed(one, photos[base].photo, done[base], step)
                    queue.append(i)
    return tuple(done.get(i) or _alone(one, len(photos)) for i, one in enumerate(photos))


def _borrowed(one: PhotoColours, base: str, standard: Agreement, step: Floats) -> Agreement:
    matrix = step if standard.matrix is None else standard.matrix @ step
    uncertainty = float(np.hypot(standard.uncertainty, _STEP_ERROR))
    note = f"its colours were brought to those of {base}, where the same print shows"
    return Agreement(one.photo, matrix, min(uncertainty, one.uncertainty), base, (note,))


def _alone(one: PhotoColours, count: int) -> Agreement:
    notes: tuple[str, ...] = ()
    if count > 1:
        notes = (
            "nothing ties this photo's colours to the other photos: put the same white sheet, grey "
            "card or target in each, or a print that also shows in another",
        )
    return Agreement(one.photo, None, one.uncertainty, None, notes)


def _tie(one: PhotoColours, base: PhotoColours) -> Floats | None:
    """The adaptation from ``one`` to ``base`` by the print that fits best, None if none does."""
    fits = [
        fit
        for here in one.palettes
        for there in base.palettes
        if (fit := _same_cloth(here, there)) is not None
    ]
    return min(fits, key=lambda fit: fit[0])[1] if fits else None


def _same_cloth(
    here: tuple[PaletteColour, ...], there: tuple[PaletteColour, ...]
) -> tuple[float, Floats] | None:
    """(ΔE00 left, adaptation) when two palettes can be one cloth under two lights."""
    if len(here) != len(there) or len(here) < _FEWEST_COLOURS:
        return None
    target = np.array([colour.lab for colour in there])
    if np.linalg.norm(target[:, 1:] - target[:, 1:].mean(axis=0), axis=1).max() < _COLOURFUL:
        return None
    shares = np.array([colour.share for colour in there])
    best: tuple[float, Floats] | None = None
    for order in permutations(range(len(here))):
        if np.abs(np.array([here[k].share for k in order]) - shares).max() > _SHARES_ALIKE:
            continue
        fit = _adaptation(np.array([here[k].lab for k in order]), target, shares)
        if fit[0] < _SAME_CLOTH and (best is None or fit[0] < best[0]):
            best = fit
    return best


def _adaptation(here: Floats, there: Floats, shares: Floats) -> tuple[float, Floats]:
    """The Bradford adaptation and exposure that best take colours ``here`` to ``there``.

    Gains are share-weighted means of log ratios in cone space, which is the space where
    :func:`sequencer.colour.adaptation_matrix` is diagonal.
    """
    white = _white_between(here, there, shares)
    exposure = white[1]
    matrix = adaptation_matrix(D65_WHITE, white) * exposure
    left = ciede2000(xyz_to_lab(np.maximum(lab_to_xyz(here) @ matrix.T, 0)), there)
    return float(np.average(left, weights=shares)), matrix


def _white_between(here: Floats, there: Floats, shares: Floats) -> Floats:
    """What D65 white becomes: found by three rounds of adapting and averaging what is left."""
    white = D65_WHITE.copy()
    source, target = lab_to_xyz(here), np.maximum(lab_to_xyz(there), 1e-4)
    for _ in range(8):
        matrix = adaptation_matrix(D65_WHITE, white) * white[1]
        seen = np.maximum(source @ matrix.T, 1e-4)
        white = white * np.exp(np.average(np.log(target / seen), axis=0, weights=shares))
    return np.asarray(white)
