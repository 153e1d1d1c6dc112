"""Fit what sequencer/photo/reference/evidence.py weighs a sheet or card by, on simulated photos.

    python benchmarks/photo/fit_reference.py [--photos 200] [--seed 1000]
    python benchmarks/photo/fit_reference.py --trees [--seeds 1000-1039 1150-1244]
    python benchmarks/photo/fit_reference.py --check [--photos 200] [--seed 6000]

Without more the weights, which are printed: as many photos of each kind (sheet, grey, none) from
tests/made/simulator.py, and half as many again from reference_scenes.py, which count a quarter:
other simulators and real tables differ from ours, and what is learnt must not lean on its sizes and
side ratios. Maximum likelihood of the conditional logit with a small ridge; roughness and odd shape
never speak for paper, so their weights are kept at 0 or below.
--trees: on top of the weights as they stand the trees for cards (boosting.py), which are written;
three photos a seed from either simulator, all counted whole. Seeds from 5000 on are held back.
--check fits nothing: it shows how often the reference is found in held-back photos of either
simulator, unasked and asked, how often something else is taken, and of finds that are said to be p
sure, how many are right.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).parents[2]))

from boosting import Choices, fitted
from reference_scenes import varied

from sequencer.photo.files.load import Photo
from sequencer.photo.reference.evidence import GREY_WEIGHTS, SHEET_WEIGHTS, asked, features
from sequencer.photo.reference.likeliest import candidates
from sequencer.photo.reference.reference import find_reference
from sequencer.photo.reference.trees import FILE
from tests.made import simulator

KINDS = ("sheet", "grey", "none")
NEVER_FOR = range(1, 9)  # odd shape, rough, with a double
RIDGE = 1.0
VARIED_COUNT = 0.25
HELD_BACK = 5000
TREES_FROM = ["1000-1039", "1150-1244"]
WIDE = (15, 7, 14, 7)
LEVELS = (0.0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97, 1.01)
Choice = tuple[np.ndarray, np.ndarray, int, float]
"""Rows as a sheet, rows as a card, which of (sheets, cards, none) is right, and what it counts."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=200, help="photos of each kind")
    parser.add_argument("--seed", type=int, help="first seed: 1000, or 6000 with --check")
    parser.add_argument("--check", action="store_true", help="see how good the weights are")
    parser.add_argument("--trees", action="store_true", help="fit and write the trees for cards")
    parser.add_argument("--seeds", nargs="+", metavar="FIRST-LAST", default=TREES_FROM)
    options = parser.parse_args()
    if options.trees:
        spans = [tuple(map(int, span.split("-"))) for span in options.seeds]
        seeds = [seed for low, high in spans for seed in range(low, high + 1) if seed < HELD_BACK]
        write_trees([one for seed in seeds for one in _both(seed)])
        return
    first = options.seed or (6000 if options.check else 1000)
    seeds = range(first, first + options.photos)
    if options.check:
        check(seeds)
        return
    if seeds.stop + options.photos // 2 > HELD_BACK:
        parser.error("seeds from 5000 on are held back")
    choices = list(_choices(seeds))
    sheet, grey = fit(choices)
    print("SHEET_WEIGHTS", np.array2string(sheet.round(2), separator=", "))
    print("GREY_WEIGHTS", np.array2string(grey.round(2), separator=", "))


def _choices(seeds: range) -> Iterator[Choice]:
    for seed in seeds:
        for kind in KINDS:
            pixels, truth = _simulated(seed, kind)
            yield from _choice(pixels, truth, kind, 1.0)
    for seed in range(seeds.start, seeds.stop + len(seeds) // 2):
        for kind in KINDS:
            scene = varied(seed, kind)
            yield from _choice(scene.pixels, scene.reference, kind, VARIED_COUNT)


def _both(seed: int) -> Iterator[Choice]:
    for made in MADE.values():
        for kind in KINDS:
            yield from _choice(*made(seed, kind), kind, 1.0)


def write_trees(choices: list[Choice]) -> None:
    """Trees for what the weights leave, into the program."""
    right = [np.arange(2 * len(sheet)) == at for sheet, _, at, _ in choices]
    together = Choices(
        np.vstack([asked(sheet, grey) for sheet, grey, *_ in choices]),
        np.repeat(np.arange(len(choices)), [len(sheet) for sheet, *_ in choices]),
        np.concatenate([one[len(one) // 2 :] for one in right]),
        np.concatenate([sheet @ SHEET_WEIGHTS for sheet, *_ in choices]),
        np.concatenate([grey @ GREY_WEIGHTS for _, grey, *_ in choices]),
    )
    np.savetxt(FILE, fitted(together), fmt="%.6g", delimiter=",")


def _varied(seed: int, kind: str) -> tuple[np.ndarray, np.ndarray | None]:
    scene = varied(seed, kind)
    return scene.pixels, scene.reference


def _simulated(seed: int, kind: str) -> tuple[np.ndarray, np.ndarray | None]:
    scene = simulator.scene(seed, kind)
    if scene.polygon is None:
        return scene.pixels, None
    return scene.pixels, _mask(scene.polygon, scene.table.shape)


MADE = {"plainer": _simulated, "harder": _varied}


def _photo(pixels: np.ndarray) -> Photo:
    return Photo("scene.jpg", "scene", pixels, pixels.shape[1::-1])


def _choice(
    pixels: np.ndarray, truth: np.ndarray | None, kind: str, counts: float
) -> Iterator[Choice]:
    photo = _photo(pixels)
    quads = candidates(photo)
    if not quads:
        return
    right = -1
    if truth is not None:
        best = max(range(len(quads)), key=lambda i: _overlap(quads[i].corners, truth))
        if _on_it(quads[best].corners, truth):
            right = best + (len(quads) if kind == "grey" else 0)
    yield (*features(quads, pixels), right, counts)


def _mask(corners: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    picture = Image.new("1", shape[::-1])
    ImageDraw.Draw(picture).polygon([tuple(map(float, corner)) for corner in corners], fill=1)
    return np.asarray(picture)


def _overlap(corners: np.ndarray, truth: np.ndarray) -> float:
    mask = _mask(corners, truth.shape)
    return float((mask & truth).sum() / max(1, (mask | truth).sum()))


def _on_it(corners: np.ndarray, truth: np.ndarray) -> bool:
    """Nine tenths of the middle, where the colour is read, lie on the reference."""
    centre = corners.mean(axis=0)
    core = _mask(centre + 0.7 * (corners - centre), truth.shape)
    return float((core & truth).sum()) > 0.9 * core.sum()


def check(seeds: range) -> None:
    """Print the shares found, unasked and asked, and how far ``sure`` can be believed."""
    said: list[tuple[float, bool]] = []
    head = "photos with"
    print(f"{head:20}{'unasked: right':>15}{'wrong':>7}{'asked: right':>14}{'wrong':>7}")
    for scenes, made in MADE.items():
        for kind in KINDS:
            counts = _counted(made, seeds, kind, said)
            line = "".join(f"{count:{wide}}" for count, wide in zip(counts, WIDE, strict=False))
            print(f"{f'{scenes}, {kind}':20}{line}", flush=True)
    print("\nsaid to be sure      right   finds")
    sure, right = np.array([s for s, _ in said]), np.array([r for _, r in said])
    for low, high in pairwise(LEVELS):
        inside = (sure >= low) & (sure < high)
        if inside.any():
            print(f"{sure[inside].mean():15.2f}{right[inside].mean():11.2f}{inside.sum():8}")


def _counted(made, seeds: range, kind: str, said: list[tuple[float, bool]]) -> list[int]:  # type: ignore[no-untyped-def]
    """Finds that are right and wrong, unasked and, where there is something, asked."""
    found = {"auto": [0, 0], kind: [0, 0]}
    for seed in seeds:
        pixels, truth = made(seed, kind)
        for wanted, counted in found.items():
            one = find_reference(_photo(pixels), wanted)
            if one is None:
                continue
            right = truth is not None and one.kind == kind and _on_it(one.polygon, truth)
            counted[not right] += 1
            said.append((one.sure, right))
    return found["auto"] if kind == "none" else [*found["auto"], *found[kind]]


def fit(choices: list[Choice]) -> tuple[np.ndarray, np.ndarray]:
    """Weights as a sheet and as a card."""
    split, total = choices[0][0].shape[1], sum(rows.shape[1] for rows in choices[0][:2])

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        value, slope = RIDGE * weights @ weights / 2, RIDGE * weights
        for sheet, grey, right, counts in choices:
            odds = np.concatenate([sheet @ weights[:split], grey @ weights[split:], [0.0]])
            share = np.exp(odds - odds.max())
            share /= share.sum()
            value -= counts * np.log(share[right] + 1e-12)
            share[right] -= 1
            share *= counts
            slope[:split] += share[: len(sheet)] @ sheet
            slope[split:] += share[len(sheet) : -1] @ grey
        return float(value), slope

    bounds = [
        (None, 0.0 if place in NEVER_FOR or place - split in NEVER_FOR else None)
        for place in range(total)
    ]
    best = minimize(loss, np.zeros(total), jac=True, method="L-BFGS-B", bounds=bounds)
    return best.x[:split], best.x[split:]


if __name__ == "__main__":
    main()
