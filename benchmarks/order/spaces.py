"""How well colour spaces agree with published judgements of colour difference (STRESS, 0 perfect).

    python benchmarks/order/spaces.py --data FOLDER

FOLDER holds COMBVD's sets as JSON (BFD-P, Leeds, RIT-DuPont, Witt, as in Melgosa, Huertas and
Berns, JOSA A 25, 2008; xyz of each pair, dv, reference_white) and macadam_1974.json (JOSA 64,
1974). OSA-UCS (MacAdam 1974) comes with colour-science: the lattice's neighbours are equal steps.
Small differences want chroma compressed strongly, large ones little: strip space is a compromise.
Then known sequences are recovered under the project's cost with its colours in each space.
"""

from __future__ import annotations

import argparse
import itertools
import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import colour
import numpy as np
from numpy.typing import NDArray
from transition import CASES, SCHEMES, hits, project, stress

from sequencer.colour import (
    ciede2000,
    hyab,
    lab_to_xyz,
    meeting,
    srgb8_to_lab,
    strip_units,
    xyz_to_lab,
)
from sequencer.colour.spaces import D65_WHITE

Floats = NDArray[np.floating]
Difference = Callable[[Floats, Floats], Floats]
"""Of two lists of XYZ (n, 3), Y 1 for white, adapted to D65."""


def of_lab(difference: Callable[[Floats, Floats], Floats]) -> Difference:
    return lambda a, b: difference(xyz_to_lab(a), xyz_to_lab(b))


def euclid(space: Callable[[Floats], Floats]) -> Difference:
    return lambda a, b: np.linalg.norm(space(a) - space(b), axis=-1)


def cam16_lcd(xyz: Floats) -> Floats:
    """L_A 20, Y_b 20, average surround; K_L .77 divides J'."""
    found = np.asarray(colour.XYZ_to_CAM16LCD(
        np.asarray(xyz) * 100, XYZ_w=np.array(D65_WHITE) * 100, L_A=20, Y_b=20))
    return found / [0.77, 1, 1]


def oklab_log(xyz: Floats) -> Floats:
    """Oklab in units of L*, a and b times 2.4, chroma compressed as in strip space."""
    lab = np.asarray(colour.XYZ_to_Oklab(xyz)) * [100, 240, 240]
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    scale = np.where(chroma > 1e-9, np.log1p(0.02 * chroma) / np.maximum(0.02 * chroma, 1e-12), 1)
    return np.asarray(lab * np.stack([np.ones_like(scale), scale, scale], axis=-1))


SPACES: dict[str, Difference] = {
    "strip units (shipped)": of_lab(strip_units),
    "HyAB": of_lab(hyab),
    "CIEDE2000": of_lab(ciede2000),
    "CAM16-LCD": euclid(cam16_lcd),
    "Oklab, log chroma": euclid(oklab_log),
}


def adapted(xyz: Floats, white: Floats) -> Floats:
    """Von Kries in CAT02 to D65, Y of white 1."""
    return np.asarray(colour.adaptation.chromatic_adaptation_VonKries(
        xyz / white[1], white / white[1], np.array(D65_WHITE), transform="CAT02"))


def combvd(folder: Path) -> list[tuple[Floats, Floats, Floats]]:
    found = []
    for path in sorted(folder.glob("**/*.json")):
        data = json.loads(path.read_text())
        colours = adapted(np.array(data["xyz"], float), np.array(data["reference_white"], float))
        pairs = np.array(data["pairs"])
        found.append((colours[pairs[:, 0]], colours[pairs[:, 1]], np.array(data["dv"])))
    return found


def macadam(path: Path) -> tuple[Floats, Floats, Floats]:
    data = json.loads(path.read_text())
    xyz = {}
    for name, (x, y, luminance, *_) in data["table 2"].items():
        xyz[name] = np.array([x / y, 1, (1 - x - y) / y]) * luminance / 100
    a, b, seen = (np.array(column) for column in zip(*(
        (xyz[str(row[1])], xyz[str(row[2])], row[3]) for row in data["table 1"]), strict=True))
    return a, b, seen


def osa() -> tuple[Floats, Floats, Floats]:
    """The lattice's nearest neighbours, all two steps long, among real and not too dark colours."""
    points = [(level, j, g) for level in range(-3, 4) for j in range(-6, 9) for g in range(-6, 7)
              if (level + j) % 2 == 0 and (level + g) % 2 == 0 and abs(j) + abs(g) <= 8]
    xyz = np.asarray(colour.OSA_UCS_to_XYZ(np.array(points, float))) / 100
    real = [k for k in range(len(points)) if (xyz[k] > 0.02).all() and (xyz[k] < 1).all()]
    pairs = []
    for i, k in itertools.combinations(real, 2):
        step = np.subtract(points[i], points[k]) * [np.sqrt(2), 1, 1]
        if 1.9 < np.linalg.norm(step) < 2.1:
            pairs.append((i, k))
    a, b = np.array(pairs).T
    return xyz[a], xyz[b], np.ones(len(pairs))


def recovery(sets: int) -> None:
    """Known sequences under the project's cost, its colours placed in each space instead.

    Each space is scaled so that the median pair of sRGB colours is as far apart as in strip space.
    """
    random = np.random.default_rng(1)
    labs = srgb8_to_lab(random.integers(0, 256, (2, 4000, 3)).astype(np.uint8))
    usual = np.median(strip_units(*labs))
    cases = ("strong accents", "no dominant colour", "family accents", "shared accents",
             "pair's own colour")
    print("\nRecovered, %: " + ", ".join(cases))
    for name, space in (("strip units (shipped)", None), ("CAM16-LCD", cam16_lcd),
                        ("Oklab, log chroma", oklab_log)):
        if space is not None:
            unit = usual / np.median(euclid(space)(*(lab_to_xyz(side) for side in labs)))
            meeting.strip_space = partial(_placed, space, float(unit))
        row = [np.mean([hits(replace(CASES[case], scheme=scheme), n, loop, sets, 40 + k,
                             {"it": project})["it"]
                        for k, scheme in enumerate(SCHEMES) for n in (6, 8)
                        for loop in (False, True)]) for case in cases]
        print(f"{name:24}" + "".join(f"{100 * share:8.1f}" for share in row), flush=True)


def _placed(space: Callable[[Floats], Floats], unit: float, lab: Floats) -> Floats:
    return np.nan_to_num(space(lab_to_xyz(np.asarray(lab, float))) * unit)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--sets", type=int, default=4, help="known sequences of each kind")
    asked = parser.parse_args()
    folder = asked.data
    small = combvd(folder / "combvd")
    large, lattice = macadam(folder / "macadam_1974.json"), osa()
    pairs = sum(len(seen) for _, _, seen in small)
    print(f"COMBVD {pairs} pairs, MacAdam {len(large[2])}, OSA-UCS neighbours {len(lattice[2])}")
    for name, difference in SPACES.items():
        each = [difference(a, b) for a, b, _ in small]
        row = [stress(np.concatenate(each), np.concatenate([seen for _, _, seen in small]))]
        row += [stress(difference(a, b), seen) for a, b, seen in (large, lattice)]
        print(f"{name:24}" + "".join(f"{figure:8.1f}" for figure in row), flush=True)
    recovery(asked.sets)


if __name__ == "__main__":
    main()
