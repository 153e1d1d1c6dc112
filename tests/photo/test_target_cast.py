"""A marked target under tungsten light that the phone took for daylight, and what only looks so.

Light, dyes and cameras are published measurements (see tests/made/simulator.py); no seed here was
looked at while limits were set.
"""

from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest

from sequencer.colour import ciede2000, lab_to_srgb8, srgb8_to_lab
from sequencer.errors import PhotoError
from sequencer.photo.colour.correct import correct
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.misfit import misfit
from sequencer.photo.reference.patches import PATCHES_LAB, WANTED
from sequencer.photo.reference.reference import Reference, look_for_reference
from tests.made import simulator

SEEDS = range(6121, 6127)
LAMP = simulator.Phone(balance="daylight", lamp="A", camera="Sigma SDMerill (NPL)")
GRID = np.arange(24).reshape(4, 6)
CORNERS = [(20.0, 20.0), (320.0, 20.0), (320.0, 220.0), (20.0, 220.0)]


def photo_of(pixels: np.ndarray) -> Photo:
    return Photo("scene.jpg", "scene", pixels, pixels.shape[1::-1])


@cache
def scene(seed: int) -> simulator.Scene:
    return simulator.scene(seed, "target", size=(480, 360), scraps=2, phone=LAMP)


def marked(view: simulator.Scene) -> tuple[Reference | None, str | None]:
    try:
        return look_for_reference(photo_of(view.pixels), "target", view.polygon.tolist())
    except PhotoError:
        return None, None


def painted(encoded: np.ndarray) -> Photo:
    """A picture of 24 flat patches, corners as in CORNERS; with a little noise."""
    rng = np.random.default_rng(7)
    picture = np.full((240, 340, 3), 40.0)
    for index, colour in enumerate(encoded):
        row, column = divmod(index, 6)
        top, left = 20 + row * 50, 20 + column * 50
        picture[top + 4 : top + 46, left + 4 : left + 46] = colour * 255
    noisy = picture + rng.normal(0, 1.5, picture.shape)
    return photo_of(noisy.clip(0, 255).round().astype(np.uint8))


def test_it_is_used_and_told_and_its_colours_are_within_what_is_stated() -> None:
    used, off, was, stated = 0, [], [], []
    for seed in SEEDS:
        view = scene(seed)
        found, words = marked(view)
        if found is None:
            continue
        used += 1
        assert found.kind == "target"
        if misfit(found.encoded, WANTED) > 0.09:
            assert words is not None
            assert "strongly coloured" in words
        read, before = correct(photo_of(view.pixels), found, view.table), srgb8_to_lab(view.pixels)
        for one in view.scraps:
            off.append(ciede2000(read.lab[one.mask].mean(axis=0), one.mean_lab))
            was.append(ciede2000(before[one.mask].mean(axis=0), one.mean_lab))
            stated.append(read.doubt.usual)
    assert used >= len(SEEDS) - 1
    assert np.median(off) < np.median(was) / 2
    assert np.mean(np.array(off) < stated) > 0.8
    assert np.median(stated) > 10


def test_a_target_in_plain_light_is_told_nothing_of_a_cast() -> None:
    found, words = marked(simulator.scene(SEEDS[0], "target", size=(480, 360), scraps=2))
    assert found is not None
    assert words is None


def spoilt(encoded: np.ndarray, rng: np.random.Generator) -> Iterator[tuple[str, np.ndarray]]:
    yield "colours mixed up, greys kept", encoded[np.r_[rng.permutation(18), 18:24]]
    yield "all mixed up", encoded[rng.permutation(24)]
    yield "a row on", np.roll(encoded, 6, axis=0)
    yield "a column on", encoded[np.roll(GRID, 1, axis=1).ravel()]
    for count in (3, 6):
        glared = encoded.copy()
        glared[rng.choice(18, count, replace=False)] = 1
        yield f"{count} patches under glare", glared
    row, column = rng.integers(3), rng.integers(4)
    sheen = encoded.copy()
    sheen[GRID[row : row + 2, column : column + 3].ravel()] += 0.5
    yield "a sheen over six", sheen.clip(0, 1)
    yield "24 colours by chance", rng.uniform(0, 1, (24, 3))
    yield "24 greys", np.repeat(rng.uniform(0, 1, (24, 1)), 3, axis=1)
    yield "one colour", np.repeat(encoded[:1], 24, axis=0)
    yield "a faint pattern", rng.uniform(0.5, 0.6, (24, 3))


@pytest.mark.parametrize("light", ["lamp", "plain"])
@pytest.mark.parametrize("seed", [SEEDS[0], SEEDS[1], SEEDS[2]])
def test_what_is_no_target_is_no_target_under_a_cast_either(seed: int, light: str) -> None:
    found = marked(scene(seed))[0]
    assert found is not None
    rng = np.random.default_rng(seed)
    own = found.encoded if light == "lamp" else lab_to_srgb8(PATCHES_LAB) / 255
    assert look_for_reference(painted(own), "target", CORNERS)[0] is not None
    for what, encoded in spoilt(own, rng):
        with pytest.raises(PhotoError, match="24 patches"):
            pytest.fail(f"{what}: {look_for_reference(painted(encoded), 'target', CORNERS)[1]}")


# ── glare ─────────────────────────────────────────────────────────────────────────────────


def under_light(numbers: tuple[int, ...], share: float) -> Photo:
    """The published target with a ``share`` of white laid over these patches, counted from 1."""
    encoded = lab_to_srgb8(PATCHES_LAB) / 255
    rows = np.array(numbers) - 1
    encoded[rows] = encoded[rows] * (1 - share) + share
    return painted(encoded)


@pytest.mark.parametrize("number", [1, 3, 7, 13, 22])
def test_a_patch_under_glare_is_told_with_what_to_type(number: int) -> None:
    found, words = look_for_reference(under_light((number,), 0.55), "target", CORNERS)
    assert found is not None
    assert words is not None
    assert words.endswith(f"--without-patches {number}")
    spared = look_for_reference(
        under_light((number,), 0.55), "target", CORNERS, without=[number - 1]
    )
    assert spared[0] is not None
    assert spared[1] is None


def test_the_patches_whose_glare_hides_a_target_are_named() -> None:
    with pytest.raises(PhotoError, match="--without-patches 7,16,24,"):
        look_for_reference(under_light((7, 16, 24), 1.0), "target", CORNERS)


def test_a_target_without_glare_is_told_nothing() -> None:
    assert look_for_reference(under_light((1,), 0.0), "target", CORNERS)[1] is None


@pytest.mark.parametrize("seed", [7322, 7327, 7330])
def test_a_target_that_no_longer_tells_is_refused_with_what_to_do(seed: int) -> None:
    view = scene(seed)
    with pytest.raises(PhotoError, match=r"like the 24 patches.*strongly coloured.*by daylight"):
        look_for_reference(photo_of(view.pixels), "target", view.polygon.tolist())


def test_what_is_no_target_is_not_told_as_one_in_coloured_light() -> None:
    rng = np.random.default_rng(5)
    for seed in range(6150, 6154):
        photo = photo_of(simulator.scene(seed, "none", size=(480, 360), scraps=2).pixels)
        for _ in range(5):
            (x, y), wide = rng.uniform(10, 200, 2), rng.uniform(60, 200)
            marking = [(x, y), (x + wide, y), (x + wide, y + wide / 1.5), (x, y + wide / 1.5)]
            with pytest.raises(PhotoError, match="does not show the 24 patches"):
                look_for_reference(photo, "target", marking)
