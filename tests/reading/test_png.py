"""Swatches are packed by our own few lines: any reader of PNG gives the same pixels back."""

import io
import zlib

import numpy as np
import pytest
from PIL import Image

from sequencer.models.png import png_of


def drawn(kind: str, height: int, width: int) -> np.ndarray:
    rng = np.random.default_rng(11)
    if kind == "noise":
        return rng.integers(0, 256, (height, width, 3)).astype(np.uint8)
    if kind == "extremes":
        return (255 * rng.integers(0, 2, (height, width, 3))).astype(np.uint8)
    cloth = np.add.outer(np.arange(height), np.arange(width))[..., None] % 200 + [5, 20, 40]
    return np.clip(cloth + rng.normal(0, 4, (height, width, 3)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("kind", ["noise", "extremes", "cloth"])
@pytest.mark.parametrize(("height", "width"), [(1, 1), (1, 7), (9, 1), (40, 33)])
def test_a_reader_gives_the_same_pixels_back(kind: str, height: int, width: int):
    pixels = drawn(kind, height, width)
    with Image.open(io.BytesIO(png_of(pixels)), formats=["PNG"]) as image:
        assert image.mode == "RGB"
        np.testing.assert_array_equal(np.asarray(image), pixels)


def test_part_of_another_picture_is_packed_as_it_is_seen():
    pixels = drawn("noise", 30, 50)[3:20:2, 5:40]
    with Image.open(io.BytesIO(png_of(pixels))) as image:
        np.testing.assert_array_equal(np.asarray(image), pixels)


def test_photographed_cloth_takes_no_more_room_than_by_pillow():
    pixels = drawn("cloth", 300, 400)
    by_pillow = io.BytesIO()
    Image.fromarray(pixels).save(by_pillow, "PNG", compress_level=1, compress_type=zlib.Z_RLE)
    assert len(png_of(pixels)) < 1.02 * by_pillow.tell()
