"""Fit the weights of sequencer/photo/evidence.py on simulated photos and print them.

    python benchmarks/fit_reference.py [--photos 180] [--seed 1000]

As many photos of each kind (sheet, grey, none); seeds from 5000 on are held back. Maximum
likelihood of the conditional logit with a small ridge; roughness and odd shape never speak for
paper, so their weights are kept at 0 or below.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import simulator

from sequencer.photo.evidence import features
from sequencer.photo.load import Photo
from sequencer.photo.reference import candidates

KINDS = ("sheet", "grey", "none")
NEVER_FOR = (1, 2, 3, 4)  # side ratio, outline not filled, texture, grain
RIDGE = 1.0
Choice = tuple[np.ndarray, np.ndarray, int]
"""Rows as a sheet, rows as a card, and which of (sheets, cards, none) is right."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=180, help="photos of each kind")
    parser.add_argument("--seed", type=int, default=1000, help="first seed")
    options = parser.parse_args()
    if options.seed + options.photos > 5000:
        parser.error("seeds from 5000 on are held back")
    choices = list(_choices(range(options.seed, options.seed + options.photos)))
    sheet, grey = fit(choices)
    print("SHEET_WEIGHTS", np.array2string(sheet.round(2), separator=", "))
    print("GREY_WEIGHTS", np.array2string(grey.round(2), separator=", "))


def _choices(seeds: range) -> Iterator[Choice]:
    for seed in seeds:
        for kind in KINDS:
            scene = simulator.scene(seed, kind)
            photo = Photo("scene.jpg", "scene", scene.pixels, scene.pixels.shape[1::-1])
            quads = candidates(photo)
            if not quads:
                continue
            right = -1
            if scene.polygon is not None:
                shape = scene.table.shape
                shared = [_overlap(quad.corners, scene.polygon, shape) for quad in quads]
                if max(shared) > 0.7:
                    right = int(np.argmax(shared)) + (len(quads) if kind == "grey" else 0)
            yield (*features(quads, photo.pixels), right)


def _overlap(one: np.ndarray, other: np.ndarray, shape: tuple[int, int]) -> float:
    masks = []
    for corners in (one, other):
        picture = Image.new("1", shape[::-1])
        ImageDraw.Draw(picture).polygon([tuple(map(float, corner)) for corner in corners], fill=1)
        masks.append(np.asarray(picture))
    return float((masks[0] & masks[1]).sum() / max(1, (masks[0] | masks[1]).sum()))


def fit(choices: list[Choice]) -> tuple[np.ndarray, np.ndarray]:
    """Weights as a sheet and as a card."""
    split, total = choices[0][0].shape[1], sum(rows.shape[1] for rows in choices[0][:2])

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        value, slope = RIDGE * weights @ weights / 2, RIDGE * weights
        for sheet, grey, right in choices:
            odds = np.concatenate([sheet @ weights[:split], grey @ weights[split:], [0.0]])
            share = np.exp(odds - odds.max())
            share /= share.sum()
            value -= np.log(share[right] + 1e-12)
            share[right] -= 1
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
