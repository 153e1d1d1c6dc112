"""Draw the sample photographs beside this file: ``python sample_images/make_samples.py``.

Seeded: the same versions of numpy, scipy and Pillow write the same bytes. ``truth.json`` records
what was laid where, its size and its colour under D65, for the tests.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from camera import View, expose, lit, look_down
from cloth import Cloth, Field, weave, wrinkles
from PIL import Image
from scipy import ndimage
from table import MARGIN, PPI, Thing, card, corners, lay, paper, printed, scrap

HERE = Path(__file__).parent
MM = 1 / 25.4
CARD = (85.60 * MM, 53.98 * MM, 3.18 * MM)
"""ISO/IEC 7810 ID-1: width, height, corner radius."""
A5 = (210 * MM, 148 * MM)
ACROSS = 26.0
"""Inches of table the wide photograph shows from left to right."""

LAID: dict[str, tuple[float, float, float, float, float]] = {
    "foam": (8.5, 3.5, 5.35, 3.0, 2.5),
    "sandbar": (7.5, 3.25, 14.3, 2.75, -3.0),
    "deepwater": (6.5, 4.0, 22.0, 3.25, 4.0),
    "channel": (9.0, 2.5, 5.65, 7.6, -2.0),
    "shell": (6.0, 3.75, 13.85, 7.9, 5.0),
    "mussel": (8.0, 3.0, 21.3, 8.5, -4.5),
    "shallows": (8.25, 2.25, 5.3, 11.6, 3.0),
    "thrift": (7.0, 4.0, 22.0, 13.6, 2.0),
}
"""Scraps on the table: length, width, centre x, centre y in inches, turn in degrees."""
SHEET_AT = (14.1, 14.7, -1.5)
CARD_AT = (5.4, 15.8, 7.0)

CLOSE_UPS: dict[str, tuple[str, tuple[int, int], float, float]] = {
    "nightferry": ("nightferry.jpg", (2304, 1728), 6.6, -2.0),
    "dusk": ("dusk.webp", (2240, 1680), 7.0, 1.5),
    "lantern": ("lantern.jpg", (2304, 1728), 7.2, 3.0),
    "kelp": ("kelp.jpg", (2304, 1728), 6.8, -1.0),
    "oilskin": ("oilskin.jpg", (2240, 1680), 6.4, 2.0),
}
"""Photographs of one print: file, pixels, inches across, turn in degrees."""
SIDEWAYS = "lantern.jpg"
"""This file lies on its side and says so in its EXIF orientation (6: turn 90° clockwise)."""


def mean_lab(light: Field) -> list[float]:
    """Arithmetic mean of CIELAB (D65) over cloth seen at 100 pixels an inch."""
    from skimage.color import xyz2lab

    matrix = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                       [0.0193339, 0.1191920, 0.9503041]])
    lab = xyz2lab(np.clip(light, 0, 1) @ matrix.T)
    return [round(float(v), 2) for v in lab.reshape(-1, 3).mean(axis=0)]


def _reduced(light: Field, factor: int) -> Field:
    rows, columns = (side // factor * factor for side in light.shape[:2])
    blocks = light[:rows, :columns].reshape(rows // factor, factor, columns // factor, factor, -1)
    return blocks.mean(axis=(1, 3))


def _middle(thing: Thing) -> Field:
    edge = round((MARGIN + 0.1) * PPI)
    return thing.light[edge:-edge, edge:-edge]


def _bare_table(view: View, rng: np.random.Generator) -> Field:
    """Matt warm grey, plain but not perfect: fine speckle, faint clouding, a few scratches."""
    cloth = Cloth(ACROSS, ACROSS * view.height / view.width, 20.0, 77)
    clouds = 1 + 0.012 * cloth.noise(5.0, 3)
    wide = Image.fromarray(clouds).resize((view.width, view.height), Image.Resampling.BICUBIC)
    speckle = rng.standard_normal((view.height, view.width), dtype=np.float32)
    speckle = ndimage.gaussian_filter(speckle, 0.9) * 2.2
    level = np.asarray(wide) * (1 + 0.022 * speckle)
    return level[..., None] * np.array([0.262, 0.246, 0.222], dtype=np.float32)


def table_photo() -> dict[str, Any]:
    """The wide photograph and what is true of it."""
    rng = np.random.default_rng(20)
    view = look_down(4000, 3000, ACROSS, tilt=2.4, lean=-1.3, roll=1.2)
    light = _bare_table(view, rng)
    truth: dict[str, Any] = {"photo": "table-lowtide.jpg", "scraps": []}
    for k, (name, (length, width, x, y, turn)) in enumerate(LAID.items()):
        thing = scrap(name, length, width, 300 + 7 * k)
        lay(light, view, thing, (x, y), turn)
        truth["scraps"].append({
            "name": name,
            "corners": _truth_corners(view, thing, (x, y), turn),
            "size_in": [length, width],
            "mean_lab": mean_lab(_reduced(_middle(thing), 3)),
        })
    for what, thing, (x, y, turn) in (
        ("sheet", paper(*A5, 55), SHEET_AT), ("card", card(*CARD, 56), CARD_AT)
    ):
        lay(light, view, thing, (x, y), turn)
        truth[what] = {
            "corners": _truth_corners(view, thing, (x, y), turn),
            "size_in": [round(thing.width, 4), round(thing.height, 4)],
            "mean_lab": mean_lab(_reduced(_middle(thing), 3)),
        }
    cast = np.array([1.05, 1.0, 0.90], dtype=np.float32)
    light *= lit(view.width, view.height, 0.30, (0.18, 0.05), cast)
    picture = Image.fromarray(expose(light, rng, 0.98, 0.7, 0.010))
    picture.save(HERE / "table-lowtide.jpg", quality=88, subsampling=0, optimize=True)
    return truth


def _truth_corners(
    view: View, thing: Thing, centre: tuple[float, float], turn: float
) -> list[list[float]]:
    where = view.pixels(corners(thing, centre, turn))
    return [[round(float(x), 1), round(float(y), 1)] for x, y in where]


def close_up(name: str, seed: int) -> dict[str, Any]:
    """One print filling the frame, and what is true of it."""
    file, (width, height), across, turn = CLOSE_UPS[name]
    rng = np.random.default_rng(seed)
    view = look_down(width, height, across, tilt=2.0, lean=1.5, roll=turn)
    ppi, spare = width / across, 0.6
    wide, high = across + 2 * spare, across * height / width + 2 * spare
    cloth = Cloth(wide, high, ppi, seed + 1000)
    threads, _ = weave(cloth)
    light = printed(name, wide, high, ppi, seed) * threads[..., None]
    truth = {"photo": file, "name": name, "mean_lab": mean_lab(_reduced(light, 3)),
             "inches_across": across}
    light *= wrinkles(cloth, 0.11)[..., None]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    table_x, table_y = view.inches(x + 0.5, y + 0.5)
    where = np.stack([(table_y + spare) * ppi - 0.5, (table_x + spare) * ppi - 0.5])
    seen = np.stack(
        [ndimage.map_coordinates(light[..., k], where, order=1, mode="nearest") for k in range(3)],
        axis=-1,
    )
    cast = np.array([1, 1, 1], np.float32) + rng.uniform(-0.025, 0.025, 3).astype(np.float32)
    seen *= lit(width, height, 0.18, tuple(rng.uniform(0, 0.4, 2)), cast)
    _save(Image.fromarray(expose(seen, rng, 0.98, 0.75, 0.010)), file)
    return truth


def close_up_seed(place: int) -> int:
    """The dice of the close-up at this place in the list."""
    return 500 + 11 * place


def _save(picture: Image.Image, file: str) -> None:
    if file == SIDEWAYS:
        picture = picture.transpose(Image.Transpose.ROTATE_90)
        exif = Image.Exif()
        exif[0x0112] = 6
        picture.save(HERE / file, quality=85, subsampling=0, optimize=True, exif=exif)
    elif file.endswith(".webp"):
        picture.save(HERE / file, quality=86, method=4)
    else:
        picture.save(HERE / file, quality=85, subsampling=0, optimize=True)


def main() -> None:
    """Write every photograph and truth.json."""
    truth = {"table": table_photo(), "close_ups": []}
    for k, name in enumerate(CLOSE_UPS):
        truth["close_ups"].append(close_up(name, close_up_seed(k)))
        print(f"{CLOSE_UPS[name][0]} written", file=sys.stderr)
    text = json.dumps(truth, indent=1)
    (HERE / "truth.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
