"""Derive CLOTH of sequencer/photo/colour/curves.py from published spectra; print it.

    python benchmarks/fit_cloth.py [--phones 450] [--seed 0]

No picture is made: dyes of CIE 224:2017 and a target's patches under ten lamps, seen by two
measured cameras whose phones err in each of the ways that tests/simulator.py knows. CLOTH is what
is left on dyes after a target, whose patches are paints, was fitted. No real photo of cloth of
known colour has checked it.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import simulator

from sequencer.colour import linear_to_srgb, xyz_to_lab
from sequencer.photo.colour.curves import target_profile

INKS = 40
WEIGHTS = np.array([1.0, 1 / 1.5, 1 / 1.5])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--phones", type=int, default=450)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    print("CLOTH", np.array2string(fit_cloth(options.phones, options.seed), separator=", "))


def _inks(rng: np.random.Generator) -> np.ndarray:
    return np.clip([simulator._ink(rng) for _ in range(INKS)], 0.01, 0.98)


def _seen(rng: np.random.Generator, camera: str, reflectance: np.ndarray) -> np.ndarray:
    """Linear sRGB of reflectances (n, 31) as some phone has them."""
    lamp = rng.choice(simulator.ILLUMINANTS)
    phone = simulator.Phone(rng.choice(["usual", "gains"]), rng.choice(["usual", "d65", "lamp"]))
    return simulator.bare(rng, reflectance, lamp, camera, phone)


def fit_cloth(count: int, seed: int) -> np.ndarray:
    """(3, 3): mean of what a target leaves on dyes, for chroma, a and b, robustly weighted."""
    rng = np.random.default_rng(seed)
    rows = [_after_target(rng, rng.choice(simulator.CAMERAS)) for _ in range(count)]
    seen, true = (np.concatenate(part) for part in zip(*rows, strict=True))
    chroma = np.minimum(np.hypot(seen[:, 1], seen[:, 2]), 60)
    terms = np.column_stack([chroma, seen[:, 1:]]) / 50
    weight = np.ones(len(terms))
    for _ in range(15):
        weighted = terms * weight[:, None]
        left = np.linalg.solve(weighted.T @ terms, weighted.T @ (true - seen))
        apart = np.linalg.norm((true - seen - terms @ left) * WEIGHTS, axis=1)
        weight = 1 / np.sqrt(1 + (apart / 3) ** 2)
    return left.round(3)


def _after_target(rng: np.random.Generator, camera: str) -> tuple[np.ndarray, np.ndarray]:
    """Dyes as a fitted target shows them, CLOTH not yet in it, and as they are: CIELAB (n, 3)."""
    inks = _inks(rng)
    target = (simulator.checker() + simulator.checker("ColorChecker N Ohta")) / 2
    linear = _seen(rng, camera, np.vstack([target, inks, np.ones((1, 31))]))
    encoded = linear_to_srgb(np.clip(linear / linear[-1].max() * rng.uniform(0.7, 1), 0, 1))
    profile = target_profile(encoded[:24], np.ones(24), np.zeros((3, 3)))
    lab = profile.lab(profile.linear(encoded[24:-1]).T).T
    return lab, xyz_to_lab(simulator.true_xyz(inks))


if __name__ == "__main__":
    main()
