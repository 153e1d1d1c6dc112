"""The finished piece as a picture: photographed cloth at true scale, seams, border, binding."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from PIL import Image

from sequencer.errors import SheetError, UsageError
from sequencer.models import Plan, Print
from sequencer.rendering.edges import binding_frame, border_frame, borders, covered, draw_frame
from sequencer.rendering.patchwork import lay_out, lay_print, light_seams
from sequencer.rendering.textures import Light, cloth_at, encode, smooth_noise
from sequencer.rendering.views import ACROSS_ROOM, as_seen_by, as_value, from_afar

VIEWS = ("colour", "value", "protan", "deutan", "tritan", "across-room")
MOST_PIXELS = 12_000_000
"""Pictures larger than this are drawn at fewer pixels an inch; ``info["ppi"]`` says how many."""


def picture_size(plan: Plan) -> tuple[Fraction, Fraction]:
    """Width and height in inches of the finished piece, edge to edge, binding included."""
    rim = 2 * covered(plan)
    return plan.bordered[0] + rim, plan.bordered[1] + rim


def drawn_ppi(plan: Plan, ppi: float = 100) -> float:
    """Pixels an inch that :func:`render` will use: as asked, or fewer for a very large piece."""
    if not math.isfinite(ppi) or ppi <= 0:
        raise UsageError(f"Pixels an inch must be more than zero, not {ppi}.")
    width, height = (float(side) for side in picture_size(plan))
    return min(float(ppi), math.sqrt(MOST_PIXELS / (width * height)))


def render(
    plan: Plan,
    prints: Sequence[Print],
    ppi: float = 100,
    view: str = "colour",
    distance: float = ACROSS_ROOM,
) -> Image.Image:
    """Draw the finished piece, sRGB, ``ppi`` pixels an inch (fewer beyond 12 megapixels).

    Each patch shows its own stretch of its print's swatch at true scale. A swatch without scale
    is taken to show 5 in of cloth along its short side; a print without swatch is drawn from its
    palette. The same plan and prints give the same picture. ``info["ppi"]`` holds the scale used.

    Args:
        plan: what to draw.
        prints: every print the plan names, with swatches.
        ppi: pixels an inch of the finished piece.
        view: colour, value (grey of the same L*), protan, deutan, tritan (Machado 2009) or
            across-room (the spatial filters of S-CIELAB).
        distance: viewing distance for across-room, inches.

    Raises:
        UsageError: an unknown view, or a scale or distance that is not a positive number.
        SheetError: the plan names a print that is not given.
    """
    if view not in VIEWS:
        raise UsageError(f"There is no view '{view}'. Choose from {', '.join(VIEWS)}.")
    if not math.isfinite(distance) or distance <= 0:
        raise UsageError(f"The viewing distance must be more than zero inches, not {distance}.")
    scale = drawn_ppi(plan, ppi)
    light = _piece(plan, _known(plan, prints), scale)
    picture = Image.fromarray(encode(_seen(light, view, scale, distance)))
    picture.info["ppi"] = scale
    picture.info["dpi"] = (scale, scale)
    return picture


def _seen(light: Light, view: str, ppi: float, distance: float) -> Light:
    if view == "colour":
        return light
    if view == "value":
        return as_value(light)
    if view == "across-room":
        return from_afar(light, ppi, distance)
    return as_seen_by(light, view)


def _known(plan: Plan, prints: Sequence[Print]) -> dict[str, Print]:
    """The prints the plan names, those that frame it after those that are cut into patches."""
    known = {cloth.id: cloth for cloth in prints}
    needed = dict.fromkeys([*plan.prints, *_framing(plan)])
    missing = [key for key in needed if key not in known]
    if missing:
        raise SheetError(
            f"The plan uses {', '.join(missing)}, which is not among the prints given. "
            "Plan again after adding or dropping prints."
        )
    return {key: known[key] for key in needed}


def _framing(plan: Plan) -> list[str]:
    names = [border["print"] for border in borders(plan)]
    return [*names, plan.binding["print"]] if plan.binding else names


def _piece(plan: Plan, prints: dict[str, Print], ppi: float) -> Light:
    rng = np.random.default_rng(_seed(plan))
    size = picture_size(plan)
    width, height = (max(1, round(float(side) * ppi)) for side in size)
    light = np.zeros((height, width, 3), dtype=np.float32)
    inset = (size[0] - plan.centre[0]) / 2
    layout = lay_out(plan, inset, ppi)
    framing: dict[str, Light] = {}
    for key, one in prints.items():
        cloth = cloth_at(one, ppi)
        if key in plan.prints:
            lay_print(light, plan, layout, key, cloth, ppi, rng)
        if key in _framing(plan):
            framing[key] = cloth
    light_seams(light, plan, layout)
    for border in borders(plan):
        inset -= Fraction(border["width"])
        draw_frame(light, border_frame(border, inset), framing[border["print"]], size, ppi, rng)
    if plan.binding:
        draw_frame(light, binding_frame(plan), framing[plan.binding["print"]], size, ppi, rng)
    light *= _room_light(height, width, ppi, rng)
    return np.clip(light, 0.0, 1.0, out=light)


def _seed(plan: Plan) -> int:
    text = f"{plan.prints}{plan.columns}{plan.bordered}{plan.seam}"
    return zlib.crc32(text.encode())


def _room_light(height: int, width: int, ppi: float, rng: np.random.Generator) -> Light:
    """Light from the upper left, on cloth that lies nearly flat: a few hundredths up and down."""
    down = np.linspace(0.5, -0.5, height, dtype=np.float32)[:, None]
    along = np.linspace(0.5, -0.5, width, dtype=np.float32)[None, :]
    slow = smooth_noise(rng, height, width, max(2.0, 2.2 * ppi))
    quick = smooth_noise(rng, height, width, max(2.0, 0.35 * ppi))
    level = 1 + 0.035 * (down + along) + 0.012 * slow + 0.008 * quick
    return np.asarray(level, dtype=np.float32)[..., None]
