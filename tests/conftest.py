"""What many tests start from: one small box of photographs, read once for all of them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from passalong.main import main
from PIL import Image

CLOTHS = {"moss": (70, 95, 50), "reed": (120, 140, 80), "sand": (200, 180, 130),
          "clay": (160, 95, 70)}  # fmt: skip
# A loaded machine is no fault, and what is red here is red anywhere: the same cases every time.
settings.register_profile("steady", deadline=None, derandomize=True, database=None,
                          suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")
TABLE = ((80, 45, 75), (60, 120, 60), (170, 80, 40))


def cloth(path: Path, colour: tuple[int, int, int], seed: int = 0,
          size: tuple[int, int] = (240, 180)) -> Path:
    """A plain print with a little weave, so that it reads as cloth."""
    Image.fromarray(_woven(colour, seed, size)).save(path, quality=92)
    return path


def table(path: Path, seed: int = 7) -> Path:
    """Three scraps of 110 × 200 pixels, at (30, 80), (180, 80) and (330, 80), on a light table."""
    image = Image.fromarray(_woven((225, 222, 215), seed, (480, 360)))
    for place, colour in enumerate(TABLE):
        piece = Image.fromarray(_woven(colour, seed + 20 + place, (110, 200)))
        image.paste(piece, (30 + 150 * place, 80))
    image.save(path, quality=90)
    return path


def _woven(colour: tuple[int, int, int], seed: int, size: tuple[int, int]) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 6, (size[1], size[0], 1))
    return np.clip(np.array(colour) + noise, 0, 255).astype(np.uint8)


@pytest.fixture(scope="session")
def small_photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four single prints and a table of three."""
    folder = tmp_path_factory.mktemp("small")
    for seed, (name, colour) in enumerate(CLOTHS.items()):
        cloth(folder / f"{name}.jpg", colour, seed)
    table(folder / "table.jpg")
    return folder


@pytest.fixture(scope="session")
def _made_once(small_photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "piece"
    assert main(["make", str(small_photos), "--scale", "1in=60", "--repeats", "2", "--out",
                 str(folder)]) == 0  # fmt: skip
    return folder


@pytest.fixture
def piece(_made_once: Path, tmp_path: Path) -> Path:
    """A made piece folder of the test's own: clay, moss, reed, sand, table-1, table-2, table-3."""
    return Path(shutil.copytree(_made_once, tmp_path / "piece"))


@pytest.fixture
def passalong(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """One command: exit code, standard output, standard error; never a traceback."""

    def run(*arguments: object) -> tuple[int, str, str]:
        try:
            code = main([str(one) for one in arguments])
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return run
