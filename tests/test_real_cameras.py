"""Two real photographs of 24-patch targets by one phone (crops; source and licence beside them).

Truth is published: the maker's values since November 2014, or the BabelColor average, as the
colour-science package has them, brought from D50 to D65. Limits are about a fifth above what the
whole photographs give (benchmarks/real_cameras.py): crops have fewer pixels.
"""

import csv
import warnings
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import sequencer
from sequencer.colour import D65_WHITE, adaptation_matrix, ciede2000, xyz_to_lab
from sequencer.photo.reference.target import homography

FOLDER = Path(__file__).parent / "data" / "charts"
LINES = [line for line in (FOLDER / "SOURCES.tsv").read_text("utf-8").splitlines()
         if not line.startswith("#")]  # fmt: skip
CHARTS = list(csv.DictReader(LINES, delimiter="\t"))
WHITE, N5 = 18, 21


@cache
def published(edition: str) -> np.ndarray:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    names = {"2014": "ColorChecker24 - After November 2014", "babel": "BabelColor Average"}
    chart = colour.CCS_COLOURCHECKERS[names[edition]]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    return xyz_to_lab(xyz @ adaptation_matrix(colour.xy_to_XYZ(chart.illuminant), D65_WHITE).T)


def corners(chart: dict) -> np.ndarray:
    return np.array([[float(one) for one in pair.split(",")] for pair in chart["corners"].split()])


def places(chart: dict, cells: np.ndarray) -> np.ndarray:
    to_picture = homography(np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), corners(chart))
    mapped = np.column_stack([cells, np.ones(len(cells))]) @ to_picture.T
    return mapped[:, :2] / mapped[:, 2:]


def centres(chart: dict) -> np.ndarray:
    return places(chart, np.array([(c + 0.5, r + 0.5) for r in range(4) for c in range(6)]))


def patch(chart: dict, index: int) -> np.ndarray:
    row, column = divmod(index, 6)
    turns = ((-0.25, -0.25), (0.25, -0.25), (0.25, 0.25), (-0.25, 0.25))
    return places(chart, np.array([(column + 0.5 + dx, row + 0.5 + dy) for dx, dy in turns]))


def errors(chart: dict, reference: str, marked: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    spots = sequencer.colours_at(FOLDER / chart["file"], centres(chart)[:18], reference,
                                 marked=marked.tolist(), camera="none", radius=4)
    true = published(chart["edition"])[:18]
    return (ciede2000(np.array([spot.lab for spot in spots]), true),
            np.array([spot.uncertainty for spot in spots]))


@pytest.mark.parametrize(("by", "median", "p95"), [
    ("target", 2.7, 6.0), ("card", 4.6, 9.5), ("sheet", 4.8, 10.0), ("none", 9, 16),
])  # fmt: skip
def test_real_photos_are_read_as_well_as_is_said(by: str, median: float, p95: float) -> None:
    """Of the target's own patches when read by it; each patch left out is in the benchmark."""
    every, within = [], []
    for chart in CHARTS:
        lightness = published(chart["edition"])[N5, 0]
        asked = {"target": ("target", corners(chart)), "sheet": ("sheet", patch(chart, WHITE)),
                 "card": (f"grey={lightness:.1f}", patch(chart, N5))}  # fmt: skip
        if by == "none":
            spots = sequencer.colours_at(FOLDER / chart["file"], centres(chart)[:18], "none",
                                         camera="none")
            off = ciede2000(np.array([spot.lab for spot in spots]),
                            published(chart["edition"])[:18])
            stated = np.array([spot.uncertainty for spot in spots])
        else:
            off, stated = errors(chart, *asked[by])
        every.append(off)
        within.append(off <= stated)
    assert np.median(np.concatenate(every)) < median
    assert np.percentile(np.concatenate(every), 95) < p95
    assert np.concatenate(within).mean() >= 0.86


def test_each_camera_is_brought_nearer_than_the_file_has_it() -> None:
    for chart in CHARTS:
        plain = sequencer.colours_at(FOLDER / chart["file"], centres(chart)[:18], "none",
                                     camera="none")
        before = np.median(ciede2000(np.array([spot.lab for spot in plain]),
                                     published(chart["edition"])[:18]))
        by_target = np.median(errors(chart, "target", corners(chart))[0])
        assert by_target < 0.8 * before, chart["file"]


def test_sources_are_named() -> None:
    assert {one["file"] for one in CHARTS} == {path.name for path in FOLDER.glob("*.jpg")}
    assert all(one["licence"].startswith("MIT") and len(one["commit"]) == 40 for one in CHARTS)
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 200_000
