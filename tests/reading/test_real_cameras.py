"""Photographs of 24-patch targets: real ones where they lie, simulated ones everywhere.

No photograph is committed: those we have stand under licences whose notices we could not get. Where
``../shared/real/charts`` lies beside the checkout, what docs/measured.md says of them is held here;
elsewhere only simulated targets are, which says less. Truth is published: the maker's values since
November 2014, or the BabelColor average, as the colour-science package has them.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import sequencer
from sequencer.colour import ciede2000
from sequencer.photo.reference.patches import PATCHES_LAB
from tests.made import simulator

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks" / "photo"))

import real_cameras

WHITE, N5 = 18, 21
HERE = (real_cameras.FOLDER / "corners.tsv").exists()
FEW = ("jtvd09.jpg", "jtvdm5.jpg", "d300.jpg", "fish.jpg", "pcvm.jpg")


@pytest.mark.skipif(not HERE, reason="no real photographs of targets beside the checkout")
@pytest.mark.parametrize(("by", "median", "p95"), [
    ("target", 3.6, 7), ("N5 as card", 4.6, 10), ("white as sheet", 4.9, 11),
    ("uncorrected", 8, 17),
])  # fmt: skip
def test_real_photos_are_read_as_well_as_is_said(by: str, median: float, p95: float) -> None:
    photos = [one for one in real_cameras.charts(real_cameras.FOLDER) if one.path.name in FEW]
    figures = [real_cameras.measured(one, real_cameras.WAYS[by]) for one in photos]
    errors, stated, _ = (np.concatenate(one) for one in zip(*figures, strict=True))
    assert np.median(errors) < median
    assert np.percentile(errors, 95) < p95
    assert (errors <= stated).mean() >= 0.86


@pytest.mark.skipif(not HERE, reason="no real photographs of targets beside the checkout")
@pytest.mark.parametrize("by", ["N5 as card", "N6.5 as card"])
def test_a_scanner_far_steeper_than_cameras_is_told_by_what_would_outshine_white(by: str) -> None:
    """13.3 and 8.2 ΔE00 with the usual response; no constant was fitted to it."""
    photos = [one for one in real_cameras.charts(real_cameras.FOLDER)
              if one.path.name in ("lem1.jpg", "lem2.jpg")]
    assert len(photos) == 2
    errors = np.concatenate([real_cameras.measured(one, real_cameras.WAYS[by])[0]
                             for one in photos])
    assert np.median(errors) < 6.5
    assert np.percentile(errors, 95) < 12


@pytest.mark.parametrize("seed", [41, 42, 43])
def test_simulated_targets_bring_every_photo_nearer_the_truth(seed: int, tmp_path: Path) -> None:
    scene = simulator.scene(seed, "target", size=(960, 720))
    path = tmp_path / "scene.png"
    Image.fromarray(scene.pixels).save(path)
    corners = scene.polygon
    cells = real_cameras.homography(np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), corners)
    at = np.array([(c + 0.5, r + 0.5, 1) for r in range(3) for c in range(6)]) @ cells.T
    points = at[:, :2] / at[:, 2:]

    def off(reference: str, **marked: object) -> np.ndarray:
        spots = sequencer.colours_at(path, points, reference, camera="none", **marked)  # type: ignore[arg-type]
        return ciede2000(np.array([spot.lab for spot in spots]), PATCHES_LAB[:18])

    by_target = off("target", marked=corners.tolist())
    assert np.median(by_target) < 0.6 * np.median(off("none"))
    assert np.percentile(by_target, 95) < 6
