"""Cotton as it comes off the dye bench: noise, dye and the threads of a plain weave.

Everything is drawn in the cloth's own frame, in inches, and returned in linear light as the share
of light the cloth gives back. Dyes mix as absorbances (Beer-Lambert): twice the dye is the square
of the colour, not a darker tint of it, which is what makes a dyed blotch look dyed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

Field = NDArray[np.float32]

THREADS = (74.0, 66.0)
"""Warp and weft threads an inch: a common quilting cotton."""
_LATTICE = 64


class Cloth:
    """A rectangle of cloth under construction: its coordinates in inches and its own dice."""

    def __init__(self, width: float, height: float, ppi: float, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.ppi = ppi
        columns, rows = round(width * ppi), round(height * ppi)
        self.y, self.x = np.meshgrid(
            (np.arange(rows, dtype=np.float32) + 0.5) / ppi,
            (np.arange(columns, dtype=np.float32) + 0.5) / ppi,
            indexing="ij",
        )

    def noise(self, scale: float, octaves: int = 4, at: tuple[Field, Field] | None = None) -> Field:
        """Fractal noise of unit variance with features of about ``scale`` inches."""
        x, y = at or (self.x, self.y)
        total = np.zeros_like(x)
        power = 0.0
        for octave in range(octaves):
            gain, size = 0.55**octave, scale / 2.03**octave
            total += np.float32(gain) * self._lattice_noise(x / size, y / size, at is None)
            power += gain * gain
        return total / np.float32(np.sqrt(power))

    def _lattice_noise(self, x: Field, y: Field, straight: bool) -> Field:
        """Random knots smoothed by cubic B-splines; on a straight grid two small products do."""
        lattice = self.rng.standard_normal((_LATTICE, _LATTICE)).astype(np.float32)
        shift = self.rng.uniform(0, _LATTICE, 2).astype(np.float32)
        if straight:
            across, down = _spline_rows(x[0] + shift[1]), _spline_rows(y[:, 0] + shift[0])
            return (down @ lattice @ across.T) / np.float32(0.48)
        where = np.stack([y + shift[0], x + shift[1]])
        smooth = ndimage.map_coordinates(lattice, where, order=3, mode="grid-wrap", prefilter=False)
        return smooth / np.float32(0.48)

    def flow(self, scale: float, amount: float) -> tuple[Field, Field]:
        """Coordinates pushed about by noise, twice: the swirl of dye in a shallow tray."""
        first = tuple(amount * self.noise(scale, 3) for _ in range(2))
        at = (self.x + first[0], self.y + first[1])
        return (
            self.x + amount * self.noise(scale * 0.8, 3, at),
            self.y + amount * self.noise(scale * 0.8, 3, at),
        )

    def points(self, spacing: float, jitter: float = 0.9) -> NDArray[np.float64]:
        """Scattered points (n, 2) as x, y: a jittered grid that reaches past the cloth."""
        xs = np.arange(-2 * spacing, self.x[0, -1] + 2 * spacing, spacing)
        ys = np.arange(-2 * spacing, self.y[-1, 0] + 2 * spacing, spacing)
        grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        return grid + self.rng.uniform(-0.5, 0.5, grid.shape) * spacing * jitter

    def cells(
        self, spacing: float, at: tuple[Field, Field] | None = None
    ) -> tuple[Field, NDArray[np.int64]]:
        """Distance to the border between Worley cells, in inches, and the cell each pixel is in."""
        x, y = at or (self.x, self.y)
        seeds = self.points(spacing)
        where = np.stack([x, y], axis=-1).reshape(-1, 2)
        distance, index = cKDTree(seeds).query(where, k=2)
        apart = np.linalg.norm(seeds[index[:, 0]] - seeds[index[:, 1]], axis=1)
        border = (distance[:, 1] ** 2 - distance[:, 0] ** 2) / (2 * apart)
        return border.astype(np.float32).reshape(x.shape), index[:, 0].reshape(x.shape)


def _spline_rows(at: Field) -> Field:
    """Rows of cubic B-spline weights (n, knots) for positions on the repeating lattice."""
    base = np.floor(at).astype(int)
    t = (at - base)[:, None]
    weights = np.concatenate(
        [(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3], axis=1
    ) / 6
    rows = np.zeros((len(at), _LATTICE), dtype=np.float32)
    for k in range(4):
        rows[np.arange(len(at)), (base + k - 1) % _LATTICE] += weights[:, k]
    return rows


def absorbance(lab: tuple[float, float, float]) -> NDArray[np.float64]:
    """How much dye of this CIELAB colour takes from red, green and blue light."""
    from skimage.color import lab2rgb

    srgb = np.clip(lab2rgb(np.array(lab, dtype=float)), 0, 1)
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    return -np.log(np.clip(linear, 0.004, 0.97))


def blotches(
    fields: list[Field], shares: list[float], softness: float
) -> tuple[list[Field], Field]:
    """Share the cloth out between colours; also where two dyes meet, 0 to 1.

    Biases are found by a few rounds of correction, so that each colour gets its share.
    """
    stack = np.stack(fields) / np.float32(softness)
    bias = np.zeros(len(shares))
    for _ in range(12):
        weights = _softmax(stack + bias[:, None, None].astype(np.float32))
        bias += 0.8 * np.log(np.array(shares) / weights.mean(axis=(1, 2)))
    ranked = np.sort(weights, axis=0)
    meeting = np.exp(-(((ranked[-1] - ranked[-2]) / 0.35) ** 2))
    return list(weights), meeting.astype(np.float32)


def _softmax(logits: Field) -> Field:
    raised = np.exp(logits - logits.max(axis=0))
    return raised / raised.sum(axis=0)


def dye(
    weights: list[Field], colours: list[tuple[float, float, float]], strength: Field
) -> Field:
    """Light given back, (h, w, 3): colours mixed by weight, ``strength`` 1 being as named."""
    load = sum(
        weight[..., None] * absorbance(colour).astype(np.float32)
        for weight, colour in zip(weights, colours, strict=True)
    )
    return np.exp(-load * strength[..., None])


def enlarge(picture: Field, shape: tuple[int, int]) -> Field:
    """Smoothly enlarge (h, w[, 3]) to ``shape``; print edges stay as soft as ink on thread."""
    rows = (np.arange(shape[0]) + 0.5) * picture.shape[0] / shape[0] - 0.5
    columns = (np.arange(shape[1]) + 0.5) * picture.shape[1] / shape[1] - 0.5
    where = np.stack(np.meshgrid(rows, columns, indexing="ij")).astype(np.float32)
    planes = picture[..., None] if picture.ndim == 2 else picture
    done = [
        ndimage.map_coordinates(planes[..., k], where, order=1, mode="nearest")
        for k in range(planes.shape[2])
    ]
    return done[0] if picture.ndim == 2 else np.stack(done, axis=-1)


def weave(cloth: Cloth) -> tuple[Field, Field]:
    """Shading of a plain weave around 1, and how open the cloth is between threads (0 to 1).

    Warp and weft pass over each other like a chessboard; each thread is round, swells at the
    crossing, has its own thickness, twist and shade, and wanders a little.
    """
    rng = cloth.rng
    across = THREADS[0] * cloth.x + 0.28 * cloth.noise(0.7, 3)
    down = THREADS[1] * cloth.y + 0.28 * cloth.noise(0.7, 3)
    warp, weft = np.floor(across).astype(int), np.floor(down).astype(int)
    u, v = across - warp - 0.5, down - weft - 0.5
    over = ((warp + weft) & 1).astype(bool)
    side = np.where(over, u, v)
    along = np.where(over, v, u)
    slub = 1 + 0.10 * np.where(
        over, _thread_noise(rng, warp, cloth.y), _thread_noise(rng, weft, cloth.x)
    )
    reach = np.clip(np.abs(side) * 2 / (0.98 * slub), 0, 1)
    height = np.sqrt(1 - reach**2) * (0.62 + 0.38 * np.cos(np.pi * along))
    twist = 0.035 * np.sin(2 * np.pi * (2.5 * along + np.where(over, 1.2, -1.2) * side))
    facing = -0.16 * side * np.where(over, 1.0, 0.8)
    shade = np.where(over, _thread_shade(rng, warp), _thread_shade(rng, weft))
    light = (0.52 + 0.60 * height + twist + facing) * shade
    return (light / light.mean()).astype(np.float32), (reach**3).astype(np.float32)


def _thread_noise(rng: np.random.Generator, thread: NDArray[np.int64], along: Field) -> Field:
    """Slow change along each thread, different from thread to thread."""
    lattice = rng.standard_normal((509, 128)).astype(np.float32)
    where = np.stack([(thread % 509).astype(np.float32), (along / 0.22).astype(np.float32)])
    return ndimage.map_coordinates(lattice, where, order=1, mode="grid-wrap")


def _thread_shade(rng: np.random.Generator, thread: NDArray[np.int64]) -> Field:
    table = (1 + 0.05 * rng.standard_normal(1021)).astype(np.float32)
    return table[thread % 1021]


def wrinkles(cloth: Cloth, depth: float) -> Field:
    """Light on cloth that does not lie quite flat, around 1: long soft folds and one old crease."""
    at = cloth.flow(3.0, 0.5)
    angle = cloth.rng.uniform(0, np.pi)
    ridge = np.sin(
        1.1 * (np.cos(angle) * at[0] + np.sin(angle) * at[1]) + cloth.noise(2.5, 2)
    )
    height = ridge + 0.5 * cloth.noise(1.1, 2)
    slope_y, slope_x = np.gradient(height, 1 / cloth.ppi)
    light = 1 + depth * np.tanh(0.35 * (slope_x + slope_y))
    where = cloth.rng.uniform(0.3, 0.7) * cloth.x[0, -1] + 0.02 * cloth.y + 0.02 * cloth.noise(1, 2)
    off = (cloth.x - where) / 0.035
    crease = 0.4 * depth * off * np.exp(-(off**2))
    return (light + crease).astype(np.float32)
