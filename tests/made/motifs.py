"""Drawn cloth for tests of likeness: scattered flowers, and regular figures as all cloth has."""

import numpy as np
from PIL import Image, ImageDraw

SIDE = 900


def flowers(seed: int, tile: int = 450) -> np.ndarray:
    """Flowers of many shapes, scattered in a tile that repeats."""
    rng = np.random.default_rng([seed, 6])
    cloth = Image.new("RGB", (tile, tile), tuple(int(v) for v in rng.integers(40, 215, 3)))
    draw = ImageDraw.Draw(cloth)
    for _ in range(40):
        x, y = rng.uniform(0, tile, 2)
        petals, size, turn = int(rng.integers(3, 9)), rng.uniform(10, 45), rng.uniform(0, 7)
        ink = tuple(int(v) for v in rng.integers(20, 235, 3))
        around = np.linspace(0, 2 * np.pi, 80)
        reach = size * (0.6 + rng.uniform(0.1, 0.4) * np.sin(petals * around + turn))
        points = np.stack([x + reach * np.cos(around), y + reach * np.sin(around)], axis=1)
        for dx in (-tile, 0, tile):
            for dy in (-tile, 0, tile):
                draw.polygon([(px + dx, py + dy) for px, py in points], fill=ink)
    return np.tile(np.asarray(cloth), (2, 2, 1))[:SIDE, :SIDE]


def regular(kind: str, pitch: int = 45) -> np.ndarray:
    """dots, stripes or a check in two colours."""
    y, x = np.mgrid[:SIDE, :SIDE]
    on = {
        "dots": np.hypot(x % pitch - pitch / 2, y % pitch - pitch / 2) < pitch / 4,
        "stripes": x % pitch < pitch / 2,
        "check": (x // pitch + y // pitch) % 2 > 0,
        "solid": np.zeros((SIDE, SIDE), bool),
    }[kind]
    return np.where(on[..., None], (200, 180, 150), (60, 80, 120)).astype(np.uint8)


def shot(cloth: np.ndarray, seed: int) -> np.ndarray:
    """A photo of part of it: turned, nearer or farther, in another light, with weave and noise."""
    rng = np.random.default_rng([seed, 7])
    turned = Image.fromarray(cloth).rotate(
        rng.uniform(-15, 15) + 90 * rng.integers(4), Image.Resampling.BICUBIC
    )
    side = rng.uniform(0.5, 0.58) * SIDE
    x, y = (int(v) for v in SIDE / 2 + rng.uniform(-0.08, 0.08, 2) * SIDE - side / 2)
    part = turned.crop((x, y, x + int(side), y + int(side)))
    linear = (np.asarray(part) / 255) ** 2.2 * rng.uniform(0.6, 1.1) * np.exp(rng.normal(0, 0.2, 3))
    linear *= 1 - 0.3 * np.linspace(0, 1, len(linear))[:, None, None]
    linear *= 1 + rng.normal(0, 0.04, linear.shape[:2])[..., None]
    seen = np.clip(linear, 0, 1) ** (1 / 2.2) * 255 + rng.normal(0, 3, linear.shape)
    picture = Image.fromarray(np.clip(seen, 0, 255).astype(np.uint8))
    size = round(picture.width * rng.uniform(0.6, 1.1))
    return np.asarray(picture.resize((size, size), Image.Resampling.BICUBIC))
