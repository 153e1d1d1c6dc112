"""The finished piece as a picture: photographed cloth at true scale, seams, border, binding."""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
from PIL import Image

from sequencer.errors import SheetError, UsageError
from sequencer.models import Plan, Print
from sequencer.render import relief
from sequencer.render.cutting import Cutter, cutters, long_strip
from sequencer.render.textures import Light, cloth_at, encode, smooth_noise
from sequencer.render.views import ACROSS_ROOM, as_seen_by, as_value, from_afar

VIEWS = ("colour", "value", "protan", "deutan", "tritan", "across-room")
MOST_PIXELS = 12_000_000
"""Pictures larger than this are drawn at fewer pixels an inch; ``info["ppi"]`` says how many."""
_NESTED = 0.45


def picture_size(plan: Plan) -> tuple[Fraction, Fraction]:
    """Width and height in inches of the finished piece, edge to edge, binding included."""
    rim = 2 * _covers(plan)
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
    light = _piece(plan, _cloths(plan, prints, scale), scale)
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


def _cloths(plan: Plan, prints: Sequence[Print], ppi: float) -> dict[str, Light]:
    known = {cloth.id: cloth for cloth in prints}
    framing = [border["print"] for border in borders(plan)]
    binding = [plan.binding["print"]] if plan.binding else []
    needed = dict.fromkeys([*plan.prints, *framing, *binding])
    missing = [key for key in needed if key not in known]
    if missing:
        raise SheetError(
            f"The plan uses {', '.join(missing)}, which is not among the prints given. "
            "Plan again after adding or dropping prints."
        )
    return {key: cloth_at(known[key], ppi) for key in needed}


def borders(plan: Plan) -> list[Mapping[str, Any]]:
    """The plan's borders from the inside out, as a list (empty without)."""
    if not plan.border:
        return []
    return list(plan.border.get("borders") or [plan.border])


def _covers(plan: Plan) -> Fraction:
    if not plan.binding:
        return Fraction(0)
    return Fraction(plan.binding.get("covers", plan.seam))


def _marks(lengths: Iterable[Fraction], ppi: float) -> list[int]:
    """Pixel edges of stretches laid end to end, each rounded from its exact place."""
    marks, total = [0], Fraction(0)
    for length in lengths:
        total += length
        marks.append(round(float(total) * ppi))
    return marks


def _piece(plan: Plan, cloths: dict[str, Light], ppi: float) -> Light:
    rng = np.random.default_rng(_seed(plan))
    width, height = (max(1, round(float(side) * ppi)) for side in picture_size(plan))
    light = np.zeros((height, width, 3), dtype=np.float32)
    rim = _covers(plan)
    inset = rim + sum((Fraction(border["width"]) for border in borders(plan)), Fraction(0))
    _patchwork(light, plan, cutters(plan, cloths, ppi, rng), ppi, inset)
    for border in borders(plan):
        inset -= Fraction(border["width"])
        _border(light, plan, cloths[border["print"]], ppi, inset, Fraction(border["width"]), rng)
    if rim:
        assert plan.binding is not None
        _binding(light, cloths[plan.binding["print"]], ppi, float(rim), rng)
    light *= _room_light(height, width, ppi, rng)
    return np.clip(light, 0.0, 1.0, out=light)


def _seed(plan: Plan) -> int:
    text = f"{plan.prints}{plan.columns}{plan.bordered}{plan.seam}"
    return zlib.crc32(text.encode())


def _patchwork(
    light: Light, plan: Plan, cutter: dict[str, Cutter], ppi: float, inset: Fraction
) -> None:
    """Draw every patch, column after column, and the light on its seams."""
    lefts = _marks([inset, *(column.finished_width for column in plan.columns)], ppi)[1:]
    for c, column in enumerate(plan.columns):
        names = [plan.patch_print(row, c) for row in range(plan.rows)]
        heights = [Fraction(plan.finished_strip[name]) for name in names]
        tops = _marks([inset, *heights], ppi)[1:]
        left, right = lefts[c], lefts[c + 1]
        if right <= left:
            continue
        side = relief.across(float(column.finished_width), right - left)
        down = _column_light(plan, c, [float(h) for h in heights], tops)
        for name, top, bottom in zip(names, tops[:-1], tops[1:], strict=True):
            patch = cutter[name].next_patch(float(column.cut_width), right - left, bottom - top)
            light[top:bottom, left:right] = patch
        light[tops[0] : tops[-1], left:right] *= down[:, None, None] * side[None, :, None]


def _column_light(
    plan: Plan, c: int, heights: list[float], tops: list[int]
) -> relief.Factor:
    """Shading down a column. Seams pressed to one side stand out on that side only."""
    upper = lower = 1.0
    if plan.press != "open":
        lean = _NESTED if c % 2 else -_NESTED
        upper, lower = 1 + lean, 1 - lean
    parts = [
        relief.across(height, bottom - top, upper, lower)
        for height, top, bottom in zip(heights, tops[:-1], tops[1:], strict=True)
        if bottom > top
    ]
    return np.concatenate(parts)


def _border(
    light: Light,
    plan: Plan,
    cloth: Light,
    ppi: float,
    inset: Fraction,
    width: Fraction,
    rng: np.random.Generator,
) -> None:
    """A butted border: the sides reach from top to bottom of what they frame, then top, bottom."""
    full_w, full_h = picture_size(plan)
    x = _marks([inset, width, full_w - 2 * inset - 2 * width, width], ppi)[1:]
    y = _marks([inset, width, full_h - 2 * inset - 2 * width, width], ppi)[1:]
    wide = float(width)
    for left, right in ((x[0], x[1]), (x[2], x[3])):
        size = (y[2] - y[1], right - left)
        outer_left = left == x[0]
        strip = np.rot90(long_strip(cloth, size[0], size[1], rng))
        shade = relief.across(wide, size[1], 0.0 if outer_left else 1.0, 1.0 if outer_left else 0.0)
        light[y[1] : y[2], left:right] = strip * shade[None, :, None]
    for top, bottom in ((y[0], y[1]), (y[2], y[3])):
        size = (bottom - top, x[3] - x[0])
        outer_top = top == y[0]
        strip = long_strip(cloth, size[1], size[0], rng)
        shade = relief.across(wide, size[0], 0.0 if outer_top else 1.0, 1.0 if outer_top else 0.0)
        light[top:bottom, x[0] : x[3]] = strip * shade[:, None, None]


def _binding(
    light: Light, cloth: Light, ppi: float, covers: float, rng: np.random.Generator
) -> None:
    """A rolled edge all round, mitred at the corners."""
    deep = max(1, round(covers * ppi))
    for turn in range(4):
        turned = np.rot90(light, turn)
        strip = long_strip(cloth, turned.shape[1], deep, rng).copy()
        strip *= relief.rolled(covers, deep, towards_light=turn in (0, 3))[:, None, None]
        depth = np.arange(deep)[:, None]
        place = np.arange(turned.shape[1])[None, :]
        from_end = np.minimum(place, turned.shape[1] - 1 - place)
        fold = np.exp(-(((from_end - depth) / (0.012 * ppi + 0.4)) ** 2))
        strip *= (1 - 0.2 * fold * (from_end < deep)).astype(np.float32)[..., None]
        own = from_end >= depth
        turned[:deep][own] = strip[own]


def _room_light(height: int, width: int, ppi: float, rng: np.random.Generator) -> Light:
    """Light from the upper left, on cloth that lies nearly flat: a few hundredths up and down."""
    down = np.linspace(0.5, -0.5, height, dtype=np.float32)[:, None]
    along = np.linspace(0.5, -0.5, width, dtype=np.float32)[None, :]
    slow = smooth_noise(rng, height, width, max(2.0, 2.2 * ppi))
    quick = smooth_noise(rng, height, width, max(2.0, 0.35 * ppi))
    level = 1 + 0.035 * (down + along) + 0.012 * slow + 0.008 * quick
    return np.asarray(level, dtype=np.float32)[..., None]
