"""The thirteen prints of the Lanternwick box, each a recipe of dyes and a motif.

Eleven make a ring: each takes some of its colour from the print before and hands some to the
print after, from foam down to the night ferry and back up to shell. Kelp and oilskin stand
outside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from cloth import Cloth, Field, blotches, dye

Lab = tuple[float, float, float]

RING: dict[str, Lab] = {
    "foam": (91, -5, 0),
    "shallows": (77, -24, -9),
    "channel": (60, -24, -27),
    "deepwater": (42, -3, -42),
    "nightferry": (22, 9, -32),
    "mussel": (32, 26, -31),
    "dusk": (43, 40, -17),
    "thrift": (58, 47, 3),
    "lantern": (67, 37, 39),
    "sandbar": (79, 11, 43),
    "shell": (89, 4, 13),
}
"""Main colour of each print of the ring, CIELAB D65."""
KELP: Lab = (42, -13, 34)
OILSKIN: Lab = (80, 4, 78)
INK: Lab = (14, 0, -4)

Motif = Callable[[Cloth, list[Field], Field], tuple[list[Field], Field]]


@dataclass(frozen=True)
class Recipe:
    """``colours`` with ``shares``; blotch size and softness; unevenness of the dye; the motif."""

    colours: tuple[Lab, ...]
    shares: tuple[float, ...]
    motif: Motif
    blotch: float = 1.3
    swirl: float = 0.45
    softness: float = 0.35
    mottle: float = 0.16
    fronts: float = 0.18


def draw(recipe: Recipe, cloth: Cloth) -> Field:
    """Light the print gives back, (h, w, 3) linear, before the threads are laid over it."""
    at = cloth.flow(recipe.blotch * 1.2, recipe.swirl)
    fields = [cloth.noise(recipe.blotch, 5, at) for _ in recipe.colours]
    weights, meeting = blotches(fields, list(recipe.shares), recipe.softness)
    strength = np.exp(
        recipe.mottle * cloth.noise(0.5, 4, at) + 0.45 * recipe.mottle * cloth.noise(0.05, 3)
    )
    strength = strength * (1 + recipe.fronts * meeting)
    weights, strength = recipe.motif(cloth, weights, strength)
    return dye(weights, list(recipe.colours), strength)


def _soft(distance: Field, width: float) -> Field:
    """1 inside (negative distance), 0 outside, over ``width`` inches."""
    return 1 / (1 + np.exp(np.clip(distance / (width / 4), -30, 30)))


def _towards(weights: list[Field], k: int, amount: Field) -> list[Field]:
    return [w * (1 - amount) + (amount if i == k else 0) for i, w in enumerate(weights)]


def bubbles(spacing: float, low: float, high: float, resist: float) -> Motif:
    """Round marks of many sizes where a resist kept the dye out; rims a little darker."""

    def motif(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
        for size in (1.0, 0.55, 0.3):
            where = cloth.points(spacing * size)
            where = where[cloth.rng.random(len(where)) < 0.55]
            radius = cloth.rng.uniform(low, high, len(where)) * size
            inside, rim = _discs(cloth, where, radius, 0.02)
            strength = strength * (1 - resist * inside) * (1 + 0.25 * rim)
        return weights, strength

    return motif


def _discs(
    cloth: Cloth, where: np.ndarray, radius: np.ndarray, edge: float
) -> tuple[Field, Field]:
    from scipy.spatial import cKDTree

    at = np.stack([cloth.x + 0.012 * cloth.noise(0.15, 2), cloth.y + 0.012 * cloth.noise(0.15, 2)],
                  axis=-1).reshape(-1, 2)
    distance, index = cKDTree(where).query(at, k=1)
    off = (distance - radius[index]).astype(np.float32).reshape(cloth.x.shape)
    return _soft(off, edge), np.exp(-((off / (edge * 0.9)) ** 2))


def caustics(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """The net of light on a sandy bottom: thin bright cell borders, swollen at the corners."""
    at = cloth.flow(0.9, 0.16)
    border, _ = cloth.cells(0.85, at)
    net = np.exp(-((border / 0.055) ** 1.3)) * (0.75 + 0.25 * cloth.noise(0.5, 2))
    fine, _ = cloth.cells(0.4, at)
    net = net + 0.35 * np.exp(-((fine / 0.03) ** 1.3))
    return weights, strength * (1 - 0.55 * np.clip(net, 0, 1))


def crackle(spacing: float, width: float, into: int, amount: float) -> Motif:
    """Wax that broke in the vat: dye ``into`` seeps along the cracks, some wider than others."""

    def motif(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
        at = cloth.flow(0.5, 0.07)
        seep = np.zeros_like(cloth.x)
        for size, part in ((1.0, 1.0), (0.42, 0.6)):
            border, _ = cloth.cells(spacing * size, at)
            thick = width * size * np.exp(0.5 * cloth.noise(0.6, 2))
            open_here = _soft(-cloth.noise(0.8, 2) - 0.4, 1.2)
            line = np.exp(-((border / thick) ** 2)) + 0.35 * np.exp(-border / (2.6 * thick))
            seep = np.maximum(seep, part * open_here * line)
        seep = np.clip(seep * amount, 0, 1)
        return _towards(weights, into, seep), strength * (1 + 0.25 * seep)

    return motif


def ripples(period: float, bend: float, thin: float, resist: float) -> Motif:
    """Fine drawn lines that follow one another over uneven ground and fade in and out."""

    def motif(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
        phase = cloth.y + bend * cloth.noise(1.8, 3) + 0.15 * np.sin(cloth.x * 1.7)
        lines = np.abs(phase / period - np.round(phase / period)) * period
        swell = thin * np.exp(0.45 * cloth.noise(0.7, 2))
        mark = _soft(lines - swell, 0.016) * np.clip(0.75 + 0.4 * cloth.noise(1.1, 3), 0, 1)
        return weights, strength * (1 - resist * mark)

    return motif


def shells(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Growth lines of shells: nested arcs round scattered hinges, printed in the darkest dye."""
    at = cloth.flow(1.0, 0.05)
    seeds = cloth.points(1.25)
    from scipy.spatial import cKDTree

    where = np.stack([at[0], at[1]], axis=-1).reshape(-1, 2)
    distance, index = cKDTree(seeds).query(where, k=2)
    tilt = cloth.rng.uniform(0.75, 1.3, len(seeds))
    radius = (distance[:, 0] * tilt[index[:, 0]]).astype(np.float32).reshape(cloth.x.shape)
    gap = (distance[:, 1] - distance[:, 0]).astype(np.float32).reshape(cloth.x.shape)
    rings = np.abs(radius / 0.085 - np.round(radius / 0.085)) * 0.085
    swell = 0.012 * np.exp(0.5 * cloth.noise(0.4, 2))
    mark = _soft(rings - swell, 0.018) * np.clip(gap / 0.12, 0, 1)
    fade = np.clip(0.7 + 0.45 * cloth.noise(0.9, 3), 0, 1)
    return _towards(weights, 1, 0.75 * mark * fade), strength * (1 + 0.2 * mark)


def blossoms(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Small five-petalled heads stamped pale, each with a deep eye, turned at random."""
    from scipy.spatial import cKDTree

    seeds = cloth.points(0.62, 0.85)
    at = np.stack([cloth.x, cloth.y], axis=-1).reshape(-1, 2)
    distance, index = cKDTree(seeds).query(at, k=1)
    size = cloth.rng.uniform(0.11, 0.22, len(seeds))[index]
    turn = cloth.rng.uniform(0, 2 * np.pi, len(seeds))[index]
    angle = np.arctan2(at[:, 1] - seeds[index, 1], at[:, 0] - seeds[index, 0]) + turn
    petal = size * (0.74 + 0.26 * np.cos(5 * angle))
    shape = cloth.x.shape
    wobble = 0.012 * cloth.noise(0.12, 2)
    inside = _soft((distance - petal).reshape(shape).astype(np.float32) + wobble, 0.022)
    eye = _soft((distance - 0.24 * size).reshape(shape).astype(np.float32) + wobble, 0.02)
    press = np.clip(0.8 + 0.25 * cloth.noise(0.35, 3), 0, 1)
    vein = 0.18 * (0.5 + 0.5 * np.cos(5 * angle)).reshape(shape).astype(np.float32)
    weights = _towards(weights, 1, 0.9 * eye)
    return weights, strength * (1 - (0.62 - vein) * inside * press * (1 - eye))


def suns(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Lamps through fog: a hand-drawn ring or two round a pale heart, bleeding outwards."""
    seeds = cloth.points(1.7)
    size = cloth.rng.uniform(0.3, 0.62, len(seeds))
    at = cloth.flow(0.8, 0.06)
    for (cx, cy), radius in zip(seeds, size, strict=True):
        off = np.hypot(at[0] - cx, at[1] - cy) - radius
        heart = _soft(off, 0.5 * radius)
        ring = np.exp(-((off / 0.035) ** 2)) + 0.6 * np.exp(-(((off + 0.4 * radius) / 0.02) ** 2))
        strength = strength * (1 - 0.42 * heart) * (1 + 0.38 * ring.astype(np.float32))
    return weights, strength


def specks(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Shore lights from far out: sparse small bright spots, each with a faint glow."""
    from scipy.spatial import cKDTree

    seeds = cloth.points(0.34)
    seeds = seeds[cloth.rng.random(len(seeds)) < 0.5]
    radius = 0.012 + 0.03 * cloth.rng.random(len(seeds)) ** 2
    at = np.stack([cloth.x, cloth.y], axis=-1).reshape(-1, 2)
    distance, index = cKDTree(seeds).query(at, k=1)
    off = (distance - radius[index]).reshape(cloth.x.shape).astype(np.float32)
    spot = _soft(off, 0.016)
    glow = np.exp(-np.clip(off, 0, None) / 0.05)
    return weights, strength * (1 - 0.85 * spot) * (1 - 0.22 * glow)


def fronds(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Kelp blades swaying: long resist strokes with a midrib, over one another."""
    for layer in range(3):
        bend = 0.35 * cloth.noise(2.2, 2) + 0.06 * cloth.noise(0.3, 2)
        lane = (cloth.x + bend) / 0.62 + 0.37 * layer
        blade = np.floor(lane).astype(int)
        centre = (lane - blade - 0.5) * 0.62
        dice = cloth.rng.random((4, 97))[:, blade % 97].astype(np.float32)
        taper = np.abs(np.sin(np.pi * (cloth.y / (2.2 + 1.5 * dice[0]) + dice[1])))
        half = 0.2 * (0.35 + 0.65 * dice[2]) * taper
        inside = _soft(np.abs(centre) - half, 0.02) * (dice[3] < 0.75)
        rib = np.exp(-((centre / 0.012) ** 2)) * inside
        fade = np.clip(0.6 + 0.35 * cloth.noise(0.7, 3), 0, 1)
        strength = strength * (1 - 0.46 * inside * fade) * (1 + 0.45 * rib)
    return weights, strength


def hatching(cloth: Cloth, weights: list[Field], strength: Field) -> tuple[list[Field], Field]:
    """Pen strokes in two directions, broken and uneven, in the last colour."""
    ink = np.zeros_like(cloth.x)
    for angle, period in ((0.35, 0.27), (1.62, 0.36)):
        s = np.cos(angle) * cloth.x + np.sin(angle) * cloth.y + 0.03 * cloth.noise(1.2, 2)
        line = np.abs(s / period - np.round(s / period)) * period
        stroke = _soft(line - 0.011 * np.exp(0.4 * cloth.noise(0.3, 2)), 0.012)
        ink = np.maximum(ink, stroke * _soft(-cloth.noise(0.5, 3) - 0.6, 0.5))
    return _towards(weights, len(weights) - 1, 0.9 * ink), strength


def _ring(name: str, motif: Motif, *, main: float = 0.58, **options: float) -> Recipe:
    """Main colour, then the darker and the lighter neighbour's in the ring, in equal parts."""
    names = list(RING)
    k = names.index(name)
    beside = sorted((RING[names[k - 1]], RING[names[(k + 1) % len(names)]]))
    share = (1 - main) / 2
    return Recipe((RING[name], *beside), (main, share, share), motif, **options)


RECIPES: dict[str, Recipe] = {
    "foam": _ring("foam", bubbles(0.7, 0.1, 0.26, 0.75), main=0.62, mottle=0.3, blotch=1.8),
    "shallows": _ring("shallows", caustics, blotch=1.8),
    "channel": _ring("channel", ripples(0.16, 0.22, 0.024, 0.42), blotch=1.5),
    "deepwater": _ring("deepwater", crackle(0.75, 0.018, 1, 0.9), blotch=1.1),
    "nightferry": _ring("nightferry", specks, main=0.66, blotch=2.0, mottle=0.12),
    "mussel": _ring("mussel", shells, blotch=1.5),
    "dusk": _ring("dusk", ripples(9.0, 0.1, 0.0, 0.0), main=0.5, blotch=1.3, swirl=0.9),
    "thrift": _ring("thrift", blossoms, blotch=1.6),
    "lantern": _ring("lantern", suns, blotch=1.6, mottle=0.2),
    "sandbar": _ring("sandbar", ripples(0.23, 0.42, 0.035, 0.38), main=0.62, blotch=1.7),
    "shell": _ring("shell", crackle(0.6, 0.016, 1, 0.55), main=0.66, blotch=1.6, mottle=0.3),
    "kelp": Recipe((KELP, (27, -4, 18), (58, -16, 44)), (0.6, 0.22, 0.18), fronds, blotch=1.4),
    "oilskin": Recipe(
        (OILSKIN, (72, 14, 70), INK), (0.72, 0.275, 0.005), hatching, mottle=0.1, blotch=2.2
    ),
}
