"""Do photos that show the same print agree, and are photos that share none left alone?

    python benchmarks/photo/agreement.py [--pairs 300] [--seed 3000]

Prints of known inks lie in two photos under two lamps, cameras, balances and tone curves, cut from
different places of the same cloth. Photos show 2 to 6 prints and share none, one, two or three of
them. One photo of a pair may have a white to stand on (then the other borrows its standard) or
neither has. Seeds below 5000 were used for building.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.colour import (
    D65_WHITE,
    adaptation_matrix,
    ciede2000,
    lab_to_xyz,
    srgb8_to_lab,
    xyz_to_lab,
)
from sequencer.models import PaletteColour
from sequencer.photo.agreement.agree import PhotoColours, agree
from sequencer.photo.agreement.texture import texture
from sequencer.prints.measure import measure_print
from tests.made import simulator

Floats = NDArray[np.floating]
_SIDE = 150
_NONE, _SHEET = 16.0, 10.5

NOTES = """
tied: pairs that were brought together. before, after: mean ΔE00 between the two photos' colours of
the prints they share, over tied pairs (others stay as they are); harmed: tied pairs whose
agreement got worse by more than 1. within: colours of the borrowing photo inside its stated
uncertainty of the truth. Photos that share no print must not be tied."""


@dataclass(frozen=True)
class Cloth:
    """One print: which ink where (400, 400), reflectances of the inks (n, 31), its weave."""

    labels: NDArray[np.int_]
    inks: Floats
    weave: float


@dataclass(frozen=True)
class Shot:
    """One photo: palettes and means of its prints; ``truth`` (n, 3): their true means, CIELAB."""

    palettes: tuple[tuple[PaletteColour, ...], ...]
    swatches: list[np.ndarray]
    means: Floats
    truth: Floats


def cloth(rng: np.random.Generator) -> Cloth:
    count = int(rng.choice([1, 2, 3, 4, 5], p=(0.15, 0.25, 0.3, 0.2, 0.1)))
    labels = simulator._motif(rng, count, np.ones((400, 400), bool))
    inks = np.clip(np.stack([simulator._ink(rng) for _ in range(count)]), 0.01, 0.98)
    return Cloth(labels, inks, rng.uniform(0.01, 0.05))


def shot(rng: np.random.Generator, cloths: list[Cloth], white: bool) -> Shot:
    """A photo of pieces of ``cloths`` side by side with a white sheet, used where ``white``."""
    pool, labels, shade = [np.full(31, 0.88)], [np.zeros((_SIDE, _SIDE), int)], []
    shade = [np.ones((_SIDE, _SIDE))]
    for one in cloths:
        top, left = rng.integers(0, 400 - _SIDE, 2)
        part = one.labels[top : top + _SIDE, left : left + _SIDE]
        labels.append(np.rot90(part, int(rng.integers(4))) + len(pool))
        shade.append(1 + one.weave * simulator._weave(rng, (_SIDE, _SIDE)))
        pool.extend(one.inks)
    reflectance, wide = np.stack(pool), np.concatenate(labels, axis=1)
    phone = simulator.Phone(fall=0.3)
    pixels, _ = simulator._photograph(
        rng, reflectance, wide, np.concatenate(shade, axis=1), phone, rng
    )
    lab = srgb8_to_lab(pixels)
    if white:
        seen = lab_to_xyz(lab[10:-10, 10 : _SIDE - 10].reshape(-1, 3)).mean(axis=0)
        matrix = adaptation_matrix(seen, D65_WHITE) * (0.88 / seen[1])
        lab = xyz_to_lab(lab_to_xyz(lab) @ matrix.T)
    truth = xyz_to_lab(simulator.true_xyz(reflectance))
    palettes, means, true_means, swatches = [], [], [], []
    for k in range(1, len(cloths) + 1):
        part = np.s_[3:-3, k * _SIDE + 3 : (k + 1) * _SIDE - 3]
        measured = measure_print(lab[part].astype(np.float32), np.ones(lab[part].shape[:2], bool))
        palettes.append(measured.palette)
        swatches.append(np.ascontiguousarray(pixels[part]))
        means.append(measured.mean_lab)
        true_means.append(truth[wide[part]].reshape(-1, 3).mean(axis=0))
    return Shot(tuple(palettes), swatches, np.array(means), np.array(true_means))


@dataclass(frozen=True)
class Pair:
    """Two photos whose first ``shared`` prints are the same; ``white``: the first stands on one."""

    first: Shot
    second: Shot
    shared: int
    white: bool


def pair(seed: int, shared: int) -> Pair:
    rng = np.random.default_rng([seed, shared, 43])
    white = bool(rng.random() < 0.6)
    common = [cloth(rng) for _ in range(shared)]
    shots = []
    for k in range(2):
        others = [cloth(rng) for _ in range(int(rng.integers(max(2, shared), 7)) - shared)]
        shots.append(shot(rng, [*common, *others], white and k == 0))
    return Pair(shots[0], shots[1], shared, white)


def judged(one: Pair) -> dict[str, float]:
    shots = one.first, one.second
    told = agree([
        PhotoColours("a.jpg", "sheet" if one.white else "none", _SHEET if one.white else _NONE,
                     one.first.palettes),
        PhotoColours("b.jpg", "none", _NONE, one.second.palettes),
    ], lambda find: texture(shots[find[0]].swatches[find[1]]))
    tied = any(answer.matrix is not None for answer in told)
    row = {"tied": float(tied)}
    if one.shared:
        first, second = one.first.means[: one.shared], one.second.means[: one.shared]
        row["before"] = float(ciede2000(first, second).mean())
        row["after"] = float(ciede2000(told[0].moved(first), told[1].moved(second)).mean())
    if tied and one.white:
        errors = ciede2000(told[1].moved(one.second.means), one.second.truth)
        row["within"] = float((errors <= told[1].uncertainty).mean())
        row["error"] = float(errors.mean())
        row["was"] = float(ciede2000(one.second.means, one.second.truth).mean())
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pairs", type=int, default=300, help="pairs of photos of each kind")
    parser.add_argument("--seed", type=int, default=3000, help="first seed")
    options = parser.parse_args()
    print(f"{'shared prints':14}{'pairs':>6}{'tied':>7}{'before':>8}{'after':>7}{'harmed':>8}"
          f"{'within':>8}{'error was':>11}{'is':>6}")
    for shared in range(4):
        pairs = (pair(seed, shared) for seed in range(options.seed, options.seed + options.pairs))
        _print_line(shared, [judged(one) for one in pairs])
    print(NOTES)


def _print_line(shared: int, rows: list[dict[str, float]]) -> None:
    tied = [row for row in rows if row["tied"]]

    def mean(name: str) -> float:
        return float(np.mean([row[name] for row in tied if name in row] or [np.nan]))

    harmed = np.mean([row["after"] > row["before"] + 1 for row in tied if "after" in row] or [0])
    print(
        f"{shared:<14}{len(rows):6}{100 * len(tied) / len(rows):6.1f}%{mean('before'):8.2f}"
        f"{mean('after'):7.2f}{100 * harmed:7.1f}%{100 * mean('within'):7.0f}%"
        f"{mean('was'):11.2f}{mean('error'):6.2f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
