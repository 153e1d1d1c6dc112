"""How true colours read from photographs are, on simulated photos with known truth.

    python benchmarks/photo/photo_truth.py [--photos 40] [--seed 5000] [--marked] [--phone gains]

Simulator: tests/made/simulator.py, whose Phone says what other phones do. Seeds below 5000 were
used for building, those from 5000 on never.
Photos go through the whole reading: file, reference found without help, light evened, colours
corrected, scraps found, palettes made.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw
from scipy.optimize import linprog

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.colour import ciede2000, srgb8_to_lab
from sequencer.models import Print
from sequencer.reading.photos import read
from tests.made import simulator

KINDS = ("target", "sheet", "grey", "none")
PHONES = {
    "usual": simulator.USUAL_PHONE,
    **{name: simulator.Phone(balance=name) for name in ("gains", "daylight")},
    "lamp A by daylight": simulator.Phone(balance="daylight", lamp="A"),
    **{name: simulator.Phone(matrix=name) for name in ("d65", "lamp")},
    **{name: simulator.Phone(tone=name) for name in ("bent", "weak", "strong", "gamma", "none")},
}
GOALS = {"target": "<= 3.0 / 7.5", "sheet": "<= 5.3 / 13", "grey": "<= 4.5 / 11.5",
         "none": "< as it was"}
"""As for real cameras (benchmarks/photo/real_cameras.py), whose responses the simulator now has."""

NOTES = """
median, p95: CIEDE2000 of the mean colour. as it was: median of the uncorrected photo. within:
errors inside the stated uncertainty. palette: median earth mover's distance to the true inks,
CIEDE2000. found: scraps found. told: photos whose reference was recognised."""


def main() -> None:
    options = _options()
    print(f"{'reference':10}{'photos':>7}{'prints':>7}{'median':>8}{'p95':>7}{'goal':>14}"
          f"{'as it was':>11}{'within':>8}{'palette':>9}{'found':>7}{'told':>6}")
    for kind in options.kinds:
        rows, told = [], 0
        for seed in range(options.seed, options.seed + options.photos):
            scene = simulator.scene(seed, kind, phone=PHONES[options.phone])
            wanted = kind if options.asked or options.marked else "auto"
            prints = _read(scene, wanted, options.marked)
            told += any(one.reference == kind for one in prints)
            rows += [_row(scrap, scene, prints) for scrap in scene.scraps]
        _print_line(kind, options.photos, rows, told)
    print(NOTES)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=40, help="photos of each kind")
    parser.add_argument("--seed", type=int, default=5000, help="first seed")
    parser.add_argument("--asked", action="store_true", help="say what reference is in the photo")
    parser.add_argument("--marked", action="store_true", help="and mark its corners")
    parser.add_argument("--phone", choices=PHONES, default="usual", help="how the phone errs")
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=KINDS)
    return parser.parse_args()


def _read(scene: simulator.Scene, wanted: str, by_hand: bool) -> tuple[Print, ...]:
    marked = scene.polygon.tolist() if by_hand and scene.polygon is not None else None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scene.png"  # the scene went through JPEG already
        Image.fromarray(scene.pixels).save(path)
        try:
            return read([path], shows="many", reference=wanted, marked=marked).prints
        except Exception as error:
            print(f"  {scene.about}: {error}", file=sys.stderr)
            return ()


def _row(scrap: simulator.Scrap, scene: simulator.Scene, prints: tuple[Print, ...]) -> dict:
    before = float(ciede2000(srgb8_to_lab(scene.pixels)[scrap.mask].mean(axis=0), scrap.mean_lab))
    match = max(prints, key=lambda one: _overlap(one, scrap.mask), default=None)
    if match is None or _overlap(match, scrap.mask) < 0.5:
        return {"before": before}
    error = float(ciede2000(np.array(match.mean_lab), scrap.mean_lab))
    return {
        "before": before,
        "error": error,
        "within": error <= match.uncertainty,
        "palette": _palette_distance(match, scrap),
    }


def _overlap(one: Print, mask: np.ndarray) -> float:
    picture = Image.new("1", mask.shape[::-1])
    ImageDraw.Draw(picture).polygon([tuple(point) for point in one.outline], fill=1)
    inside = np.asarray(picture)
    return float((inside & mask).sum() / max(1, (inside | mask).sum()))


def _palette_distance(one: Print, scrap: simulator.Scrap) -> float:
    """Earth mover's distance between palettes (Rubner, Tomasi, Guibas 2000), exact."""
    inks = [(lab, share) for lab, share in scrap.inks if share > 0]
    ours = np.array([colour.lab for colour in one.palette])
    cost = ciede2000(ours[:, None], np.array([lab for lab, _ in inks])[None])
    supply = np.array([colour.share for colour in one.palette])
    demand = np.array([share for _, share in inks])
    rows = np.kron(np.eye(len(supply)), np.ones(len(demand)))
    columns = np.kron(np.ones(len(supply)), np.eye(len(demand)))
    amounts = np.concatenate([supply / supply.sum(), demand / demand.sum()])
    return float(linprog(cost.ravel(), A_eq=np.vstack([rows, columns]), b_eq=amounts).fun)


def _print_line(kind: str, photos: int, rows: list[dict], told: int) -> None:
    read_ones = [row for row in rows if "error" in row]
    errors = [row["error"] for row in read_ones] or [np.nan]
    share = 100 * np.mean([row["within"] for row in read_ones])
    print(
        f"{kind:10}{photos:7}{len(read_ones):7}{np.median(errors):8.2f}"
        f"{np.percentile(errors, 95):7.2f}{GOALS[kind]:>14}"
        f"{np.median([row['before'] for row in rows]):11.2f}{share:7.0f}%"
        f"{np.median([row['palette'] for row in read_ones]):9.2f}"
        f"{100 * len(read_ones) / len(rows):6.0f}%{100 * told / photos:5.0f}%",
        flush=True,
    )


if __name__ == "__main__":
    main()
