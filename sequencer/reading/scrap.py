"""What is measured of one scrap of a photograph: its colours, its size, the swatch cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from sequencer.errors import PhotoError
from sequencer.files import fingerprint
from sequencer.inches import round_down, show_inches
from sequencer.models import Lab, Print
from sequencer.photo.colour.correct import Corrected
from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap
from sequencer.photo.finds.straight import exact_outline
from sequencer.photo.finds.swatch import cut_swatch
from sequencer.photo.scale.scale import Scale
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
from sequencer.reading.seen import Looked, Wishes, in_photo

_EDGE = 2
_RAGGED = 0.85
_STRAIGHT = 0.92
_MOST_COLOURED = 180.0
"""CIELAB a* or b*: the most saturated optimal colours stay below it (MacAdam 1935, from memory)."""


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


def print_of(
    looked: Looked,
    scrap: Scrap,
    corrected: Corrected,
    wishes: Wishes,
    notes: tuple[str, ...],
) -> Print:
    """The print of a scrap in colours corrected, not yet named; ``notes``: what is said of it.

    Raises:
        PhotoError: it would have colours that no cloth has.
    """
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
        outline=in_photo(few_corners(scrap.outline), photo),
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
    looked: Looked, lab: Floats, mask: Mask, ppi: float | None, strip: Fraction
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
