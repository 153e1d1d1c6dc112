"""Real cloth laid on drawn tables: is the reference seen, are the scraps found, are colours true?

    python benchmarks/photo/real_cloth.py FOLDER [--photos 24] [--seed 0] [--tint .06] [--spots]

FOLDER holds photographs of cloth, each filled by one. Pieces of them, turned and dyed over at
random, lie on a table of wood, plain colour or a cutting mat, with a sheet, a grey card or
neither; light falls off and is coloured, the camera presses highlights together. It shares nothing
with tests/made but the idea, so what was fitted there is tried here by other pictures.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.colour import ciede2000, linear_to_srgb, linear_to_xyz, srgb8_to_lab, xyz_to_lab
from sequencer.colour import srgb8_to_linear as linear_of
from sequencer.errors import PassalongError
from sequencer.photo.files.load import load
from sequencer.photo.finds.cloth import find_cloth
from sequencer.photo.reference.reference import Reference, find_reference
from sequencer.reading.spots import colours_at

Floats = NDArray[np.floating]
Mask = NDArray[np.bool_]

KINDS = ("sheet", "grey", "none")
SIDE = 2000
"""Pixels of a picture's longer side; the other is three quarters of it."""
WOOD, MAT = 0, 2
CARDS = (0.184, 0.341)
"""Luminance of L* 50 and 65."""
SPREAD_OF_LIGHT = 0.06
"""Standard deviation of the logarithm of each channel's light: red and blue over green then vary by
.08, as they do on greys of 16 real photographs of targets (.06 and .11)."""
OVERLAP = 0.7
"""IoU from which a find is the thing it lies on."""


@dataclass(frozen=True, eq=False)
class Scene:
    """``true`` (h, w, 3): linear light of the cloth itself; ``laid``: corners (4, 2) of each scrap;
    ``reference``: of the sheet or card, None without one."""

    picture: Image.Image
    true: Floats
    laid: tuple[Floats, ...]
    reference: Floats | None


def scene(
    cloths: list[Image.Image], seed: int, kind: str, tint: float = SPREAD_OF_LIGHT
) -> Scene:
    """A photograph with 3 to 7 scraps; all of it comes from the seed."""
    rng = np.random.default_rng([seed, 77])
    width, height = SIDE, SIDE * 3 // 4
    true = _table(rng, height, width)
    cells = rng.permutation([(i, j) for i in range(4) for j in range(3)])
    reference, laid = None, []
    count = int(rng.integers(3, 8))
    for k, (i, j) in enumerate(cells[: count + 1]):
        cell = np.array([width / 4, height / 3])
        middle = (np.array([i, j]) + 0.5) * cell + rng.uniform(-15, 15, 2)
        if k == 0:
            if kind != "none":
                reference = _corners(rng, middle, cell * rng.uniform(0.5, 0.75, 2))
                true = _put(true, _plain(rng, kind), reference)
            continue
        laid.append(_corners(rng, middle, cell * rng.uniform(0.55, 0.8, 2)))
        true = _put(true, _cloth(rng, cloths), laid[-1])
    return Scene(_photographed(rng, true, tint), true, tuple(laid), reference)


def _table(rng: np.random.Generator, height: int, width: int) -> Floats:
    kind = int(rng.integers(4))
    colours = ((0.35, 0.22, 0.12), (0.22, 0.22, 0.22), (0.12, 0.20, 0.14), (0.55, 0.50, 0.42))
    grain = gaussian_filter(rng.normal(size=(height, width)), (1.5, 40) if kind == WOOD else 2)
    grain *= (0.18 if kind == WOOD else 0.03) / grain.std()
    table = np.array(colours[kind]) * rng.uniform(0.6, 1.5) * (1 + grain[..., None])
    if kind == MAT:
        for every in (np.s_[:, ::120], np.s_[::120], np.s_[:, 1::120], np.s_[1::120]):
            table[every] *= 1.6
    return np.clip(table, 0.003, 1)


def _plain(rng: np.random.Generator, kind: str) -> Floats:
    """Paper of L* 88 to 96, more or less blue, or a card; with a little grain."""
    colour = np.ones(3) * rng.choice(CARDS)
    if kind == "sheet":
        colour = rng.uniform(0.72, 0.9) * np.array([1, 1, rng.uniform(0.98, 1.1)])
    return colour * (1 + 0.004 * rng.normal(size=(200, 300, 1)))


def _cloth(rng: np.random.Generator, cloths: list[Image.Image]) -> Floats:
    """A piece of one, its cast taken out more or less, lighter or darker."""
    whole = cloths[rng.integers(len(cloths))]
    width, height = (int(side * rng.uniform(0.5, 1)) for side in whole.size)
    x, y = (int(rng.integers(a - b + 1)) for a, b in zip(whole.size, (width, height), strict=True))
    piece = whole.crop((x, y, x + width, y + height)).resize((420, 360), Image.Resampling.LANCZOS)
    linear = linear_of(np.asarray(piece))
    mean = np.maximum(linear.mean(axis=(0, 1)), 0.01)
    dyed = linear * (mean.mean() / mean) ** rng.uniform(0, 0.8) * rng.uniform(0.6, 1.5)
    return np.clip(dyed, 0, 0.95)


def _corners(rng: np.random.Generator, middle: Floats, size: Floats) -> Floats:
    """Of a rectangle turned by up to a quarter of a radian, a little out of square."""
    turn = rng.uniform(-0.25, 0.25)
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * size
    square *= 1 + rng.uniform(-0.03, 0.03, (4, 2))
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(square @ np.array([[cos, sin], [-sin, cos]]) + middle)


def _put(true: Floats, patch: Floats, corners: Floats) -> Floats:
    """``patch`` laid on the table, with a soft shadow."""
    height, width = true.shape[:2]
    encoded = np.rint(255 * linear_to_srgb(patch)).astype(np.uint8)
    right, bottom = patch.shape[1], patch.shape[0]
    rows, sides = [], []
    for (x, y), (u, v) in zip(
        corners, [(0, 0), (right, 0), (right, bottom), (0, bottom)], strict=True
    ):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        sides += [u, v]
    way = np.linalg.solve(np.array(rows), np.array(sides, float)).tolist()
    turned = Image.fromarray(encoded).transform(
        (width, height), Image.Transform.PERSPECTIVE, way, Image.Resampling.BICUBIC
    )
    twice = Image.new("L", (2 * width, 2 * height))
    ImageDraw.Draw(twice).polygon([(2 * x, 2 * y) for x, y in corners.tolist()], fill=255)
    cover = np.asarray(twice.resize((width, height), Image.Resampling.BOX)) / 255
    shadow = np.roll(gaussian_filter(cover, 6), (4, 5), (0, 1))
    dimmed = true * (1 - 0.35 * shadow * (1 - cover))[..., None]
    return np.asarray(dimmed + cover[..., None] * (linear_of(np.asarray(turned)) - dimmed))


def _photographed(rng: np.random.Generator, true: Floats, tint: float) -> Image.Image:
    """Light that falls off and is coloured, blur, noise, and a log-logistic response."""
    rows, columns = (np.linspace(-1, 1, side) for side in true.shape[:2])
    turn, depth = rng.uniform(0, 2 * np.pi), rng.uniform(0.05, 0.35)
    slope = np.sin(turn) * rows[:, None] + np.cos(turn) * columns
    light = np.exp(rng.normal(0, tint, 3)) * rng.uniform(0.6, 1.05)
    seen = gaussian_filter(true * (1 - depth * (1 + slope) / 2)[..., None] * light, (0.8, 0.8, 0))
    noise = rng.normal(size=seen.shape) * rng.uniform(0.001, 0.004)
    seen += noise * np.sqrt(np.clip(seen, 0, 1) / 0.2 + 0.1)
    power, bend = rng.uniform(1, 1.5), rng.uniform(0.3, 3)
    raised = np.clip(seen, 0, None) ** power
    encoded = linear_to_srgb(np.clip((1 + bend) * raised / (raised + bend), 0, 1))
    return Image.fromarray(np.rint(255 * encoded).astype(np.uint8))


# ── judging ───────────────────────────────────────────────────────────────────────────────


def _mask(corners: Floats, shape: tuple[int, ...]) -> Mask:
    picture = Image.new("1", (shape[1], shape[0]))
    ImageDraw.Draw(picture).polygon([tuple(one) for one in corners.tolist()], fill=1)
    return np.asarray(picture)


def _overlap(one: Mask, other: Mask) -> float:
    return float((one & other).sum() / max(1, (one | other).sum()))


@dataclass(frozen=True)
class Told:
    """Counts over photos: references ``right``, ``wrong`` ones, ``finds``, those ``hit``, ``true``
    scraps."""

    right: int = 0
    wrong: int = 0
    finds: int = 0
    hit: int = 0
    true: int = 0


def looked_at(path: Path, made: Scene, kind: str, told: Told) -> Told:
    """One photo read unasked."""
    photo = load(path)
    shape = photo.pixels.shape[:2]
    by = shape[1] / made.picture.width
    seen = find_reference(photo)
    right = _is_it(seen, made, kind, by, shape)
    known = [] if seen is None else [seen.polygon]
    try:
        finds = find_cloth(photo, "many", known).scraps
    except PassalongError:
        finds = []
    hit = set()
    masks = [_mask(corners * by, shape) for corners in made.laid]
    for one in finds:
        whole = np.zeros(shape, bool)
        whole[one.box][one.mask] = True
        hit |= {k for k, mask in enumerate(masks) if _overlap(whole, mask) > OVERLAP}
    return replace(
        told, right=told.right + right, wrong=told.wrong + (seen is not None and not right),
        finds=told.finds + len(finds), hit=told.hit + len(hit), true=told.true + len(masks),
    )  # fmt: skip


def _is_it(
    seen: Reference | None, made: Scene, kind: str, by: float, shape: tuple[int, ...]
) -> bool:
    if seen is None or made.reference is None or seen.kind != kind:
        return False
    return _overlap(_mask(seen.polygon, shape), _mask(made.reference * by, shape)) > OVERLAP


def spots(path: Path, made: Scene, kind: str, seed: int) -> Iterator[tuple[float, bool]]:
    """ΔE00 of three spots a scrap, by a marked reference of stated lightness, and if within ±."""
    rng = np.random.default_rng([seed, 78])
    weights = rng.dirichlet(np.full(4, 4.0), (len(made.laid), 3))
    at = np.concatenate([w @ corners for w, corners in zip(weights, made.laid, strict=True)])
    corners = None if made.reference is None else made.reference.tolist()
    if kind == "grey":
        x, y = made.reference.mean(axis=0).astype(int)  # type: ignore[union-attr]
        light = xyz_to_lab(linear_to_xyz(made.true[y - 9 : y + 9, x - 9 : x + 9].mean(axis=(0, 1))))
        kind = f"grey={light[0]:.0f}"
    told = colours_at(path, at.tolist(), kind, corners, radius=6)
    for spot, (x, y) in zip(told, at.astype(int).tolist(), strict=True):
        box = np.s_[max(y - 5, 0) : y + 6, max(x - 5, 0) : x + 6]
        truth = srgb8_to_lab(np.rint(255 * linear_to_srgb(made.true[box])).astype(np.uint8))
        apart = float(ciede2000(truth.reshape(-1, 3).mean(axis=0), np.array(spot.lab)))
        yield apart, apart <= spot.uncertainty


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="photographs of cloth, each filled by one")
    parser.add_argument("--photos", type=int, default=24, help="photos of each kind")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--tint", type=float, default=SPREAD_OF_LIGHT, help="of the light")
    parser.add_argument("--spots", action="store_true", help="colours too, by marked references")
    options = parser.parse_args()
    cloths = [
        Image.open(path).convert("RGB") for path in sorted(options.folder.iterdir())
        if path.suffix in (".jpg", ".png")
    ]  # fmt: skip
    print("reference  recognised  something else  precision  recall   ΔE00    p95  within ±")
    for kind in KINDS:
        told, apart = Told(), []
        for seed in range(options.seed, options.seed + options.photos):
            made = scene(cloths, seed, kind, options.tint)
            with tempfile.TemporaryDirectory() as name:
                path = Path(name) / "table.jpg"
                made.picture.save(path, quality=92)
                told = looked_at(path, made, kind, told)
                if options.spots:
                    apart += list(spots(path, made, kind, seed))
        line = f"{kind:9}{told.right:12}{told.wrong:16}"
        line += f"{told.hit / max(1, told.finds):11.3f}{told.hit / max(1, told.true):8.3f}"
        if apart:
            off, within = zip(*apart, strict=True)
            line += f"{np.median(off):7.1f}{np.percentile(off, 95):7.1f}{np.mean(within):9.0%}"
        print(line, flush=True)


if __name__ == "__main__":
    main()
