"""Borders and binding: four long strips round what they frame, butted or mitred."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from sequencer.models import Plan
from sequencer.rendering import relief
from sequencer.rendering.cutting import long_strip
from sequencer.rendering.textures import Light

_FOLD = 0.2
_FOLD_WIDTH = 0.012
_LIT = (0, 3)
"""Turns at which a side faces the light: the top and the left."""


@dataclass(frozen=True)
class Frame:
    """A frame of ``width`` inches whose outer edge lies ``inset`` inches inside the piece.

    ``shade`` gives the light across a side, from the outer edge in, for (pixels, faces the light).
    """

    inset: Fraction
    width: Fraction
    mitred: bool
    shade: Callable[[int, bool], relief.Factor]


def borders(plan: Plan) -> list[Mapping[str, Any]]:
    """The plan's borders from the inside out, as a list (empty without)."""
    if not plan.border:
        return []
    return list(plan.border.get("borders") or [plan.border])


def covered(plan: Plan) -> Fraction:
    """Inches of the front that the binding covers beyond the bordered size, 0 without."""
    if not plan.binding:
        return Fraction(0)
    return Fraction(plan.binding.get("covers", plan.seam))


def border_frame(border: Mapping[str, Any], inset: Fraction) -> Frame:
    """A flat border with a seam along its inner edge."""
    width = Fraction(border["width"])

    def shade(pixels: int, lit: bool) -> relief.Factor:
        if lit:
            return relief.across(float(width), pixels, 0.0, 1.0)
        return relief.across(float(width), pixels, 1.0, 0.0)[::-1]

    return Frame(inset, width, border.get("corners") == "mitred", shade)


def binding_frame(plan: Plan) -> Frame:
    """The rolled edge, mitred at the corners."""
    width = covered(plan)

    def shade(pixels: int, lit: bool) -> relief.Factor:
        return relief.rolled(float(width), pixels, lit)

    return Frame(Fraction(0), width, True, shade)


def marks(lengths: Iterable[Fraction], ppi: float) -> list[int]:
    """Pixel edges of stretches laid end to end, each rounded from its exact place."""
    found, total = [0], Fraction(0)
    for length in lengths:
        total += length
        found.append(round(float(total) * ppi))
    return found


def draw_frame(
    light: Light,
    frame: Frame,
    cloth: Light,
    size: tuple[Fraction, Fraction],
    ppi: float,
    rng: np.random.Generator,
) -> None:
    """Draw the frame into the picture of a piece ``size`` inches large, in place.

    Butted: the sides lie between top and bottom. Mitred: all four meet on the diagonal.
    """
    x, y = (
        marks([frame.inset, frame.width, side - 2 * (frame.inset + frame.width), frame.width], ppi)
        for side in size
    )
    window = light[y[1] : y[4], x[1] : x[4]]
    depths = (y[2] - y[1], x[4] - x[3], y[4] - y[3], x[2] - x[1])
    for turn in (1, 3, 0, 2):
        deep = depths[turn]
        if deep:
            turned = np.rot90(window, turn)[:deep]
            strip = long_strip(cloth, turned.shape[1], deep, rng)
            strip = strip * frame.shade(deep, turn in _LIT)[:, None, None]
            if frame.mitred:
                _mitre(turned, strip, ppi)
            else:
                turned[:] = strip


def _mitre(side: Light, strip: Light, ppi: float) -> None:
    """Lay the strip over its side, cut off at 45° at both ends, the folds a little darker."""
    deep, long = side.shape[:2]
    depth, place = np.arange(deep)[:, None], np.arange(long)[None, :]
    from_end = np.minimum(place, long - 1 - place)
    fold = np.exp(-(((from_end - depth) / (_FOLD_WIDTH * ppi + 0.4)) ** 2))
    shaded = strip * (1 - _FOLD * fold).astype(np.float32)[..., None]
    own = from_end >= depth
    side[own] = shaded[own]
