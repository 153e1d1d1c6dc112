"""Fit how far a dark photo without a reference is lifted, on real cameras and simulated ones.

    python benchmarks/photo/fit_bare.py [FOLDER] [--photos 60]

FOLDER as for real_cameras.py. One loss over both kinds: the mean over real cameras of
√(ΔE00² + 9) − 3 plus its mean over simulated photos (tests/made/simulator.py, seeds from 3000 on),
and a ridge on the slope. Printed: errors of real photos by constants fitted without their camera,
of simulated ones never fitted to, of single prints cut out of those (which is why only tables are
lifted). Last: grey pixels (Yang, Gao, Li 2015), whose mean colour is the light's, as a trial that
is not shipped, and the constants of photo/colour/exposure.py fitted on all.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from real_cameras import COLOURED, FOLDER, charts
from scipy.ndimage import uniform_filter

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.colour import (
    ciede2000,
    lab_to_xyz,
    linear_to_xyz,
    srgb8_to_lab,
    srgb_to_linear,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.photo.colour.exposure import cues, lift_by
from sequencer.photo.files.load import load
from tests.made import simulator

LIFTS = np.linspace(0, 0.6, 13)
SLOPES, LEVELS = np.arange(0, 2.05, 0.1), np.arange(-0.9, 0.01, 0.05)
_RIDGE = 0.02
_SEED = 3000


@dataclass
class Case:
    """One photo: ``cues`` of its pixels, ``seen`` and ``true`` (n, 3) CIELAB of known colours;
    ``grey`` (3,): the light by grey pixels, linear sRGB."""

    camera: str
    name: str
    cues: tuple[float, float]
    seen: np.ndarray
    true: np.ndarray
    grey: np.ndarray
    by_lift: np.ndarray = field(init=False)
    """ΔE00 at each of LIFTS, (13, n)."""

    def __post_init__(self) -> None:
        self.by_lift = np.stack([self.lifted(one) for one in LIFTS])

    def lifted(self, lift: float) -> np.ndarray:
        """ΔE00 (n,) under a gain, log."""
        linear = xyz_to_linear(lab_to_xyz(self.seen)) * np.exp(lift)
        return ciede2000(xyz_to_lab(np.maximum(linear_to_xyz(linear), 1e-5)), self.true)

    def by_grey(self, share: float, lift: float) -> np.ndarray:
        """ΔE00 (n,) when ``share`` of the light's colour is taken out as well."""
        gains = (self.grey.mean() / self.grey) ** share * np.exp(lift)
        linear = xyz_to_linear(lab_to_xyz(self.seen)) * gains
        return ciede2000(xyz_to_lab(np.maximum(linear_to_xyz(linear), 1e-5)), self.true)

    def errors(self, slope: float, level: float) -> np.ndarray:
        """ΔE00 (n,) with these constants."""
        at = lift_by(*self.cues, slope, level) / (LIFTS[1] - LIFTS[0])
        low = min(int(at), len(LIFTS) - 2)
        return self.by_lift[low] * (1 - at + low) + self.by_lift[low + 1] * (at - low)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    parser.add_argument("--photos", type=int, default=60, help="simulated photos of each half")
    options = parser.parse_args()
    if not (options.folder / "corners.tsv").exists():
        raise SystemExit(f"no photographs of targets in {options.folder}: name their folder")
    real = real_cases(options.folder)
    used, singles = simulated(_SEED, options.photos)
    fresh, more = simulated(_SEED + options.photos, options.photos)
    cameras = sorted({one.camera for one in real})
    without = {c: fit([one for one in real if one.camera != c], used) for c in cameras}
    slope, level = fit(real, used)
    print(f"{'ΔE00':34}{'as it was':>16}{'lifted':>16}")
    _line("real, camera left out", real, lambda one: one.errors(*without[one.camera]))
    alone = fit([], used)
    _line("real, fitted on simulated alone", real, lambda one: one.errors(*alone))
    _line("simulated, never fitted", fresh, lambda one: one.errors(slope, level))
    _line("single prints (not lifted)", singles + more, lambda one: one.errors(slope, level))
    worse = [np.median(one.errors(*without[one.camera])) - np.median(one.by_lift[0])
             for one in real]  # fmt: skip
    print(f"\nreal photos made worse: {sum(w > 0.05 for w in worse)} of {len(worse)}")
    for camera in cameras:
        print(f"  without {camera[:34]:36} slope {without[camera][0]:.1f} "
              f"level {without[camera][1]:.2f}")
    print("\nlifted, then this share of the light by grey pixels taken out; photos over .3 worse")
    for share in (0.25, 0.5, 1.0):
        for name, cases in (("real", real), ("simulated", fresh)):
            plain, grey = ([one.by_grey(s, lift_by(*one.cues)) for one in cases]
                           for s in (0.0, share))
            spoilt = sum(np.median(g) > np.median(p) + 0.3
                         for p, g in zip(plain, grey, strict=True))
            print(f"  {share:4} {name:12}{_told(np.concatenate(plain)):>16}"
                  f"{_told(np.concatenate(grey)):>16}{spoilt:5} of {len(cases)}")
    print(f"fitted on all: slope {slope:.1f}, level {level:.2f}")


def fit(real: Sequence[Case], made: Sequence[Case]) -> tuple[float, float]:
    """Slope and level of least loss, by trying all."""
    def loss(slope: float, level: float) -> float:
        total = _RIDGE * slope**2
        for cases in (real, made):
            by_camera: dict[str, list[float]] = {}
            for one in cases:
                soft = np.sqrt(one.errors(slope, level) ** 2 + 9).mean() - 3
                by_camera.setdefault(one.camera, []).append(float(soft))
            if by_camera:
                total += float(np.mean([np.mean(each) for each in by_camera.values()]))
        return total

    return min(((float(s), float(v)) for s in SLOPES for v in LEVELS), key=lambda p: loss(*p))


def real_cases(folder: Path) -> list[Case]:
    """The 18 coloured patches of each real target, as the file has them."""
    out = []
    for chart in charts(folder):
        photo = load(chart.path)
        at, half = chart.patches[COLOURED] / photo.factor, max(1, int(chart.radius / photo.factor))
        seen = [srgb8_to_lab(photo.pixels[int(y) - half:int(y) + half + 1,
                                          int(x) - half:int(x) + half + 1]).mean(axis=(0, 1))
                for x, y in at]  # fmt: skip
        out.append(Case(chart.camera, chart.path.name, cues(photo.pixels), np.array(seen),
                        chart.true[COLOURED], grey_pixels(photo.pixels)))
    return out


def simulated(first: int, count: int) -> tuple[list[Case], list[Case]]:
    """Tables without a reference, and each scrap of every fourth as if it filled a photo."""
    tables, singles = [], []
    for seed in range(first, first + count):
        scene = simulator.scene(seed, "none")
        lab = srgb8_to_lab(scene.pixels)
        seen = np.array([lab[one.mask].mean(axis=0) for one in scene.scraps])
        true = np.array([one.mean_lab for one in scene.scraps])
        grey = grey_pixels(scene.pixels)
        tables.append(Case(str(seed), str(seed), cues(scene.pixels), seen, true, grey))
        for k, one in enumerate(scene.scraps if seed % 4 == 0 else ()):
            cloth = np.repeat(scene.pixels[one.mask][:, None], 4, axis=1)
            singles.append(
                Case(str(seed), str(seed), cues(cloth), seen[k:k + 1], true[k:k + 1], grey))
    return tables, singles


def _line(name: str, cases: Sequence[Case], read: Callable[[Case], np.ndarray]) -> None:
    before = np.concatenate([one.by_lift[0] for one in cases])
    after = np.concatenate([read(one) for one in cases])
    print(f"{name:34}{_told(before):>16}{_told(after):>16}", flush=True)


def _told(errors: np.ndarray) -> str:
    return f"{np.median(errors):.2f} / {np.percentile(errors, 95):.1f}"


def grey_pixels(pixels: np.ndarray) -> np.ndarray:
    """Mean linear sRGB (3,) of the hundredth that looks greyest: where the logs of the three
    channels change alike over 3 × 3 pixels, the darker the less (Yang, Gao, Li 2015)."""
    linear = srgb_to_linear(pixels / 255)
    log = np.log(np.maximum(linear, 1e-4))
    window = (3, 3, 1)
    change = np.sqrt(np.maximum(
        uniform_filter(log**2, window) - uniform_filter(log, window) ** 2, 0))
    mean = change.mean(axis=-1)
    unlike = change.std(axis=-1) / np.maximum(mean, 1e-6) / np.maximum(linear.mean(axis=-1), 1e-4)
    unlike = uniform_filter(unlike, 7)
    unlike[(pixels.min(axis=-1) < 8) | (pixels.max(axis=-1) >= 250) | (mean < 1e-3)] = np.inf
    greyest = np.argpartition(unlike.ravel(), unlike.size // 100)[: unlike.size // 100]
    return linear.reshape(-1, 3)[greyest].mean(axis=0)


if __name__ == "__main__":
    main()
