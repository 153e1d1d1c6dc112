"""How true colours read from real photographs are: pictures of 24-patch targets by real cameras.

    python benchmarks/photo/real_cameras.py [FOLDER] [--each]

FOLDER (default ../shared/real/charts beside the checkout) holds photographs, ``corners.tsv`` (outer
corners of the patches: at dark skin, bluish green, black, white), ``SOURCES.tsv`` (edition of the
target) and ``chart_neutrals.tsv`` (decoded colour of paper beside the target). Truth: the published
colours of the edition (maker's values from November 2014, else the BabelColor average), brought to
D65. Each line reads the 18 coloured patches (``sequencer.reading.spots``) by something else in the
same picture: the target without the patch that is asked for, one neutral patch as a card of its
stated lightness or as a white sheet, or real paper. 'own': what colours of one photo err against
each other, nine in ten: of every two within 40 ΔE the one is put right, and what is left of the
other is told over √2, since both err. No constant of the program is fitted to the
photo that is read here except where docs say so (fit_real.py leaves each camera out).
"""

from __future__ import annotations

import argparse
import csv
import os
import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from sequencer.colour import (
    D65_WHITE,
    adaptation_matrix,
    ciede2000,
    linear_to_srgb,
    xyz_to_lab,
)
from sequencer.errors import PassalongError
from sequencer.photo.files.load import load
from sequencer.photo.files.view import view_of
from sequencer.photo.reference.patches import homography
from sequencer.reading import cameras
from sequencer.reading.spots import Spots, colours_at

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "real" / "charts"
TAUGHT = "taught by the others"
COLOURED = slice(0, 18)
_LIKE = 40.0
NEUTRALS = {"white": 18, "N8": 19, "N6.5": 20, "N5": 21}
GOALS = {"target": "3.0 / 7.5", "white as sheet": "5.0 / 11.5", "N6.5 as card": "4.3 / 9.5",
         "N5 as card": "4.5 / 11.5", "paper": "5.3 / 13"}


@dataclass(frozen=True)
class Chart:
    """One photograph: ``patches`` (24, 2) centres and ``corners`` (4, 2) in its pixels, upright;
    ``true`` (24, 3) CIELAB; ``paper`` (2,) where paper lies, None without."""

    path: Path
    camera: str
    corners: np.ndarray
    true: np.ndarray
    paper: np.ndarray | None

    @property
    def patches(self) -> np.ndarray:
        """Their centres."""
        return self._at([(c + 0.5, r + 0.5) for r in range(4) for c in range(6)])

    def around(self, index: int) -> np.ndarray:
        """Corners of the inner part of a patch."""
        row, column = divmod(index, 6)
        turns = ((-0.25, -0.25), (0.25, -0.25), (0.25, 0.25), (-0.25, 0.25))
        return self._at([(column + 0.5 + dx, row + 0.5 + dy) for dx, dy in turns])

    @property
    def radius(self) -> float:
        """A fifth of a patch's side."""
        side = np.linalg.norm(self.corners[1] - self.corners[0]) / 6
        return float(side / 5)

    def _at(self, cells: list[tuple[float, float]]) -> np.ndarray:
        frame = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float)
        to_picture = homography(frame, self.corners)
        mapped = np.column_stack([np.array(cells), np.ones(len(cells))]) @ to_picture.T
        return mapped[:, :2] / mapped[:, 2:]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:  # the user's own cameras stay out of it
        os.environ["XDG_DATA_HOME"] = folder
        _tell()


def _tell() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    parser.add_argument("--each", action="store_true", help="a line for each photo")
    options = parser.parse_args()
    if not (options.folder / "corners.tsv").exists():
        raise SystemExit(f"no photographs of targets in {options.folder}: name their folder")
    photos = charts(options.folder)
    cameras = len({one.camera for one in photos})
    print(f"{len(photos)} photographs, {cameras} cameras; CIEDE2000 over 18 coloured patches\n")
    print(f"{'read by':16}{'photos':>7}{'median':>8}{'p95':>7}{'goal':>13}{'within ±':>10}"
          f"{'by camera':>11}{'±':>7}{'own':>7}")
    for name, read in WAYS.items():
        rows = [(one.camera, one.path.name, *measured(one, read)) for one in photos
                if name != "paper" or one.paper is not None]
        _print_line(name, rows)
        if options.each:
            for _, photo, errors, stated, _ in rows:
                print(f"    {photo:14}{np.median(errors):8.2f}{np.percentile(errors, 95):7.2f}"
                      f"{100 * np.mean(errors <= stated):6.0f} % within ± {np.mean(stated):.1f}")
    _print_taught(photos)
    print("\nby camera: mean of the cameras' medians. within ±: errors inside the stated ±.")


def _print_taught(photos: list[Chart]) -> None:
    """Cameras with several photos, each read after the others taught it, and untaught."""
    groups = {one.camera: [c for c in photos if c.camera == one.camera] for one in photos}
    print("\ntaught by all other photos of the same camera (and untaught):")
    for name in ("uncorrected", "white as sheet", "N6.5 as card", "N5 as card", "paper"):
        for several in groups.values():
            mine = [c for c in several if name != "paper" or c.paper is not None]
            if len(several) < 2 or not mine:
                continue
            plain = [(c.camera, c.path.name, *measured(c, WAYS[name])) for c in mine]
            lessons = {c.path: cameras.learn(c.path, c.path.stem, c.corners)[0].lessons
                       for c in several}  # fmt: skip
            rows = []
            for chart in mine:
                others = tuple(one for path, held in lessons.items() if path != chart.path
                               for one in held)  # fmt: skip
                cameras.keep([cameras.Camera(TAUGHT, ("", "", ""), others)])
                rows.append((chart.camera, chart.path.name, *measured(chart, WAYS[name])))
                cameras.keep([])
            print(several[0].camera)
            _print_line(name, plain)
            _print_line("  taught", rows)


def _print_line(name: str, rows: list) -> None:
    errors = np.concatenate([row[2] for row in rows])
    stated = np.concatenate([row[3] for row in rows])
    by_camera = {camera: np.concatenate([r[2] for r in rows if r[0] == camera])
                 for camera, *_ in rows}
    print(f"{name:16}{len(rows):7}{np.median(errors):8.2f}{np.percentile(errors, 95):7.2f}"
          f"{GOALS.get(name, ''):>13}{100 * np.mean(errors <= stated):8.0f} %"
          f"{np.mean([np.median(e) for e in by_camera.values()]):11.2f}{np.mean(stated):7.1f}"
          f"{np.percentile(np.concatenate([row[4] for row in rows]), 90):7.1f}", flush=True)


def measured(chart: Chart, read: Callable) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Errors (18,) in ΔE00, stated uncertainties (18,), what pairs err against each other (n,)."""
    try:
        spots = read(chart)
    except PassalongError as error:
        raise SystemExit(f"{chart.path.name}: {error}") from error
    lab = np.array([spot.lab for spot in spots])
    true = chart.true[COLOURED]
    return (ciede2000(lab, true), np.array([spot.uncertainty for spot in spots]),
            among(lab, true))


def among(lab: np.ndarray, true: np.ndarray) -> np.ndarray:
    """What is left of each of two like colours (n, 3) when the other is put right, over √2."""
    apart = np.linalg.norm(true[:, None] - true, axis=-1)
    one, other = np.nonzero((apart <= _LIKE) & (apart > 0))
    return ciede2000(lab[one] - (lab - true)[other], true[one]) / np.sqrt(2)


# ── ways to read ──────────────────────────────────────────────────────────────────────────


def _spots(chart: Chart, at: np.ndarray, **asked: object) -> Spots:
    camera = TAUGHT if any(one.name == TAUGHT for one in cameras.taught()) else "none"
    return colours_at(chart.path, at, radius=chart.radius, camera=camera, **asked)  # type: ignore[arg-type]


def uncorrected(chart: Chart) -> Spots:
    return _spots(chart, chart.patches[COLOURED], reference="none")


def target(chart: Chart) -> list:
    """Each patch by a target fitted without it."""
    out = []
    for index, at in enumerate(chart.patches[COLOURED]):
        out += _spots(chart, at[None], reference="target", marked=chart.corners,
                      without_patches=(index + 1,))
    return out


def as_sheet(chart: Chart) -> Spots:
    return _spots(chart, chart.patches[COLOURED], reference="sheet", marked=chart.around(18))


def as_card(name: str) -> Callable[[Chart], tuple]:
    index = NEUTRALS[name]

    def read(chart: Chart) -> Spots:
        return _spots(chart, chart.patches[COLOURED], marked=chart.around(index),
                      reference=f"grey={chart.true[index, 0]:.2f}")

    return read


def by_paper(chart: Chart) -> Spots:
    half = chart.radius
    x, y = chart.paper
    box = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
    return _spots(chart, chart.patches[COLOURED], reference="sheet", marked=box)


WAYS: dict[str, Callable] = {
    "uncorrected": uncorrected, "target": target, "white as sheet": as_sheet,
    "N8 as card": as_card("N8"), "N6.5 as card": as_card("N6.5"), "N5 as card": as_card("N5"),
    "paper": by_paper,
}


# ── the photographs ───────────────────────────────────────────────────────────────────────


def charts(folder: Path) -> list[Chart]:
    about, neutrals = _table(folder / "SOURCES.tsv"), _table(folder / "chart_neutrals.tsv")
    out = []
    for name, row in _table(folder / "corners.tsv").items():
        corners = np.array([float(row[f"{axis}{k}"]) for k in range(4) for axis in "xy"])
        corners = corners.reshape(4, 2)
        paper = neutrals[name]["paper_R"] and [float(neutrals[name][f"paper_{c}"]) for c in "RGB"]
        place = _find_paper(folder / name, corners, np.array(paper)) if paper else None
        out.append(Chart(folder / name, about[name]["camera"], corners,
                         published(about[name]["edition"]), place))
    return out


def _table(path: Path) -> dict[str, dict[str, str]]:
    lines = path.read_text("utf-8").splitlines()
    rows = [line.lstrip("# ") for line in lines if not line.startswith("#") or "\t" in line]
    return {row["file"]: row for row in csv.DictReader(rows, delimiter="\t")}


def _find_paper(path: Path, corners: np.ndarray, decoded: np.ndarray) -> np.ndarray:
    """The place nearest the target where the picture is smooth and of the paper's stated colour."""
    photo = load(path)
    view = view_of(photo)
    off = np.abs(view.pixels / 255 - linear_to_srgb(decoded)).max(axis=-1)
    y, x = np.nonzero((off < 0.012) & (view.change < 1.5))
    at = (np.column_stack([x, y]) + 0.5) * view.step * photo.factor
    low, high = corners.min(axis=0), corners.max(axis=0)
    apart = np.maximum(np.maximum(low - at, at - high), 0).max(axis=1)
    room = 0.06 * np.ptp(corners, axis=0).max()
    return at[np.argmin(np.where(apart > room, apart, np.inf))]


@cache
def published(edition: str) -> np.ndarray:
    """(24, 3) CIELAB under D65: '2014', the maker's values since November 2014, or 'babel'."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    name = "ColorChecker24 - After November 2014" if edition == "2014" else "BabelColor Average"
    chart = colour.CCS_COLOURCHECKERS[name]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    white = colour.xy_to_XYZ(chart.illuminant)
    return xyz_to_lab(xyz @ adaptation_matrix(white, D65_WHITE).T)


if __name__ == "__main__":
    main()
