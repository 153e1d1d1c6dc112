"""Simulated phone photographs of cloth with known truth, from published spectra.

Reflectances, illuminants, camera sensitivities and the 2° observer come from the colour-science
package (test-only): the 99 test colour samples of CIE 224:2017 (dyes, never a target's patches),
ColorChecker averages (BabelColor; N. Ohta 1997) for the target, CIE 15 illuminants incl. the FL and
LED series, NPL camera measurements (Nikon 5100, Sigma SD Merrill). A scene is a reflectance map;
light, camera, wrong white balance, exposure, tone curve, noise and JPEG are applied in the order a
phone applies them. White balance errs so far that uncorrected photos are out by 8 ΔE00 in the
median and 17 in the worst twentieth. Every number of a scene comes from its seed.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from sequencer.colour import linear_to_srgb, xyz_to_lab
from tests.made.responses import contrast, other_tone, response
from tests.made.spectra import (
    CAMERAS,
    ILLUMINANTS,
    WAVELENGTHS,
    aligned,
    camera_matrix,
    checker,
    dyes,
    illuminant,
    lamp_matrix,
    library,
    true_xyz,
)

Floats = NDArray[np.floating]

TABLES = ("plain", "wood", "checked")


# ── the scene ─────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Phone:
    """How the phone and the light err; the default is what every figure is quoted for.

    ``balance``: 'usual'; 'gains': right for the lamp but for log-normal gains before the matrix;
    'daylight': for daylight under every lamp, the strongest casts.
    ``matrix``: 'usual' (between A and D65), 'd65' (one for all lamps), 'lamp' (fitted to each).
    ``tone``: 'usual' (responses like those of real cameras), 'bent' (three kinds of contrast
    curve), 'weak', 'strong' (0.6 to 0.9), 'gamma' (a power of 0.75 to 1.25) or 'none'. ``blur``:
    lens and sharpening. ``fall``: how much of the light's fall-off is left. ``lamp``, ``camera``:
    always this one.
    """

    balance: str = "usual"
    matrix: str = "usual"
    tone: str = "usual"
    blur: bool = True
    fall: float = 1.0
    lamp: str | None = None
    camera: str | None = None


USUAL_PHONE = Phone()


@dataclass(frozen=True)
class Scrap:
    """One print with its truth: mean CIELAB of the cloth, inks as (CIELAB, share)."""

    mask: NDArray[np.bool_]
    mean_lab: Floats
    inks: list[tuple[Floats, float]]


@dataclass(frozen=True)
class Scene:
    """A photograph and everything that is true about it."""

    pixels: NDArray[np.uint8]
    scraps: list[Scrap]
    table: NDArray[np.bool_]
    kind: str
    polygon: Floats | None
    about: dict[str, object] = field(default_factory=dict)


def scene(
    seed: int,
    kind: str = "sheet",
    size: tuple[int, int] = (960, 720),
    table: str | None = None,
    scraps: int = 6,
    phone: Phone = USUAL_PHONE,
    fill: tuple[float, float] = (0.75, 0.95),
) -> Scene:
    """A photo with ``kind`` (sheet, grey, target, none) in it; ``size`` (width, height).

    ``fill``: how much of its room in the picture a scrap takes, 0 to 1.
    """
    rng = np.random.default_rng([seed, 77])
    width, height = size
    table = table or rng.choice(TABLES, p=(0.6, 0.25, 0.15))
    labels = np.zeros((height, width), int)
    shade = _table_shade(rng, table, height, width)
    pool = [_table_reflectance(rng)]
    cells = _cells(rng, scraps + 1, width, height)
    polygon = None
    if kind != "none":
        polygon = _place_reference(rng, kind, cells[0], labels, pool, shade)
    masks, inks = [], []
    for cell in cells[1 : scraps + 1]:
        mask, used = _place_scrap(rng, cell, labels, pool, shade, fill)
        masks.append(mask)
        inks.append(used)
    reflectance = np.clip(np.stack(pool), 0.01, 0.98)
    bare = (labels == 0)
    own = np.random.default_rng([seed, 78])  # what only other phones draw
    photo, about = _photograph(rng, reflectance, labels, shade, phone, own)
    truth = true_xyz(reflectance)
    found = [
        Scrap(
            mask,
            _true_mean(truth, labels, shade, mask),
            [(xyz_to_lab(truth[i]), float((labels[mask] == i).mean())) for i in used],
        )
        for mask, used in zip(masks, inks, strict=True)
    ]
    return Scene(photo, found, bare, kind, polygon, {"table": table, **about})


def _true_mean(truth: Floats, labels: Floats, shade: Floats, mask: Floats) -> Floats:
    return xyz_to_lab(truth[labels[mask]] * shade[mask][:, None]).mean(axis=0)


def _table_reflectance(rng: np.random.Generator) -> Floats:
    """From white melamine over oak and grey to dark slate, gently coloured."""
    level = rng.choice([0.05, 0.12, 0.25, 0.45, 0.7, 0.82])
    slope = rng.normal(0.15, 0.25)
    ramp = (WAVELENGTHS - 550) / 150
    return np.clip(level * np.exp(slope * ramp), 0.02, 0.92)


def _table_shade(rng: np.random.Generator, table: str, height: int, width: int) -> Floats:
    y, x = np.mgrid[:height, :width].astype(float)
    if table == "wood":
        grain = gaussian_filter(rng.normal(size=(height, width)), (rng.uniform(2, 8), 90))
        plank = np.floor(y / rng.uniform(120, 260)) * 1.7
        return np.exp(0.12 * grain / grain.std() + 0.1 * np.sin(plank * 2.3))
    if table == "checked":
        side = rng.uniform(30, 90)
        odd = (np.floor(x / side) + np.floor(y / side)) % 2 > 0
        return np.where(odd, 1.0, rng.uniform(0.6, 0.9))
    return np.exp(0.01 * rng.normal(size=(height, width)))


def _cells(rng: np.random.Generator, count: int, width: int, height: int) -> list[Floats]:
    """Centre x, y and room w, h of places on a jittered grid, in random order."""
    columns = int(np.ceil(np.sqrt(count * width / height)))
    rows = int(np.ceil(count / columns))
    w, h = width / columns, height / rows
    places = [(c + 0.5, r + 0.5) for r in range(rows) for c in range(columns)]
    cells = [np.array([across * w, down * h, w, h]) for across, down in places]
    return [cells[i] for i in rng.permutation(len(cells))]


def _box(
    rng: np.random.Generator, cell: Floats, aspect: float, fill: tuple[float, float]
) -> Floats:
    """Corners of a turned rectangle inside a cell, clockwise from the top left."""
    x, y, w, h = cell
    turn = np.deg2rad(rng.uniform(-12, 12))
    scale = rng.uniform(*fill)
    long = min(w, h * aspect) * scale
    half = np.array([long, long / aspect]) / 2 * 0.95
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return corners @ spin.T + [x, y] + rng.uniform(-0.02, 0.02, 2) * [w, h]


def _inside(corners: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    inside = np.ones(shape, bool)
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        inside &= (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) >= 0
    return inside


def _place_reference(rng, kind, cell, labels, pool, shade) -> Floats:  # type: ignore[no-untyped-def]
    corners = _box(rng, cell, 1.5 if kind == "target" else rng.choice([1.294, 1.414]), (0.7, 0.9))
    inside = _inside(corners, labels.shape)
    shade[inside] = 1.0
    labels[inside] = len(pool)
    if kind == "grey":
        pool.append(np.full(31, rng.uniform(0.175, 0.19)))
    elif kind == "sheet":
        # As paper reads beside targets in real photos: darker than by itself, and bluish.
        tint = rng.uniform(-0.09, 0.02)
        pool.append(rng.uniform(0.66, 0.92) * (1 - tint * (550 - WAVELENGTHS) / 150))
    else:
        pool.append(np.full(31, rng.choice([0.03, 0.045, 0.6])))
        if rng.random() < 0.5:
            corners = np.roll(corners, 2, axis=0)
        _place_patches(rng, corners, labels, pool)
    return corners


def _place_patches(rng, corners, labels, pool) -> None:  # type: ignore[no-untyped-def]
    """24 patches with gaps; measured targets differ a little from their published average."""
    origin, right, down = corners[0], corners[1] - corners[0], corners[3] - corners[0]
    margin, gap = rng.uniform(0.02, 0.05), rng.uniform(0.08, 0.2)
    for index, reflectance in enumerate(checker()):
        row, column = divmod(index, 6)
        cell = []
        for dx, dy in ((0, 0), (1, 0), (1, 1), (0, 1)):
            u = margin + (1 - 2 * margin) * (column + gap / 2 + dx * (1 - gap)) / 6
            v = margin * 1.5 + (1 - 3 * margin) * (row + gap / 2 + dy * (1 - gap)) / 4
            cell.append(origin + u * right + v * down)
        labels[_inside(np.array(cell), labels.shape)] = len(pool)
        pool.append(reflectance * np.exp(rng.normal(0, 0.01)))


def _ink(rng: np.random.Generator) -> Floats:
    """A dye of random strength, or two mixed as pigments (geometric mean)."""
    first, second = dyes()[rng.integers(len(dyes()), size=2)]
    share = rng.choice([0.0, 0.0, rng.random()])
    strength = rng.uniform(0.6, 1.3)
    return np.clip(first ** (1 - share) * second**share, 0.02, 0.95) ** strength


def _place_scrap(rng, cell, labels, pool, shade, fill):  # type: ignore[no-untyped-def]
    corners = _box(rng, cell, rng.uniform(1.0, 1.8), fill)
    mask = _inside(corners, labels.shape)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    inside = mask[box]
    count = int(rng.choice([1, 2, 3, 4, 5], p=(0.15, 0.25, 0.3, 0.2, 0.1)))
    first = len(pool)
    pool.extend(_ink(rng) for _ in range(count))
    labels[box][inside] = first + _motif(rng, count, inside)[inside]
    weave = 1 + rng.uniform(0.01, 0.05) * _weave(rng, inside.shape)
    shade[box][inside] = weave[inside]
    used = [first + i for i in range(count) if (labels[mask] == first + i).any()]
    return mask, used


def _weave(rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    y, x = np.mgrid[: shape[0], : shape[1]]
    period = rng.uniform(2.2, 4.5)
    threads = np.sin(2 * np.pi * x / period) * np.sin(2 * np.pi * y / period)
    return 0.7 * threads + 0.5 * rng.normal(size=shape)


def _motif(rng, count, inside) -> NDArray[np.int_]:  # type: ignore[no-untyped-def]
    """Which ink where: blotches, stripes or dots, the accents smaller than the ground."""
    y, x = np.mgrid[: inside.shape[0], : inside.shape[1]].astype(float)
    shares = np.sort(rng.dirichlet(np.full(count, 1.5)))[::-1]
    shares = np.maximum(shares, 0.04)
    edges = np.cumsum(shares / shares.sum())[:-1]
    style = rng.choice(["blotch", "stripe", "dots"])
    if style == "stripe":
        turn, period = rng.uniform(0, np.pi), rng.uniform(18, 60)
        return np.searchsorted(edges, ((x * np.cos(turn) + y * np.sin(turn)) / period) % 1)
    if style == "dots":
        out, pitch = np.zeros(inside.shape, int), rng.uniform(16, 40)
        for ink in range(1, count):
            radius = pitch * np.sqrt(shares[ink] / np.pi)
            ox, oy = rng.uniform(0, pitch, 2)
            near = np.hypot((x - ox) % pitch - pitch / 2, (y - oy) % pitch - pitch / 2) < radius
            out[near] = ink
        return out
    noise = gaussian_filter(rng.normal(size=inside.shape), rng.uniform(4, 14))
    return np.searchsorted(np.quantile(noise[inside], edges), noise)


# ── the phone ─────────────────────────────────────────────────────────────────────────────


def _photograph(rng, reflectance, labels, shade, phone, own):  # type: ignore[no-untyped-def]
    lamp, camera = rng.choice(ILLUMINANTS), rng.choice(CAMERAS)
    lamp, camera = phone.lamp or lamp, phone.camera or camera
    raw = _raw(rng, reflectance, lamp, camera, phone, own)
    fall_off = _fall_off(rng, labels.shape) ** phone.fall
    picture = raw[labels] * (shade * fall_off)[..., None]
    blur = rng.uniform(0.5, 0.9)
    picture = picture.astype(np.float32)
    if phone.blur:
        picture = gaussian_filter(picture, (blur, blur, 0))
    noise = rng.uniform(0.002, 0.006) * np.sqrt(np.maximum(picture, 0) + 0.01)
    picture += rng.standard_normal(picture.shape, dtype=np.float32) * noise
    linear = np.maximum(picture @ _matrix(camera, lamp, phone.matrix).T, 0) * _shift(rng, phone)
    brightest = np.quantile(linear.max(axis=-1), 0.99)
    shown = rng.uniform(0.55, 1.0)
    if phone.tone == "usual":
        tone = response(own)
        linear *= tone.reached(shown) / brightest
        encoded, strength = linear_to_srgb(tone(linear)), ("response", tone.power, tone.knee)
    else:
        linear *= shown / brightest
        curve, strength = other_tone(own, phone.tone) or contrast(rng)
        encoded = curve(linear_to_srgb(linear))
    pixels = np.rint(np.clip(encoded, 0, 1) * 255).astype(np.uint8)
    about = {"lamp": lamp, "camera": camera, "tone": strength}
    return _jpeg(pixels, int(rng.integers(82, 96))), about


def bare(rng, reflectance, lamp, camera, phone) -> Floats:  # type: ignore[no-untyped-def]
    """The phone's linear sRGB of reflectances (n, 31), without exposure, lens, noise and tone."""
    raw = _raw(rng, reflectance, lamp, camera, phone, rng)
    return raw @ _matrix(camera, lamp, phone.matrix).T * _shift(rng, phone)


def _raw(rng, reflectance, lamp, camera, phone, own) -> Floats:  # type: ignore[no-untyped-def]
    """Balanced sensor values of reflectances (n, 31)."""
    sensitivity = aligned(library().MSDS_CAMERA_SENSITIVITIES[camera])
    light = illuminant(lamp)
    daylight = camera_matrix(camera, "D65")[0]
    gains = _white_balance(rng, light, sensitivity, daylight)
    if phone.balance == "daylight":
        gains = daylight / daylight[1] / (light @ sensitivity)[1]
    if phone.balance == "gains":
        gains = 1 / (light @ sensitivity) * np.exp(own.normal(0, 0.2, 3) * [1, 0, 1])
    return reflectance @ (light[:, None] * sensitivity) * gains


def _shift(rng: np.random.Generator, phone: Phone) -> Floats:
    """A small error of white balance after the matrix."""
    shift = np.exp(rng.normal(0, 0.15, 3) * [1, 0, 1])
    return np.ones(3) if phone.balance == "gains" else shift


def _matrix(camera: str, lamp: str, kind: str) -> Floats:
    """The phone's own 3×3 to linear sRGB."""
    if kind == "usual":
        return lamp_matrix(camera, lamp)
    return camera_matrix(camera, "D65" if kind == "d65" else lamp)[1]


def _white_balance(rng, light, sensitivity, d65_gains) -> Floats:  # type: ignore[no-untyped-def]
    """Right for the lamp, or part of the way to daylight; small shifts come after the matrix."""
    right = 1 / (light @ sensitivity)
    right = right / right[1]
    daylight = d65_gains / d65_gains[1]
    mix = rng.choice([0.0, rng.uniform(0.2, 0.5)])
    return right ** (1 - mix) * daylight**mix / (light @ sensitivity)[1]


def _fall_off(rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """Up to 40 % less light: a window's ramp, a lamp's pool, or the lens's corners."""
    height, width = shape
    y, x = np.mgrid[:height, :width] / np.array([height, width])[:, None, None] * 2 - 1
    fall = rng.uniform(0.1, 0.4)
    style = rng.choice(["ramp", "lamp", "lens"])
    if style == "ramp":
        turn = rng.uniform(0, 2 * np.pi)
        across = x * np.cos(turn) + y * np.sin(turn)
        return 1 - fall * (across - across.min()) / np.ptp(across)
    if style == "lamp":
        cx, cy = rng.uniform(-1.2, 1.2, 2)
        apart = (x - cx) ** 2 + (y - cy) ** 2
        return 1 / (1 + fall / (1 - fall) * apart / apart.max()) ** rng.uniform(1, 1.5)
    return 1 - fall * ((x**2 + y**2) / 2) ** rng.uniform(0.8, 2)


def _jpeg(pixels: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=quality)
    return np.asarray(Image.open(stream).convert("RGB"))
