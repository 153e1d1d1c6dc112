"""Borders and binding: four long strips round what they frame, butted or mitred."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from sequencer.models import Plan
from sequencer.rendering import relief
from sequencer.rendering.growing import long_strip
from sequencer.rendering.placing import Geometry, borders, covered, frame_width, marks
from sequencer.rendering.textures import Light, chance

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


def framing(plan: Plan) -> list[str]:
    """The prints of borders and binding."""
    names = [str(border["print"]) for border in borders(plan)]
    return [*names, str(plan.binding["print"])] if plan.binding else names


def draw_edges(plan: Plan, places: Geometry, cloths: Mapping[str, Light]) -> Light:
    """Borders and binding of the whole piece, (height, width, 3), its centre left black."""
    light = np.zeros((places.height, places.width, 3), dtype=np.float32)
    inset, shown = frame_width(plan), []
    for border in borders(plan):
        inset -= Fraction(border["width"])
        shown.append((str(border["print"]), _border_frame(border, inset)))
    if plan.binding:
        shown.append((str(plan.binding["print"]), _binding_frame(plan)))
    for turn, (name, frame) in enumerate(shown):
        _draw(light, frame, cloths[name], places.ppi, chance(f"{name} {turn}"))
    return light


def _border_frame(border: Mapping[str, Any], inset: Fraction) -> Frame:
    """A flat border with a seam along its inner edge."""
    width = Fraction(border["width"])

    def shade(pixels: int, lit: bool) -> relief.Factor:
        if lit:
            return relief.across(float(width), pixels, 0.0, 1.0)
        return relief.across(float(width), pixels, 1.0, 0.0)[::-1]

    return Frame(inset, width, border.get("corners") == "mitred", shade)


def _binding_frame(plan: Plan) -> Frame:
    """The rolled edge, mitred at the corners."""
    width = covered(plan)

    def shade(pixels: int, lit: bool) -> relief.Factor:
        return relief.rolled(float(width), pixels, lit)

    return Frame(Fraction(0), width, True, shade)


def _draw(light: Light, frame: Frame, cloth: Light, ppi: float, rng: np.random.Generator) -> None:
    """Draw the frame into the picture of the whole piece, in place.

    Butted: the sides lie between top and bottom. Mitred: all four meet on the diagonal.
    """
    outer, inner = marks([frame.inset, frame.width], ppi)[1:]
    height, width = light.shape[:2]
    window = light[outer : height - outer, outer : width - outer]
    deep = inner - outer
    for turn in (1, 3, 0, 2) if deep else ():
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
