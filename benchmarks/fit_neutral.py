"""Print the constants of sequencer/photo/colour/neutral.py and CLOTH, from published spectra.

    python benchmarks/fit_neutral.py [--phones 900] [--seed 0]

No picture is made: dyes of CIE 224:2017 and a target's patches under ten lamps, seen by two
measured cameras whose phones err in each of the ways that tests/simulator.py knows (white balance
before or after the matrix; one matrix, one between two lamps, one for each lamp). The axes of the
adaptation, the mean matrix and the mean drift of strong colours are those that leave the least
error in CIELAB under a soft L1 loss, chroma counting less than lightness. CLOTH is what is left on
dyes after a target was fitted. Fitted to one camera, what is printed above the constants is median
and 95th percentile of ΔE00 on the one and on the other.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import simulator

from sequencer.colour import (
    D65_WHITE,
    adaptation_matrix,
    ciede2000,
    linear_to_srgb,
    linear_to_xyz,
    xyz_to_lab,
)
from sequencer.photo.colour.curves import drifted, target_profile
from sequencer.photo.colour.neutral import adapted

INKS = 40
WEIGHTS = np.array([1.0, 1 / 1.5, 1 / 1.5])
Data = tuple[np.ndarray, np.ndarray, np.ndarray]
"""XYZ as the phone has them, XYZ it gives white, true CIELAB: (n, 3) each."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--phones", type=int, default=900)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    both = simulator.CAMERAS
    tests = {name: phones((name,), 100, options.seed + 1) for name in both}
    _line("Bradford", tests, _bradford)
    for cameras in ((both[0],), (both[1],), both):
        constants = fit(phones(cameras, options.phones, options.seed))
        _line("from " + " and ".join(cameras), tests, lambda x, w, c=constants: predicted(c, x, w))
    for name, value in zip(("AXES", "MEAN", "DRIFT"), constants, strict=True):
        print(name, np.array2string(value.round(4), separator=", "))
    print("CLOTH", np.array2string(fit_cloth(options.phones // 2, options.seed), separator=", "))


def _line(name: str, tests: dict[str, Data], method) -> None:  # type: ignore[no-untyped-def]
    errors = [ciede2000(method(seen, white), true) for seen, white, true in tests.values()]
    figures = [f"{np.median(e):5.2f} {np.percentile(e, 95):6.2f}" for e in errors]
    print(f"{name:55}", *figures, sep="  ")


def phones(cameras: tuple[str, ...], count: int, seed: int) -> Data:
    """What ``count`` phones of these cameras make of colours and of white."""
    rng = np.random.default_rng(seed)
    rows = [_one(rng, rng.choice(cameras)) for _ in range(count)]
    seen, white, true = (np.concatenate(part) for part in zip(*rows, strict=True))
    return seen, white, true


def _one(rng: np.random.Generator, camera: str) -> Data:
    reflectance = np.vstack([_inks(rng), simulator.checker()[:18]])
    linear = _seen(rng, camera, np.vstack([reflectance, np.ones((1, 31))]))
    xyz = linear_to_xyz(np.maximum(linear, 1e-4))
    seen, white = xyz[:-1], xyz[-1:]
    return seen, np.repeat(white, len(seen), axis=0), xyz_to_lab(simulator.true_xyz(reflectance))


def _inks(rng: np.random.Generator) -> np.ndarray:
    return np.clip([simulator._ink(rng) for _ in range(INKS)], 0.01, 0.98)


def _seen(rng: np.random.Generator, camera: str, reflectance: np.ndarray) -> np.ndarray:
    """Linear sRGB of reflectances (n, 31) as some phone has them."""
    lamp = rng.choice(simulator.ILLUMINANTS)
    phone = simulator.Phone(rng.choice(["usual", "gains"]), rng.choice(["usual", "d65", "lamp"]))
    return simulator.bare(rng, reflectance, lamp, camera, phone)


def _bradford(seen: np.ndarray, white: np.ndarray) -> np.ndarray:
    each = [adaptation_matrix(w, D65_WHITE) / w[1] @ x for x, w in zip(seen, white, strict=True)]
    return xyz_to_lab(np.array(each))


# ── the fit ───────────────────────────────────────────────────────────────────────────────


def fit(data: Data) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Axes (3, 3), mean matrix (3, 3) that keeps white, drift (3,)."""
    seen, white, true = data

    def errors(p: np.ndarray) -> np.ndarray:
        return ((predicted(_constants(p), seen, white) - true) * WEIGHTS).ravel()

    return _constants(least_squares(errors, np.zeros(15), loss="soft_l1", f_scale=3.0).x)


def _constants(p: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    off = ~np.eye(3, dtype=bool)
    turn, mean = np.eye(3), np.zeros((3, 3))
    turn[off], mean[off] = p[:6], p[6:12]
    mean += np.diag(1 - mean @ D65_WHITE / D65_WHITE)
    axes = turn @ (BRADFORD / (BRADFORD @ D65_WHITE)[:, None])
    return axes / (axes @ D65_WHITE)[:, None], mean, p[12:]


def predicted(constants: tuple[np.ndarray, ...], seen: np.ndarray, white: np.ndarray) -> np.ndarray:
    """CIELAB after adaptation from each row's ``white``."""
    axes, mean, drift = constants
    xyz = adapted(seen, white, axes) @ mean.T
    return drifted(xyz_to_lab(np.maximum(xyz, 1e-5)).T, drift).T


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


BRADFORD = np.array([  # Lam 1985, where the fit starts
    [0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296],
])  # fmt: skip


if __name__ == "__main__":
    main()
