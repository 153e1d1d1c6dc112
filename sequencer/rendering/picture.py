"""The finished piece as a picture: photographed cloth at true scale, seams, border, binding.

It is sewn from bands (one a print) and laid into its frame; :func:`render` does nothing else, so
whoever sews the same bands in the same frame holds the same picture, bit for bit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction

import numpy as np
from PIL import Image

from sequencer import doors
from sequencer.colour import srgb8_to_linear
from sequencer.errors import SheetError, UsageError
from sequencer.models import Pixels, Plan, Print
from sequencer.rendering.edges import draw_edges, framing
from sequencer.rendering.patchwork import band, columns_of, sew
from sequencer.rendering.placing import Geometry, check_ppi, covered, geometry, whole_ppi
from sequencer.rendering.textures import Cloth, Light, cloth_at, encode, light_of, resized, woven
from sequencer.rendering.views import ACROSS_ROOM, as_seen_by, as_value, from_afar

BAND_VIEWS = ("colour", "value", "protan", "deutan", "tritan")
"""Views that work pixel by pixel, and so on bands."""
VIEWS = (*BAND_VIEWS, "across-room")
MOST_PIXELS = 12_000_000
"""Pictures larger than this are drawn at fewer pixels an inch; ``info["ppi"]`` says how many."""
_FINER = 1.5
"""So many times finer at most is drawn what is then reduced to the scale asked for."""
_FEW_PIXELS = 1_000_000

ClothAt = Callable[[Print, float, str], Cloth]
"""Gives a print's cloth at so many pixels an inch in a view; whoever keeps cloth gives its own."""


def cloth_seen(cloth: Print, ppi: float, view: str) -> Cloth:
    """The print at ``ppi`` as one of BAND_VIEWS shows it."""
    return woven(_seen(cloth_at(cloth, ppi), view))


def picture_size(plan: Plan) -> tuple[Fraction, Fraction]:
    """Width and height in inches of the finished piece, edge to edge, binding included."""
    rim = 2 * covered(plan)
    return plan.bordered[0] + rim, plan.bordered[1] + rim


def drawn_ppi(plan: Plan, ppi: float = 100) -> float:
    """Pixels an inch that :func:`render` will use: as asked, or fewer for a very large piece."""
    check_ppi(ppi)
    width, height = (float(side) for side in picture_size(plan))
    return min(float(ppi), math.sqrt(MOST_PIXELS / (width * height)))


def bands(
    plan: Plan, prints: Sequence[Print], ppi: float, view: str = "colour",
    cloth: ClothAt = cloth_seen,
) -> dict[str, Pixels]:
    """For each print of the plan its band, sRGB with alpha 255: (repeats × strip, width, 4).

    Its pixels lie as :func:`~sequencer.rendering.placing.geometry` says; the strip of repeat 0
    comes first. :func:`~sequencer.rendering.patchwork.sew` makes the centre of them. A band
    changes with widths, repeats, seam and scale, not with order or offsets.

    Raises:
        UsageError: a view that is not one of pixel by pixel, or no usable scale.
        SheetError: the plan names a print that is not given.
    """
    places, known = geometry(plan, ppi), _known(plan.prints, prints)
    _check_view(view, BAND_VIEWS)
    columns = columns_of(plan, places)
    return {
        key: band(plan, places, columns, key, cloth(one, ppi, view))
        for key, one in known.items()
    }


def frame(
    plan: Plan, prints: Sequence[Print], ppi: float, view: str = "colour",
    cloth: ClothAt = cloth_seen,
) -> Pixels:
    """Borders and binding, (height, width, 4), sRGB with alpha; the centre is transparent.

    Raises:
        UsageError, SheetError: as for :func:`bands`.
    """
    places, known = geometry(plan, ppi), _known(framing(plan), prints)
    _check_view(view, BAND_VIEWS)
    cloths = {key: light_of(cloth(one, ppi, view)) for key, one in known.items()}
    edges = np.full((places.height, places.width, 4), 255, dtype=np.uint8)
    edges[..., :3] = encode(draw_edges(plan, places, cloths))
    x, y, width, height = places.centre
    edges[y : y + height, x : x + width] = 0
    return edges


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
    Where a strip or column would not be whole pixels it is drawn finer and then reduced.

    Args:
        plan: what to draw.
        prints: every print the plan names, with swatches.
        ppi: pixels an inch of the finished piece.
        view: colour, value (grey of the same L*), protan, deutan, tritan (Machado 2009) or
            across-room (the spatial filters of S-CIELAB).
        distance: viewing distance for across-room, inches.

    Raises:
        UsageError: an unknown view, a scale or distance that is not a positive number, or what is
            no plan and no prints.
        SheetError: the plan names a print that is not given.
    """
    plan, prints = doors.plan(plan), doors.prints(prints)
    _check_view(doors.word("view", view), VIEWS)
    doors.above_zero("distance", distance, "inches")
    _known([*plan.prints, *framing(plan)], prints)
    scale = drawn_ppi(plan, ppi)
    pixels = _piece(plan, prints, scale, view if view in BAND_VIEWS else "colour")
    if view == "across-room":
        pixels = encode(from_afar(srgb8_to_linear(pixels), scale, distance))
    picture = Image.fromarray(pixels)
    picture.info["ppi"] = scale
    picture.info["dpi"] = (scale, scale)
    return picture


def _piece(plan: Plan, prints: Sequence[Print], ppi: float, view: str) -> Pixels:
    """The whole piece (h, w, 3) at exactly this scale."""
    width, height = (max(1, round(float(side) * ppi)) for side in picture_size(plan))
    finer = _drawing_ppi(plan, ppi)
    places = geometry(plan, finer)
    if (places.width, places.height) == (width, height):
        return _sewn(plan, prints, places, view)
    # Reduced first and looked at afterwards: a clipped overshoot is not the same in every view.
    return encode(_seen(resized(_sewn(plan, prints, places, "colour"), width, height), view))


def _sewn(plan: Plan, prints: Sequence[Print], places: Geometry, view: str) -> Pixels:
    whole = frame(plan, prints, places.ppi, view)
    x, y, wide, tall = places.centre
    centre = sew(bands(plan, prints, places.ppi, view), places, plan.prints)
    whole[y : y + tall, x : x + wide] = centre
    return np.ascontiguousarray(whole[..., :3])


def _drawing_ppi(plan: Plan, ppi: float) -> float:
    """The least scale from ``ppi`` on at which everything is whole pixels, if it is near."""
    unit = whole_ppi(plan)
    whole = float(math.ceil(Fraction(ppi).limit_denominator(10_000) / unit) * unit)
    across, down = (float(side) for side in picture_size(plan))
    near = whole <= _FINER * ppi or across * down * whole**2 <= _FEW_PIXELS
    return whole if near else _FINER * ppi


def _seen(light: Light, view: str) -> Light:
    if view == "colour":
        return light
    return as_value(light) if view == "value" else as_seen_by(light, view)


def _check_view(view: str, among: Sequence[str]) -> None:
    if view not in among:
        raise UsageError(f"There is no view '{view}'. Choose from {', '.join(among)}.")


def _known(names: Iterable[str], prints: Sequence[Print]) -> dict[str, Print]:
    known = {cloth.id: cloth for cloth in prints}
    needed = dict.fromkeys(names)
    missing = [key for key in needed if key not in known]
    if missing:
        raise SheetError(
            f"The plan uses {', '.join(missing)}, which is not among the prints given. "
            "Plan again after adding or dropping prints."
        )
    return {key: known[key] for key in needed}
