"""How true sizes read from photographs are, on tables whose every length is known.

    python benchmarks/photo/sizes.py [--photos 40] [--seed 6000] [--side 2600 1300] [--keep FOLDER]

Maker: tests/made/measured_tables.py, a pinhole camera of 24 to 28 mm (35 mm equivalent) tilted by
up to 25°, its lens bending by up to 2 % at the corner. Seeds below 5000 were used for building,
those from 5000 on never. Photos go through the whole reading.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.errors import NothingReadError
from sequencer.models import Print
from sequencer.reading.photos import read
from tests.made.measured_tables import CARDS, SHEETS_IN, photographed

CASES = ("card and sheet", "card alone", "sheet alone", "neither")
NOTES = """
median, p95: error of scraps' sides, per cent; bias: their median with its sign. sized: photos with
a scale; asked: photos that say what to do for one; wrong: scales off by more than a tenth. In every
photo one scrap has a card's shape; sheets are letter, A4, A5 or 8 1/2 x 5 1/2 in (ratio 1.545)."""


@dataclass
class Row:
    """What one case gave."""

    errors: list[float] = field(default_factory=list)
    sized: int = 0
    asked: int = 0
    wrong: int = 0


def main() -> None:
    options = _options()
    print(f"{'pixels':>6}  {'case':15}{'asked for':>10}{'photos':>7}{'sides':>6}{'median':>8}"
          f"{'p95':>7}{'bias':>7}{'sized':>7}{'asked':>7}{'wrong':>7}")  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        folder = options.keep or Path(name)
        folder.mkdir(parents=True, exist_ok=True)
        for side in options.side:
            for case in options.cases:
                for scale in ("auto", "bankcard"):
                    row = Row()
                    for seed in range(options.seed, options.seed + options.photos):
                        _tally(row, *_made(folder, seed, case, side), scale)
                    _print_line(side, case, scale, options.photos, row)
    print(NOTES)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=40, help="photos of each case")
    parser.add_argument("--seed", type=int, default=6000, help="first seed")
    parser.add_argument("--side", type=int, nargs="+", default=[2600, 1300], help="long side")
    parser.add_argument("--cases", nargs="+", choices=CASES, default=CASES)
    parser.add_argument("--keep", type=Path, help="folder to keep photos in, for another run")
    return parser.parse_args()


def _made(folder: Path, seed: int, case: str, side: int) -> tuple[Path, dict]:
    """The photo of a seed, made unless it lies there already, and its truth."""
    path = folder / f"{case.replace(' ', '-')}-{side}-{seed}.jpg"
    truth = path.with_suffix(".json")
    if not truth.exists():
        sheet = list(SHEETS_IN)[seed % 4] if "sheet" in case else None
        card = CARDS[seed // 4 % 5] if "card" in case else None
        made = photographed(seed, sheet, card, side)
        made.save(path)
        lying = [
            {"kind": one.kind, "seen": one.seen.tolist(), "sides": one.sides_in}
            for one in made.lying
        ]
        about = {"tilt": made.camera.tilt, "bend": made.camera.bend, "f": made.camera.equivalent}
        truth.write_text(json.dumps({"size": made.camera.size, "lying": lying, **about}))
    return path, json.loads(truth.read_text())


def _tally(row: Row, path: Path, truth: dict, scale: str) -> None:
    try:
        prints = read([path], shows="many", scale=scale).prints
    except NothingReadError as error:
        print(f"  {path.name}: {error}", file=sys.stderr)
        return
    scraps = [one for one in truth["lying"] if one["kind"] == "scrap"]
    errors = [error for one in prints for error in _errors(one, scraps, truth["size"])]
    row.asked += any("--scale" in text for one in prints for text in one.warnings)
    row.sized += any(one.size_in is not None for one in prints)
    row.wrong += bool(errors) and abs(np.median(errors)) > 0.1
    row.errors += errors


def _errors(one: Print, scraps: list[dict], size: list[int]) -> list[float]:
    """Log of measured over true, long and short side, where the print is one of the scraps."""
    if one.size_in is None:
        return []
    mine = _mask(one.outline, size)
    for scrap in scraps:
        there = _mask(scrap["seen"], size)
        if (mine & there).sum() > 0.8 * (mine | there).sum():
            return [float(x) for x in np.log(np.array(one.size_in) / scrap["sides"])]
    return []


def _mask(outline: object, size: list[int]) -> np.ndarray:
    """At a quarter of the photo's pixels: enough to tell scraps apart."""
    picture = Image.new("1", (size[0] // 4, size[1] // 4))
    ImageDraw.Draw(picture).polygon([(x / 4, y / 4) for x, y in outline], fill=1)
    return np.asarray(picture)


def _print_line(side: int, case: str, scale: str, photos: int, row: Row) -> None:
    errors = 100 * np.array(row.errors or [np.nan])
    sizes = np.abs(errors)
    print(f"{side:6}  {case:15}{scale:>10}{photos:7}{len(row.errors):6}{np.median(sizes):8.2f}"
          f"{np.percentile(sizes, 95):7.2f}{np.median(errors):7.2f}"
          f"{row.sized / photos:7.0%}{row.asked / photos:7.0%}{row.wrong / photos:7.0%}",
          flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
