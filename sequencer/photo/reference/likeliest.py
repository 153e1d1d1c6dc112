"""Which smooth quadrilateral is likeliest the white sheet or the grey card, and how likely.

Unasked, one that is likelier than not is taken: a wrong one costs about as much as a missed one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import view_of
from sequencer.photo.reference.evidence import alike, odds
from sequencer.photo.reference.quads import Quad, smooth_quads

Floats = NDArray[np.floating]

# What can be a sheet or card at all; chosen wide, since it is weighed afterwards.
_SQUARE_ENOUGH = 0.72  # share of its quadrilateral that it fills
_SMALLEST = 0.008  # share of the picture
_MOST_CAST = 65.0  # chroma, CIELAB of the file
_ROUGHEST = 2.5  # scatter of L*
SURE_UNASKED = 0.5
"""How likely one is that is used unasked; with .7 in its place 57 of 80 references are recognised
where it is 65 (harder simulated scenes, docs/measured.md)."""
SURE_ENOUGH = 0.8
"""How likely one is of which there is no doubt to tell; by hand, never fitted."""
_SURE_AT_MOST = 0.7  # of a shape that the weights were not fitted on: large, or covered
_LARGEST_CARD = 0.5  # share of the picture: cloth on a plain table is no card with things on it
_DIGITS = 6  # of a probability that count, so that last bits of the machine never do
_NO_PAPER = 0.1  # luminance, 0 to 1, that even underexposed paper has
_PLAINLY = 2.0  # log odds, after the user's own word, at which a thing is plainly the other kind
_SAID_TO_BE_THERE = 3.0  # log odds that the user's own word adds, fitted like the weights


@dataclass(frozen=True, eq=False)
class Candidate:
    """``quad`` taken for ``kind``, sheet or grey, and how ``sure`` that is, 0 to 1."""

    kind: str
    quad: Quad
    sure: float

    @property
    def centre(self) -> Floats:
        """x, y (2,) in analysis pixels."""
        return np.asarray(self.quad.corners.mean(axis=0))


def likeliest(photo: Photo, wanted: str) -> Candidate | None:
    """The likeliest sheet or card, however doubtful where it was asked for."""
    best = _best(photo, candidates(photo), wanted)
    if wanted == "auto" or (best is not None and best.sure >= SURE_UNASKED):
        return best
    everything = [quad for quad in smooth_quads(view_of(photo), True) if _could_be(quad, wanted)]
    other = _best(photo, everything, wanted)
    if other is None or (best is not None and best.sure > other.sure):
        return best
    return replace(other, sure=min(other.sure, _SURE_AT_MOST))


def _best(photo: Photo, quads: list[Quad], wanted: str) -> Candidate | None:
    """The likeliest of ``quads``; what is plainly the other kind is left out of one asked for."""
    if not quads:
        return None
    asked = wanted != "auto"
    offered = dict(zip(("sheet", "grey"), odds(quads, photo.pixels), strict=True))
    if asked:
        offered[wanted] = offered[wanted] + _SAID_TO_BE_THERE
    shares = _shares(np.concatenate(list(offered.values())))
    open_to = np.repeat([not asked or kind == wanted for kind in offered], len(quads))
    if asked:
        other = offered["grey" if wanted == "sheet" else "sheet"] - offered[wanted]
        open_to &= np.tile(other < _PLAINLY, 2)
    if not open_to.any():
        return None
    best = int(np.argmax(np.where(open_to, shares.round(_DIGITS), -1.0)))
    kind, quad = list(offered)[best // len(quads)], quads[best % len(quads)]
    return Candidate(kind, quad, float(shares[best]))


def _could_be(quad: Quad, wanted: str) -> bool:
    """Of no strong colour; not black where a sheet is meant, nor the table where a card is."""
    possible = quad.luminance > _NO_PAPER if wanted == "sheet" else quad.area < _LARGEST_CARD
    return quad.chroma < _MOST_CAST and possible


def candidates(photo: Photo) -> list[Quad]:
    """The quadrilaterals that could be a sheet or a card at all."""
    return _alone([quad for quad in smooth_quads(view_of(photo)) if _plausible(quad)])


def _shares(log_odds: Floats) -> Floats:
    """Probability of each, the rest of 1 being that of none."""
    top = max(0.0, float(log_odds.max()))
    weight = np.exp(log_odds - top)
    return np.asarray(weight / (weight.sum() + np.exp(-top)))


def _plausible(quad: Quad) -> bool:
    square = quad.fill > _SQUARE_ENOUGH and quad.area > _SMALLEST
    return square and quad.chroma < _MOST_CAST and quad.texture < _ROUGHEST and quad.luminance > 0


def _alone(quads: list[Quad]) -> list[Quad]:
    """Without those with more than one double: a motif comes again and again, a reference once."""
    return [q for q in quads if sum(alike(q, other) for other in quads) <= 2]
