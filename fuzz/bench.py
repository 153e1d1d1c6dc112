"""What the cases start from: small photographs, a finished piece of them, things of her own."""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from fuzz.case import run

CLOTHS = {"moss": (70, 95, 50), "reed": (120, 140, 80), "sand": (200, 180, 130),
          "clay": (160, 95, 70)}  # fmt: skip
TABLE = {"plum": (80, 45, 75), "fern": (60, 120, 60), "rust": (170, 80, 40)}
HERS = {"notes.txt": b"my own words", "swatches/mine.png": b"a picture of my own"}
"""Files that she laid into the piece folder herself."""


@dataclass(frozen=True)
class Bench:
    """``photos``: those of the made folder ``piece``; ``late`` and ``second`` are not yet in it."""

    root: Path
    photos: Path
    late: Path
    second: Path
    piece: Path

    def copy(self, where: Path) -> Path:
        """A piece folder of the case's own, with files of hers in it and a neighbour beside it."""
        folder = where / "piece"
        shutil.copytree(self.piece, folder, symlinks=True)
        for name, data in HERS.items():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(data)
        beside = where / "holiday.png"
        beside.write_bytes(b"outside the piece")
        return folder


def laid_out(root: Path) -> Bench:
    """Draw the photographs and make the piece."""
    photos = root / "photos"
    photos.mkdir(parents=True)
    for seed, (name, colour) in enumerate(CLOTHS.items()):
        _cloth(colour, seed).save(photos / f"{name}.png")
    _table().save(photos / "table.jpg", quality=90)
    late, second = root / "late.jpg", root / "second.jpg"
    _cloth((40, 60, 110), 8).save(late, quality=90)
    _cloth((150, 150, 160), 9).save(second, quality=90)
    piece = root / "base"
    made = run(["make", photos, "--out", piece, "--scale", "1in=60", "--repeats", "2"])
    assert made.code == 0, made.err
    return Bench(root, photos, late, second, piece)


def state(folder: Path) -> dict[str, Any]:
    """All that the piece says, swatches pixel by pixel, without moments and running times."""
    from sequencer import piece as pieces

    held = pieces.load(folder)
    cloth = {}
    for one in held.prints:
        pixels = None if one.swatch is None else one.swatch.pixels
        told = "none" if pixels is None else hashlib.blake2b(np.ascontiguousarray(pixels))
        cloth[one.id] = told if isinstance(told, str) else told.hexdigest()
    told_prints = pieces.prints_json(held)
    order = held.sequence.order if held.sequence else None
    return json.loads(json.dumps({
        "prints": told_prints, "cloth": cloth, "order": order,
        "order_wishes": dict(held.order_wishes), "plan_wishes": dict(held.plan_wishes),
        "planned": held.plan is not None,
    }, default=str))  # fmt: skip


def ids_of(folder: Path) -> list[str]:
    """The piece's print ids."""
    return [one["id"] for one in state(folder)["prints"]["prints"]]


def hers_gone(folder: Path) -> list[str]:
    """Files of hers, in the folder and beside it, that are no longer as she left them."""
    kept = {**{folder / name: data for name, data in HERS.items()},
            folder.parent / "holiday.png": b"outside the piece"}  # fmt: skip
    return [str(path.name) for path, data in kept.items()
            if not path.is_file() or path.read_bytes() != data]  # fmt: skip


def _cloth(colour: tuple[int, int, int], seed: int, size: tuple[int, int] = (240, 180)
           ) -> Image.Image:
    noise = np.random.default_rng(seed).normal(0, 6, (size[1], size[0], 1))
    return Image.fromarray(np.clip(np.array(colour) + noise, 0, 255).astype(np.uint8))


def _table() -> Image.Image:
    image = _cloth((225, 222, 215), 7, (480, 360))
    for place, (seed, colour) in enumerate(enumerate(TABLE.values(), 20)):
        image.paste(_cloth(colour, seed, (110, 200)), (30 + 150 * place, 80))
    ImageDraw.Draw(image).line((0, 20, 480, 20), fill=(200, 198, 190))
    return image
