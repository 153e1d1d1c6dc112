"""How little a cast changes of a print's palette: simulated prints, and real ones in a folder.

    python benchmarks/photo/casts.py [--prints 16] [--casts 12] [--seed 0] [--folder FOLDER]

A cast here is three gains of .4 to 2.5 on linear sRGB (von Kries 1902), exposed so that nothing
clips, rounded to eight bits. The palette under it, turned back by the gains, is held beside the
palette without it. Seeds 76000 on were used for judging, smaller ones for building.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchmarks.photo.palettes import MAKERS, case, distance
from sequencer.colour import (
    lab_to_xyz,
    linear_to_srgb,
    linear_to_xyz,
    srgb8_to_lab,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.prints.palette import picture_palette

Floats = NDArray[np.floating]

FRAME, SIDE = 8, 1000  # pixels: what is cut off a real picture all round; its longer side at most
NOTES = """
changed: palettes with another number of colours than without the cast. moved: earth mover's
distance between the two, CIEDE2000, median and mean."""


def seen(linear: Floats, gains: Floats) -> tuple[Floats, Floats]:
    """CIELAB of ``linear`` (h, w, 3) under ``gains`` in eight bits, and the gains it came to."""
    gains = gains / max(1.0, float(np.quantile((linear * gains).max(axis=-1), 0.999)))
    encoded = np.rint(255 * linear_to_srgb(np.clip(linear * gains, 0, 1))).astype(np.uint8)
    return srgb8_to_lab(encoded), gains


def palette(lab: Floats, gains: Floats) -> tuple[Floats, Floats]:
    """Colours (n, 3) as they would be without the gains, CIELAB, and their shares."""
    inks = picture_palette(lab.astype(np.float32), np.ones(lab.shape[:2], bool))
    linear = xyz_to_linear(lab_to_xyz(np.array([one.lab for one in inks]))) / gains
    return xyz_to_lab(linear_to_xyz(linear)), np.array([one.share for one in inks])


def compared(lab: Floats, seeds: range) -> list[tuple[bool, float]]:
    """For each cast: whether the number of colours changed, and how far the palette moved."""
    linear = np.maximum(xyz_to_linear(lab_to_xyz(lab.astype(float))), 0)
    plain = palette(*seen(linear, np.ones(3)))
    rows = []
    for seed in seeds:
        rng = np.random.default_rng([seed, 7])
        cast = palette(*seen(linear, np.exp(rng.uniform(np.log(0.4), np.log(2.5), 3))))
        rows.append((len(cast[0]) != len(plain[0]), distance(*cast, *plain)))
    return rows


def real(path: Path) -> Floats:
    """CIELAB of a picture without its frame."""
    with Image.open(path) as picture:
        small = picture.convert("RGB")
    small.thumbnail((SIDE, SIDE))
    return srgb8_to_lab(np.asarray(small))[FRAME:-FRAME, FRAME:-FRAME]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--prints", type=int, default=16, help="prints of each maker")
    parser.add_argument("--casts", type=int, default=12, help="casts of each real picture")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--folder", type=Path, help="real pictures, each of one print")
    options = parser.parse_args()
    print(f"{'prints':28}{'casts':>7}{'changed':>9}{'moved':>8}{'mean':>7}")
    seeds, every = range(options.seed, options.seed + options.prints), []
    for maker in MAKERS:
        rows = [row for s in seeds for row in compared(case(maker, s).lab, range(s, s + 1))]
        every += rows
        _line(maker.__name__, rows)
    _line("all simulated", every)
    if options.folder is not None:
        several, every = range(options.seed, options.seed + options.casts), []
        for path in sorted(options.folder.iterdir()):
            rows = compared(real(path), several)
            every += rows
            _line(path.stem[:27], rows)
        _line("all real", every)
    print(NOTES)


def _line(name: str, rows: list[tuple[bool, float]]) -> None:
    moved = [distance for _, distance in rows]
    print(f"{name:28}{len(rows):7}{np.mean([changed for changed, _ in rows]):9.0%}"
          f"{np.median(moved):8.2f}{np.mean(moved):7.2f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
