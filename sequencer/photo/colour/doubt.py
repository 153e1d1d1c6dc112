"""How far a colour may be from the truth: ± in ΔE00 that holds nine times in ten.

Read by a sheet or card, two thirds of its square a whole photo shares, above all one error of
lightness: it moves every print alike, and the order of prints hardly hangs on it. The rest is each
print's own: what pairs of like colours (up to 40 ΔE apart) of one photo still err against each
other. The table holds for real photos by cameras that were left out when its figures were found
(46 photos of targets, 22 cameras; the 16 that may be passed on are read by
benchmarks/photo/real_cameras.py) and for simulated ones with responses like theirs. Casts
stronger than any of those photos has are known from simulated ones only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequencer.colour import srgb_to_linear, xyz_to_lab
from sequencer.photo.colour.curves import SRGB, Profile
from sequencer.photo.colour.neutral import card_lab
from sequencer.photo.reference.reference import Reference

# ± of a photo read by a sheet or a card, by quantiles (Koenker and Bassett 1978): ΔE00, from
# benchmarks/photo/real_cameras.py and, where no real photo reaches,
# benchmarks/photo/photo_truth.py --marked.
_SHEET = 10.0
_SHEET_BLUE, _BLUEST = 0.15, 20.0
"""More for each b* below 0 that it reads: brightened paper, or a cast; no more below -20."""
_CARD = 7.5  # of a card of the best lightness
_BEST_L = 65.0  # L* of the neutral of real targets that does best as a card (docs/measured.md)
_CARD_OFF = 0.08  # more for each L* that the card is off it
_EACH_APART = 0.08  # more for each L* between the colour and the card: the curve is not known well
_CAST, _CAST_FROM = 5.0, 0.5
"""More for each log unit beyond this between the neutral's strongest and weakest channel (simulated
casts; the real ones reach 0.5)."""
_LOST, _LOST_FROM = 20.0, 3.0
"""More again where a channel has all but gone (simulated)."""
_MOST = 60.0  # of both together
_BLOWN = 5.0  # more where the neutral is overexposed: 2 real photos of one camera, and a guess
_NEUTRAL_OWN = 0.6
"""Own part of the ±: pairs of real patches, .58 to .78 by the neutral (real_cameras.py, 'own')."""

# ± of a photo read by a target: a share of its own misfit; nothing is shared by its colours. No
# more than simulated ones need under tungsten light balanced for daylight.
_TARGET, _EACH_MISFIT, _TARGET_MOST = 0.9, 1.7, 16.0
_TARGET_OWN = 0.95  # of the ±: real patches err by all of it against each other (docs/measured.md)

_TAUGHT = 0.15  # less for a camera taught in full (by photos of two cameras, each left out)

UNCORRECTED = 19.0
"""Without a reference, as the file has it: 88 % of 600 simulated single prints lie within, 96 % of
real patches."""
_LIFTED = 16.0
"""Where a table showed how far to lift the photo: 95 % of real patches. What else a photo shows did
not tell its error on cameras left out, but for a cast (docs/measured.md)."""
_TINT, _TINT_FROM, _TINT_TO = 0.6, 10.0, 80.0
"""More for each unit of chroma of the picture's mean beyond this (simulated; one real one: 21)."""
_UNCORRECTED_OWN = 0.45  # of the ±: pairs of real patches
_DOUBTFUL = 0.4  # so likely not the reference: as uncertain as a photo without one
_USUALLY_APART = 20.0  # L* between a print and a card that a photo's ± is stated for
_CLIPPED = 254  # 8-bit value
_DARKEST = 1e-4  # linear value, so that logs exist
_COLOURED_LIGHT = 1.25  # log units of cast from which on she is told (chosen)
_TINTED = 35.0  # chroma of the picture's mean from which on she is told (chosen)


@dataclass(frozen=True)
class Uncertain:
    """± of one colour in ΔE00: ``total``, of which ``shared`` by all colours of the photo."""

    total: float
    shared: float
    own: float


@dataclass(frozen=True)
class Doubt:
    """± of a photo: ``stated`` at a colour as light as ``known`` (any, if None), and its growth
    ``each_apart`` L* from it; ``own``: of it what no other colour of the photo shares."""

    stated: float
    own: float
    known: float | None = None
    each_apart: float = 0.0

    @property
    def usual(self) -> float:
        """± of the photo as a whole."""
        return self.stated + (0.0 if self.known is None else _USUALLY_APART * self.each_apart)

    def of(self, lab: Sequence[float]) -> Uncertain:
        """± of one colour."""
        apart = 0.0 if self.known is None else abs(float(lab[0]) - self.known)
        total = self.stated + self.each_apart * apart
        own = min(self.own, total)
        return Uncertain(total, float(np.sqrt(total**2 - own**2)), own)


def doubt_about(
    reference: Reference | None, profile: Profile, share: float = 0.0, table: bool = False,
    tint: float = 0.0,
) -> Doubt:
    """The ± of a photo; ``share``: how much its camera was taught for this light, 0 to 1;
    ``table``: whether one showed how far to lift a photo without a reference; ``tint``: chroma of
    such a photo's mean colour.

    A target says by its own misfit how well its kind of correction serves the lamp and the camera.
    The more doubtful a sheet or card is itself, the nearer its photo comes to one without.
    """
    if reference is None:
        stated = _LIFTED + _tinted(tint) if table else UNCORRECTED
        stated *= 1 - _TAUGHT * share
        return Doubt(stated, _UNCORRECTED_OWN * stated)
    if reference.kind == "target":
        stated = min(_TARGET_MOST, _TARGET + _EACH_MISFIT * profile.misfit)
        return Doubt(stated, _TARGET_OWN * stated)
    plain = _sheet(reference) if reference.kind == "sheet" else _card(reference)
    unsure = min(1.0, (1 - reference.sure) / _DOUBTFUL)
    sure = plain.stated * (1 - _TAUGHT * share)
    stated = sure + max(0.0, UNCORRECTED - sure) * unsure
    return Doubt(stated, _NEUTRAL_OWN * stated, plain.known, plain.each_apart * (1 - unsure))


def _tinted(tint: float) -> float:
    return _TINT * max(0.0, min(tint, _TINT_TO) - _TINT_FROM)


def coloured_light(reference: Reference | None, tint: float) -> bool:
    """Whether a neutral, or a picture without one, shows a cast beyond those of real photos."""
    if reference is None:
        return tint > _TINTED
    return reference.kind != "target" and _cast(reference) > _COLOURED_LIGHT


def blown(reference: Reference) -> bool:
    """Whether a sheet or card is so overexposed that its colour is only a lower bound."""
    return reference.kind != "target" and bool(reference.encoded.max() * 255 >= _CLIPPED)


def _sheet(reference: Reference) -> Doubt:
    b = float(xyz_to_lab(SRGB.matrix @ srgb_to_linear(reference.encoded[0]))[2])
    stated = _SHEET + _SHEET_BLUE * float(np.clip(-b, 0, _BLUEST)) + _more(reference)
    return Doubt(stated, _NEUTRAL_OWN * stated)


def _card(reference: Reference) -> Doubt:
    lightness = card_lab(reference.lightness)[0]
    stated = _CARD + _CARD_OFF * abs(lightness - _BEST_L) + _more(reference)
    return Doubt(stated, _NEUTRAL_OWN * stated, lightness, _EACH_APART)


def _more(reference: Reference) -> float:
    cast = _cast(reference)
    more = _CAST * max(0.0, cast - _CAST_FROM) + _LOST * max(0.0, cast - _LOST_FROM)
    return min(_MOST, more) + (_BLOWN if blown(reference) else 0.0)


def _cast(reference: Reference) -> float:
    """Log of the neutral's strongest over its weakest channel as the file has it."""
    linear = np.maximum(srgb_to_linear(reference.encoded[0]), _DARKEST)
    return float(np.log(linear.max() / linear.min()))
