"""Screenshots, drawings and pictures put together are told; photographs of cloth never are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFilter, ImageFont
from skimage import data

from sequencer.photo.files.load import load
from sequencer.photo.files.otherwise import doubt_of
from sequencer.photo.finds.mixed import unlike_parts
from sequencer.reading.photos import read
from tests.made import simulator
from tests.made.scenes import TABLES, make_scene, single_print

SAMPLES = Path(__file__).parents[2] / "sample_images"
REAL = Path(__file__).parents[3] / "shared" / "real"
"""Other people's photographs, where they are there; nothing of them is kept in the project."""
SAVED = (("png", {}), ("jpg", {"quality": 85}), ("jpg", {"quality": 60}))


def told(picture: Image.Image, folder: Path) -> list[str]:
    """What is said of a picture saved in each way."""
    words = []
    for k, (ending, options) in enumerate(SAVED):
        path = folder / f"{k}.{ending}"
        picture.save(path, **options)
        words.append(" ".join(doubt_of(load(path))))
    return words


def page(size: tuple[int, int], dark: bool, within: Image.Image | None = None) -> Image.Image:
    """A bar, lines of text, and where there is one a photograph in the middle of them."""
    ground, ink = ((18, 18, 20), (220, 220, 220)) if dark else ((255, 255, 255), (30, 30, 30))
    width, height = size
    made = Image.new("RGB", size, ground)
    draw = ImageDraw.Draw(made)
    draw.rectangle((0, 0, width, height // 16), fill=(60, 90, 200))
    letters = ImageFont.load_default(size=max(14, width // 40))
    for k, y in enumerate(range(height // 10, int(0.95 * height), width // 28)):
        draw.text((width // 20, y), "line after line of nothing much to read "[k % 20 :],
                  font=letters, fill=ink)  # fmt: skip
    if within is not None:
        made.paste(within.resize((int(0.9 * width), height // 2)), (width // 20, height // 4))
    return made


def drawing() -> Image.Image:
    """Thin rings on white, smooth at their edges."""
    rng = np.random.default_rng(4)
    made = Image.new("RGB", (1600, 1200), "white")
    draw = ImageDraw.Draw(made)
    for x, y, r in rng.integers((0, 0, 20), (1600, 1200, 200), (60, 3)).tolist():
        draw.ellipse((x - r, y - r, x + r, y + r), outline=(20, 20, 20), width=3)
    return made.filter(ImageFilter.GaussianBlur(0.6))


def samples() -> list[Image.Image]:
    """The sample photographs that show one print each."""
    names = ("kelp", "lantern", "nightferry", "oilskin")
    return [Image.open(SAMPLES / f"{name}.jpg").convert("RGB") for name in names]


@pytest.mark.parametrize("size", [(1170, 2532), (1920, 1080)])
@pytest.mark.parametrize("dark", [False, True])
def test_a_screenshot_is_told(tmp_path: Path, size: tuple[int, int], dark: bool):
    for within in (None, samples()[0]):
        assert all("screenshot" in words for words in told(page(size, dark, within), tmp_path))


def test_a_drawing_is_told(tmp_path: Path):
    assert all("drawing" in words for words in told(drawing(), tmp_path))


@pytest.mark.parametrize("gap", [0, 8, 20])
def test_pictures_put_together_are_told(tmp_path: Path, gap: int):
    """Two by two, side by side or with a gutter."""
    made = Image.new("RGB", (2000 + gap, 1500 + gap), "white")
    for k, one in enumerate(samples()):
        made.paste(one.resize((1000, 750)), (k % 2 * (1000 + gap), k // 2 * (750 + gap)))
    assert all("put together" in words for words in told(made, tmp_path))


def test_the_samples_are_photographs():
    paths = [one for one in SAMPLES.iterdir() if one.suffix in (".jpg", ".webp")]
    assert len(paths) == 6
    assert [doubt_of(load(one)) for one in paths] == [()] * 6


def test_simulated_photographs_of_cloth_are_photographs(tmp_path: Path):
    made = [make_scene(8300 + k, TABLES[k % 4], scraps=6, size=(1200, 900)).picture
            for k in range(4)]  # fmt: skip
    made += [single_print(k, (900, 700)) for k in range(8)]
    made += [simulator.scene(700 + k, kind).pixels
             for k, kind in enumerate(("target", "grey", "sheet", "none"))]  # fmt: skip
    for picture in made:
        assert told(Image.fromarray(picture), tmp_path) == [""] * len(SAVED)


def test_real_photographs_are_photographs():
    paths = [one for room in ("cloth", "charts", "table") for one in (REAL / room).glob("*.*")
             if one.suffix in (".jpg", ".png")]  # fmt: skip
    if not paths:
        pytest.skip("no real photographs beside the project")
    assert [one.name for one in paths if doubt_of(load(one))] == []


def test_the_doubt_is_a_remark_and_what_was_read_stays(tmp_path: Path):
    path = tmp_path / "page.png"
    page((1170, 2000), False, samples()[0]).save(path)
    found = read([path], shows="one")
    assert len(found.prints) == 1
    assert any("leave it out" in words for words in found.prints[0].warnings)


def test_what_fills_the_picture_and_is_unlike_in_its_parts_is_told(tmp_path: Path):
    """Other people's pictures that scikit-image brings: a portrait, a cup on a table, a man with a
    camera. None is a print; a cat is, as far as its colours tell, and is not told."""
    for name in ("astronaut", "coffee", "camera", "cat"):
        path = tmp_path / f"{name}.png"
        Image.fromarray(getattr(data, name)()).convert("RGB").save(path)
        (found,) = read([path]).prints
        told = any("parts are unlike" in words for words in found.warnings)
        assert told is (name != "cat"), name
    (chosen,) = read([tmp_path / "coffee.png"], shows="one").prints  # she said so
    assert not any("parts are unlike" in words for words in chosen.warnings)


def test_scraps_edge_to_edge_are_told_and_one_print_is_not():
    pieces = [np.asarray(one.resize((400, 300))) for one in samples()]
    quilted = np.vstack([np.hstack(pieces[:2]), np.hstack(pieces[2:])])
    assert unlike_parts(quilted)
    assert [unlike_parts(one) for one in pieces] == [()] * 4
    assert [unlike_parts(single_print(k, (900, 700))) for k in range(8)] == [()] * 8
