"""Smooth quadrilaterals in a photo: candidates for a sheet or a grey card.

Pixels whose colour hardly changes are grouped; :mod:`sequencer.photo.reference.outlines` lays four
sides round a group. ``fill`` says how well the group fills its quadrilateral.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb_to_linear
from sequencer.photo.files.view import View
from sequencer.photo.reference.outlines import Outline, outlines_below

Floats = NDArray[np.floating]

_QUIET = 0.3  # share of a picture that shows nothing but noise and weave
_LIMITS = ((6.0, 4.0, 8.0), (3.0, 2.0, 4.0), (1.5, 0.7, 2.0))  # times that noise, least, most
_EACH = 3  # pixels of the view each way of which one tells its noise
_BETTER = 0.02  # share that an outline must fill more than one of the same place
_WELL_INSIDE = 0.35  # of a span that two middles lie apart, at most, in one place
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1
_TEXTURE_OF = 2000  # pixels, about, that texture is told by
_SCATTER = 1.4826  # standard deviations of a normal distribution in its median absolute deviation
_ONE_COLOUR = 0.1  # encoded sRGB, 0 to 1, that a channel of one thing may differ by; by hand


@dataclass(frozen=True, eq=False)
class Quad:
    """``corners`` (4, 2) x, y in analysis pixels, in order round the outline.

    ``encoded`` (3,): median sRGB 0 to 1. ``luminance``: of that, linear 0 to 1. ``chroma`` and
    ``hue`` (degrees): CIELAB. ``texture``: standard deviation of L* about its own slow change.
    ``area``: share of the picture. ``fill``: intersection over union with its quadrilateral,
    less what is holes.
    ``touches``: how many sides of the picture it reaches.
    """

    corners: Floats
    encoded: Floats
    luminance: float
    chroma: float
    hue: float
    texture: float
    area: float
    fill: float
    touches: int

    @property
    def linear(self) -> Floats:
        """Linear sRGB of the median colour."""
        return srgb_to_linear(self.encoded)


def smooth_quads(view: View, lenient: bool = False) -> list[Quad]:
    """Every smooth quadrilateral of the photo that is not its background, largest first.

    ``lenient``: also one that nearly fills the picture and that other things lie on.

    Looked for at three limits of smoothness, drawn from the picture's own noise: a sheet on a white
    table is parted from it only by a faint edge, a card in a noisy photo only hangs together at a
    generous limit.
    """
    found: list[Outline] = []
    noise = float(np.quantile(view.change[::_EACH, ::_EACH], _QUIET))
    for times, least, most in _LIMITS:
        limit = min(max(times * noise, least), most)
        for one in outlines_below(view, limit, lenient):
            there = [other for other in found if _same_place(one, other)]
            if all(one.fill > other.fill + _BETTER for other in there):
                found = [other for other in found if other not in there] + [one]
    return sorted((_described(one, view) for one in found), key=lambda q: -q.area)


def _same_place(one: Outline, other: Outline) -> bool:
    """Two outlines of one thing: of one colour, the middle of either well inside the other."""
    (ax, ay), (bx, by) = one.middle, other.middle
    across, down, near = abs(ax - bx), abs(ay - by), _WELL_INSIDE
    if not any(across < near * w.span[0] and down < near * w.span[1] for w in (one, other)):
        return False
    colours = zip(one.colour, other.colour, strict=True)
    return all(abs(a - b) <= _ONE_COLOUR for a, b in colours)


def _described(one: Outline, view: View) -> Quad:
    """Everything that is told of an outline, its corners in analysis pixels."""
    lab = view.lab[one.box]
    a, b = (float(np.median(lab[..., k][one.core])) for k in (1, 2))
    texture = _texture(lab[..., 0], one.core)
    encoded = np.array(one.colour)
    luminance = float(srgb_to_linear(encoded) @ _LUMINANCE)
    chroma, hue = float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a)) % 360)
    at = (one.corners + one.offset) * view.step
    return Quad(
        at, encoded, luminance, chroma, hue, texture, one.area, one.fill, one.touches
    )  # fmt: skip


def _texture(lightness: Floats, core: NDArray[np.bool_]) -> float:
    """Scatter of L* about a plane: paper is quiet, cloth has a weave."""
    y, x = np.nonzero(core)
    few = slice(None, None, 1 + len(x) // _TEXTURE_OF)
    y, x = y[few], x[few]
    design = np.stack([np.ones(len(x)), x, y], axis=1)
    values = lightness[y, x].astype(float)
    slope = np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.median(np.abs(values - design @ slope)) * _SCATTER)
