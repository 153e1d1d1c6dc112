"""Our own quick ways with masks give what scipy and scikit-image give, and pixel by pixel what the
plain formula gives: they are there for their speed alone."""

import numpy as np
import pytest
from scipy import ndimage
from skimage.measure import approximate_polygon
from skimage.morphology import diamond as diamond_of
from skimage.morphology import disk as disk_of

from sequencer.colour import srgb8_to_lab
from sequencer.photo.finds.table import Table
from sequencer.photo.shapes.morphology import (
    diamond,
    dilated,
    disk,
    eroded,
    local_maximum,
    opened,
    square_closed,
)
from sequencer.photo.shapes.runs import filled, halved, largest_piece, pieces_of
from sequencer.photo.shapes.shape import simplified

SEEDS = range(4)


def blots(seed: int, fine: float = 2.0) -> np.ndarray:
    """A mask of blots with holes, some of them cut by the edge."""
    rng = np.random.default_rng(seed)
    return ndimage.gaussian_filter(rng.normal(size=(61, 84)), fine) > 0.02


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("fine", [0.6, 2.0, 5.0])
def test_holes(seed: int, fine: float):
    mask = blots(seed, fine)
    # Scipy's holes are those that no 4-connected way of bare pixels leads out of: so are ours.
    np.testing.assert_array_equal(filled(mask), ndimage.binary_fill_holes(mask))


@pytest.mark.parametrize("hole", [(30, 31, 50, 51), (29, 33, 40, 60), (2, 3, 41, 42)])
def test_one_hole(hole: tuple[int, int, int, int]):
    """In a piece of one run a row, and a bay that is none."""
    y, x = np.mgrid[:61, :84]
    mask = np.hypot((y - 30) / 30, (x - 42) / 41) < 1
    mask[20:24, 60:] = False
    np.testing.assert_array_equal(filled(mask), mask)
    mask[hole[0] : hole[1], hole[2] : hole[3]] = False
    np.testing.assert_array_equal(filled(mask), ndimage.binary_fill_holes(mask))


@pytest.mark.parametrize("seed", SEEDS)
def test_pieces(seed: int):
    mask = blots(seed)
    labels, count = ndimage.label(mask)
    pieces = pieces_of(mask)
    assert pieces.count == count
    np.testing.assert_array_equal(pieces.labels(), labels)
    np.testing.assert_array_equal(pieces.areas, np.bincount(labels.ravel())[1:])
    assert pieces.boxes == ndimage.find_objects(labels)
    largest = 1 + np.argmax(pieces.areas)
    np.testing.assert_array_equal(largest_piece(mask), labels == largest)


@pytest.mark.parametrize("seed", SEEDS)
def test_figures(seed: int):
    mask = blots(seed)
    for radius in (1, 2, 4):
        square = np.ones((2 * radius + 1,) * 2)
        edge = slice(2 * radius, -2 * radius)
        closed = ndimage.binary_closing(np.pad(mask, 2 * radius), square)[edge, edge]
        np.testing.assert_array_equal(square_closed(mask, radius), closed)
        np.testing.assert_array_equal(
            dilated(mask, diamond(radius)), ndimage.binary_dilation(mask, diamond_of(radius))
        )
        np.testing.assert_array_equal(
            eroded(mask, diamond(radius)), ndimage.binary_erosion(mask, diamond_of(radius))
        )
    np.testing.assert_array_equal(opened(mask, disk(2)), ndimage.binary_opening(mask, disk_of(2)))
    values = np.random.default_rng(seed).integers(0, 256, mask.shape).astype(np.uint8)
    np.testing.assert_array_equal(
        local_maximum(values, 3), ndimage.maximum_filter(values, 7, mode="constant")
    )


@pytest.mark.parametrize("tolerance", [0.3, 1.0, 4.0])
def test_corners_of_a_chain(tolerance: float):
    rng = np.random.default_rng(9)
    chain = np.column_stack([np.arange(300.0), np.cumsum(rng.normal(size=300))])
    ours = simplified(chain, tolerance)
    np.testing.assert_array_equal(ours, approximate_polygon(chain, tolerance))
    assert 2 < len(ours) < 300


def test_how_far_from_the_table_is_what_cielab_says():
    rng = np.random.default_rng(4)
    pixels = rng.integers(0, 256, (24, 30, 3)).astype(np.uint8)
    surface, half = rng.normal(0, 8, (6, 3)), rng.normal(0, 0.3, (3, 3)).astype(np.float32)
    whitener = half + half.T  # a whitener is symmetric
    table = Table(surface, whitener, 1.0, 1.0)
    away = table.away(pixels, np.arange(24), np.arange(30), (24, 30))
    y, x = ((np.arange(n) + 0.5) / n * 2 - 1 for n in (24, 30))
    y, x = np.meshgrid(y, x, indexing="ij")
    expected = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1) @ surface
    plain = (srgb8_to_lab(pixels) - expected) @ whitener
    np.testing.assert_allclose(np.moveaxis(away, 0, -1), plain, atol=0.02)


def test_a_box_of_every_other_pixel():
    at = np.arange(20 * 31).reshape(20, 31)
    box = np.s_[4:17, 10:31]
    np.testing.assert_array_equal(at[::2, ::2][halved(box)], at[box][::2, ::2])
