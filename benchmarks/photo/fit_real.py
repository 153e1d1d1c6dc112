"""Fit the constants of the neutral path to real cameras, each camera left out in turn.

    python benchmarks/photo/fit_real.py [FOLDER]

FOLDER as for real_cameras.py. Read are the 18 coloured patches by a neutral of the same
picture; parameters are the shoulder (power, knee) and the colour that a sheet is taken to have (L*
and b* as lines of the b* it reads). The loss is the mean over cameras of √(ΔE00² + 9) − 3, so that
no camera leads by its number of photos, and a wild one counts once; a ridge draws to the shipped
constants, which come from these 7 cameras and from a study of 22 (46 photos). Printed: errors on
the cameras left out with shipped, refitted, and no constants (plain gains, sheet L* 95), and the
refitted values. Differences under .3 / 1 are noise.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from real_cameras import COLOURED, FOLDER, NEUTRALS, Chart, charts
from scipy.optimize import minimize

from sequencer.colour import (
    ciede2000,
    lab_to_xyz,
    linear_to_xyz,
    srgb_to_linear,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.photo.colour.correct import light_of
from sequencer.photo.colour.curves import Profile
from sequencer.photo.colour.light import Light
from sequencer.photo.colour.neutral import card_lab, neutral_profile
from sequencer.photo.colour.shoulder import USUAL, Shoulder
from sequencer.photo.colour.steep import believable
from sequencer.photo.colour.taught import Expected
from sequencer.photo.files.load import load
from sequencer.photo.reference.reference import Reference, find_reference

SHIPPED = np.array([np.log(USUAL.power), np.log(USUAL.knee), 89.5, 0.5, -1.0, 0.4])
SPREAD = np.array([0.1, 0.6, 2.0, 0.3, 1.0, 0.2])
PLAIN = np.array([0.0, 20.0, 95.0, 0.0, 0.0, 0.0])
"""Plain gains: a response without shoulder, a sheet of L* 95 without tint."""
_RIDGE = 0.15
KINDS = ("white as sheet", "paper", "N8", "N6.5", "N5")


@dataclass(frozen=True)
class Case:
    """One photo read by one neutral: ``patches`` (18, 3), ``neutral`` (3,), lit (18,) and one;
    ``pixels`` (h, w, 3) and ``over`` them the light, for cards."""

    camera: str
    kind: str
    patches: np.ndarray
    neutral: np.ndarray
    light: np.ndarray
    lit: float
    lightness: float
    true: np.ndarray
    pixels: np.ndarray
    over: Light


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    folder = parser.parse_args().folder
    if not (folder / "corners.tsv").exists():
        raise SystemExit(f"no photographs of targets in {folder}: name their folder")
    cases = [case for chart in charts(folder) for case in cases_of(chart)]
    cameras = sorted({case.camera for case in cases})
    left_out = {one: fit([c for c in cases if c.camera != one]) for one in cameras}
    print(f"{'':16}{'plain gains':>16}{'shipped':>16}{'refitted, camera left out':>28}")
    for kind in KINDS:
        mine = [case for case in cases if case.kind == kind]
        found = [_figures(mine, _plain), _figures(mine, lambda case: SHIPPED)]
        found.append(_figures(mine, lambda case: left_out[case.camera]))
        print(f"{kind:16}{found[0]:>16}{found[1]:>16}{found[2]:>28}")
    print("\nrefitted: power, knee, sheet L* at b* 0 and each b*, sheet b* at b* 0 and each b*")
    for one in cameras:
        p = left_out[one]
        print(f"  without {one[:34]:36}", np.exp(p[:2]).round(2), p[2:].round(2))


def cases_of(chart: Chart) -> list[Case]:
    """The photo read by its white patch and its paper as sheets, and by three greys as cards."""
    photo = load(chart.path)
    target = find_reference(photo, "target", chart.corners / photo.factor)
    if target is None:
        return []
    everywhere = np.ones(photo.pixels.shape[:2], bool)
    light, lit = light_of(photo, target, everywhere)
    cases = []
    for kind in KINDS:
        index = NEUTRALS.get(kind.split()[0])
        if index is not None:
            at = target.encoded[index], float(lit[index]), float(chart.true[index, 0])
        elif chart.paper is not None:
            at = _paper(photo, chart, light)
        else:
            continue
        cases.append(Case(chart.camera, kind, target.encoded[COLOURED], at[0], lit[COLOURED], at[1],
                          at[2], chart.true[COLOURED], photo.pixels, light))
    return cases


def _paper(photo, chart: Chart, light) -> tuple:  # type: ignore[no-untyped-def]
    middle, half = chart.paper / photo.factor, chart.radius / photo.factor
    found = find_reference(photo, "sheet", [middle - half, middle + half])
    assert isinstance(found, Reference)
    height, width = photo.pixels.shape[:2]
    x, y = middle / [width, height] * 2 - 1
    return found.encoded[0], float(np.exp(light.at(x, y))), 0.0


def fit(cases: list[Case]) -> np.ndarray:
    def loss(p: np.ndarray) -> float:
        by_camera: dict[str, list[float]] = {}
        for case in cases:
            error = errors(case, p)
            by_camera.setdefault(case.camera, []).append(np.sqrt(error**2 + 9).mean() - 3)
        ridge = _RIDGE * (((p - SHIPPED) / SPREAD) ** 2).sum() / len(by_camera)
        return float(np.mean([np.mean(one) for one in by_camera.values()]) + ridge)

    return minimize(loss, SHIPPED, method="Powell",
                    options={"maxiter": 3, "xtol": 1e-2, "ftol": 1e-3}).x


def errors(case: Case, p: np.ndarray, whole: bool = False) -> np.ndarray:
    """ΔE00 of the patches, by the formulas of sequencer.photo.colour.neutral; ``whole``: a camera
    too steep for its card told as well, which no constant here decides."""
    shoulder = Shoulder(float(np.exp(p[0])), float(np.exp(p[1])))
    lab = card_lab(case.lightness)
    if whole and case.kind in ("N8", "N6.5", "N5"):
        def by(one: Shoulder) -> Profile:
            return neutral_profile(case.neutral, case.lit, lab, Expected(one))

        profile = believable(by, shoulder, case.pixels, case.over)
        evened = profile.linear(case.patches) / case.light[:, None]
        return ciede2000(profile.lab(evened.T).T, case.true)
    if case.kind in ("white as sheet", "paper"):
        b = float(xyz_to_lab(linear_to_xyz(srgb_to_linear(case.neutral)))[2])
        lightness = np.clip(p[2] + p[3] * b, p[2] - 6, p[2] + 1.5)
        lab = float(lightness), 0.0, float(np.clip(p[4] + p[5] * b, -5, 0))
    seen = shoulder.whole(shoulder.half(case.patches).T).T / case.light[:, None]
    white = shoulder.whole(shoulder.half(case.neutral)[:, None])[:, 0] / case.lit
    balanced = seen * (xyz_to_linear(lab_to_xyz(lab)) / white)
    return ciede2000(xyz_to_lab(np.maximum(linear_to_xyz(balanced), 1e-5)), case.true)


def _plain(case: Case) -> np.ndarray:
    return PLAIN


def _figures(cases: list[Case], constants) -> str:  # type: ignore[no-untyped-def]
    every = np.concatenate([errors(case, constants(case), constants is not _plain)
                            for case in cases])
    return f"{np.median(every):.2f} / {np.percentile(every, 95):.1f}"


if __name__ == "__main__":
    main()
