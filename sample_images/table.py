"""Things laid on a table: scraps with frayed edges, a sheet of paper, a card; and their shadows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from camera import View
from cloth import THREADS, Cloth, Field, enlarge, weave, wrinkles
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from prints import RECIPES, draw
from scipy import ndimage

PPI = 300.0
"""Pixels an inch at which cloth is made before it is photographed."""
MARGIN = 0.5
"""Inches round a thing kept free for its fringe and loose threads."""


@dataclass(frozen=True)
class Thing:
    """Something flat: its light (h, w, 3) and cover (h, w) at ``PPI``, with the margin round it.

    ``lift``: how far its edge stands off the table, in inches, for the shadow.
    """

    width: float
    height: float
    light: Field
    cover: Field
    lift: float


def printed(name: str, width: float, height: float, ppi: float, seed: int) -> Field:
    """The print's light at ``ppi``, dye only, computed where ink on thread can be no sharper."""
    coarse = Cloth(width, height, min(ppi, 150.0), seed)
    flat = draw(RECIPES[name], coarse)
    return enlarge(flat, (round(height * ppi), round(width * ppi)))


def scrap(name: str, width: float, height: float, seed: int) -> Thing:
    """A scrap of ``name`` cut to width × height inches, frayed all round."""
    full_w, full_h = width + 2 * MARGIN, height + 2 * MARGIN
    cloth = Cloth(full_w, full_h, PPI, seed + 1000)
    threads, gaps = weave(cloth)
    body = printed(name, full_w, full_h, PPI, seed)[: threads.shape[0], : threads.shape[1]]
    light = body * threads[..., None] * wrinkles(cloth, 0.14)[..., None]
    cover = _frayed(cloth, width, height, gaps)
    light, cover = _loose_threads(cloth, light, cover, width, height)
    return Thing(width, height, light, cover, 0.02)


def _frayed(cloth: Cloth, width: float, height: float, gaps: Field) -> Field:
    """Cover with a fringe: past the last cross thread only every thread's own end is left."""
    rng = cloth.rng
    wobble = [0.012 * cloth.noise(1.5, 2) for _ in range(2)]
    x = np.abs(cloth.x - width / 2 - MARGIN + wobble[0]) - width / 2
    y = np.abs(cloth.y - height / 2 - MARGIN + wobble[1]) - height / 2
    side = (cloth.x > width / 2 + MARGIN).astype(int) * 499
    end = (cloth.y > height / 2 + MARGIN).astype(int) * 499
    weft = np.floor(THREADS[1] * cloth.y + 0.6 * cloth.noise(0.25, 2)).astype(int)
    warp = np.floor(THREADS[0] * cloth.x + 0.6 * cloth.noise(0.25, 2)).astype(int)
    lengths = (0.004 + 0.026 * rng.random(1009) ** 3).astype(np.float32)
    lengths[rng.random(1009) < 0.02] += 0.09
    out_x = np.clip((lengths[(weft + side) % 1009] - x) * PPI, 0, 1)
    out_y = np.clip((lengths[(warp + end) % 1009] - y) * PPI, 0, 1)
    cover = np.minimum(out_x, out_y)
    beyond = np.clip(np.maximum(x, y) / 0.006, 0, 1)
    return (cover * (1 - beyond * 0.75 * gaps)).astype(np.float32)


def _loose_threads(
    cloth: Cloth, light: Field, cover: Field, width: float, height: float
) -> tuple[Field, Field]:
    """A few threads that came away and lie along or off the edge, in the cloth's own colours."""
    rng = cloth.rng
    shape = cover.shape
    sheet = Image.new("L", (shape[1] * 2, shape[0] * 2), 0)
    pen = ImageDraw.Draw(sheet)
    for _ in range(rng.integers(7, 13)):
        start, heading = _on_edge(rng, width, height)
        steps = int(rng.integers(12, 40))
        turn = np.cumsum(rng.normal(0, 0.16, steps) + rng.normal(0, 0.05))
        walk = np.cumsum(np.column_stack([np.cos(heading + turn), np.sin(heading + turn)]), axis=0)
        path = (start + walk * 0.012 + MARGIN) * PPI * 2
        pen.line([tuple(p) for p in path], fill=255, width=int(rng.integers(4, 7)), joint="curve")
    mark = np.asarray(sheet.resize((shape[1], shape[0]), Image.Resampling.BOX), np.float32) / 255
    inside = np.clip(cover, 0, 1)
    shade = light[inside > 0.9].mean(axis=0) * np.float32(1.04)
    loose = mark * (1 - inside)
    light = light * (1 - loose[..., None]) + shade * loose[..., None]
    return light, np.maximum(inside, mark)


def _on_edge(
    rng: np.random.Generator, width: float, height: float
) -> tuple[NDArray[np.float64], float]:
    side = int(rng.integers(4))
    place = rng.uniform(0.05, 0.95)
    slant = rng.normal(0, 0.9)
    starts = [(place * width, 0.0), (width, place * height), (place * width, height),
              (0.0, place * height)]
    headings = [-np.pi / 2, 0.0, np.pi / 2, np.pi]
    return np.array(starts[side]), headings[side] + slant


def paper(width: float, height: float, seed: int) -> Thing:
    """A white sheet: 90 % of the light, barely uneven."""
    cloth = Cloth(width + 2 * MARGIN, height + 2 * MARGIN, 100.0, seed)
    flat = 0.9 * (1 + 0.006 * cloth.noise(0.05, 2) + 0.012 * np.tanh(cloth.noise(4.0, 1)))
    light = np.stack([flat * 0.995, flat, flat * 1.008], axis=-1)
    return _plain(width, height, light, 0.0, 0.015)


def card(width: float, height: float, radius: float, seed: int) -> Thing:
    """A plain plastic card with rounded corners and a faint sheen across it."""
    cloth = Cloth(width + 2 * MARGIN, height + 2 * MARGIN, 100.0, seed)
    sheen = np.exp(-(((cloth.x + 0.6 * cloth.y - 2.2) / 0.8) ** 2))
    colour = np.array([0.038, 0.062, 0.075], dtype=np.float32)
    light = colour * (1 + 0.02 * cloth.noise(0.02, 1))[..., None] + 0.025 * sheen[..., None]
    return _plain(width, height, light, radius, 0.03)


def _plain(width: float, height: float, light: Field, radius: float, lift: float) -> Thing:
    rows, columns = round((height + 2 * MARGIN) * PPI), round((width + 2 * MARGIN) * PPI)
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    qx = np.abs((x + 0.5) / PPI - width / 2 - MARGIN) - width / 2 + radius
    qy = np.abs((y + 0.5) / PPI - height / 2 - MARGIN) - height / 2 + radius
    outside = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0)) + np.minimum(np.maximum(qx, qy), 0)
    cover = np.clip(0.5 - (outside - radius) * PPI, 0, 1)
    return Thing(width, height, enlarge(light, (rows, columns)), cover, lift)


def corners(thing: Thing, centre: tuple[float, float], degrees: float) -> NDArray[np.float64]:
    """The four cut corners on the table, clockwise from top left, in inches."""
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [thing.width / 2, thing.height / 2]
    a = np.radians(degrees)
    return half @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + centre


def lay(
    table: Field, view: View, thing: Thing, centre: tuple[float, float], degrees: float
) -> None:
    """Put the thing on the photographed table, in place: its shadow first, then itself."""
    grown = Thing(thing.width + 2 * MARGIN, thing.height + 2 * MARGIN, thing.light, thing.cover, 0)
    box = view.pixels(corners(grown, centre, degrees))
    left, top = np.clip(np.floor(box.min(axis=0)).astype(int), 0, None)
    right, bottom = np.minimum(np.ceil(box.max(axis=0)).astype(int), [view.width, view.height])
    y, x = np.mgrid[top:bottom, left:right].astype(np.float32)
    table_x, table_y = view.inches(x + 0.5, y + 0.5)
    a = np.radians(degrees)
    dx, dy = table_x - centre[0], table_y - centre[1]
    local_x = (np.cos(a) * dx + np.sin(a) * dy + grown.width / 2) * PPI - 0.5
    local_y = (-np.sin(a) * dx + np.cos(a) * dy + grown.height / 2) * PPI - 0.5
    where = np.stack([local_y, local_x])
    ppi = float(np.ptp(box[:, 0])) / float(np.ptp(corners(grown, centre, degrees)[:, 0]))
    soften = 0.38 * PPI / ppi
    cover = _sample(thing.cover, where, soften)
    window = table[top:bottom, left:right]
    window *= _shadow(cover, thing.lift * ppi)[..., None]
    for k in range(3):
        colour = _sample(thing.light[..., k], where, soften)
        window[..., k] += (colour - window[..., k]) * cover


def _sample(plane: Field, where: Field, soften: float) -> Field:
    soft = ndimage.gaussian_filter(plane, soften)
    return ndimage.map_coordinates(soft, where, order=1, mode="constant")


def _shadow(cover: Field, lift: float) -> Field:
    """Light left beside a thing: a tight dark line where it touches, a softer one beyond."""
    near, far = (
        ndimage.gaussian_filter(ndimage.shift(cover, (lift * off, lift * off * 0.7), order=1), blur)
        for off, blur in ((0.7, lift * 0.7), (2.2, lift * 2.4))
    )
    return 1 - 0.34 * near - 0.22 * far
