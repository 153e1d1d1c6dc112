"""A small box of photographs and the piece read from it; names of what is really read."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sequencer.intake import needed, read_into
from sequencer.piece import load

BOX = ["moss", "sand", "table-1", "table-2", "table-3"]


def cloth(path: Path, colour, seed: int = 0) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    noise = np.random.default_rng(seed).normal(0, 6, (200, 260, 1))
    pixels = np.clip(np.array(colour) + noise, 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(path, quality=90)
    return path


def table(path: Path) -> Path:
    """Three red, blue and green scraps on grey, 640 × 480."""
    image = Image.new("RGB", (640, 480), (60, 60, 66))
    draw = ImageDraw.Draw(image)
    for x, colour in ((40, (180, 60, 50)), (250, (60, 90, 160)), (460, (90, 140, 80))):
        draw.rectangle((x, 100, x + 139, 299), fill=colour)
    noisy = np.asarray(image) + np.random.default_rng(4).normal(0, 3, (480, 640, 1))
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(path, quality=92)
    return path


@pytest.fixture
def counted(monkeypatch) -> list[str]:
    """The names of the photos that are really read."""
    names: list[str] = []
    real = needed.read_each

    def read_each(jobs, *more):
        names.extend(job.name for job in jobs)
        return real(jobs, *more)

    monkeypatch.setattr(needed, "read_each", read_each)
    return names


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    folder = tmp_path / "photos"
    cloth(folder / "moss.jpg", (70, 95, 50), 1)
    cloth(folder / "sand.jpg", (200, 180, 130), 2)
    table(folder / "table.jpg")
    return folder


@pytest.fixture
def box(tmp_path: Path, photos: Path) -> Path:
    folder = tmp_path / "box"
    read_into(folder, [photos], {})
    return folder


def ids(folder: Path) -> list[str]:
    return [one.id for one in load(folder).prints]
