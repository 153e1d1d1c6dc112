"""Plane shapes, checked against shapely and scikit-image."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon
from shapely.geometry import box as shapely_box

from sequencer.photo.shapes.edges import corner_roundness, refined_corners
from sequencer.photo.shapes.laid import laid
from sequencer.photo.shapes.perspective import (
    corners_of,
    homography,
    local_scale,
    project,
)
from sequencer.photo.shapes.shape import (
    area,
    few_corners,
    hull,
    inside,
    largest_inside,
    outline_of,
    rectangle_like,
    rotation,
    sides,
    smallest_rectangle,
)


def box(width: float, height: float, angle: float = 0.0, at: tuple[float, float] = (50, 60)):
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    return corners @ rotation(angle).T + np.array(at)


def ragged(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 40))
    return np.column_stack([np.cos(angle), np.sin(angle)]) * rng.uniform(30, 50, (40, 1)) + 60


@pytest.mark.parametrize("seed", range(8))
def test_area_hull_and_smallest_rectangle_as_shapely_has_them(seed: int):
    points = ragged(seed)
    there = Polygon(points)
    assert area(points) == pytest.approx(there.area)
    assert area(hull(points)) == pytest.approx(there.convex_hull.area)
    assert area(smallest_rectangle(points)) == pytest.approx(
        there.minimum_rotated_rectangle.area, rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("angle", [0.0, 0.4, -1.1])
def test_largest_inside_lies_inside_and_is_large(seed: int, angle: float):
    points = ragged(seed)
    found = largest_inside(points, angle)
    there = Polygon(points)
    assert there.buffer(0.6).contains(Polygon(found))
    # No worse than a coarse search over all boxes in the turned plane.
    turned = Polygon(points @ rotation(-angle).T)
    low_x, low_y, high_x, high_y = turned.bounds
    xs, ys = np.linspace(low_x, high_x, 13), np.linspace(low_y, high_y, 13)
    best = max(
        (xs[b] - xs[a]) * (ys[d] - ys[c])
        for a in range(13) for b in range(a + 1, 13) for c in range(13) for d in range(c + 1, 13)
        if turned.contains(shapely_box(xs[a], ys[c], xs[b], ys[d]))
    )
    assert area(found) > 0.97 * best


def test_largest_inside_keeps_off_holes():
    hole = box(20, 20, at=(90, 70))
    found = largest_inside(box(100, 40), 0.0, [hole])
    assert Polygon(found).intersection(Polygon(hole)).area < 20


@settings(deadline=None)
@given(st.floats(5, 300), st.floats(5, 300), st.floats(-3, 3))
def test_a_rectangle_is_like_itself(width: float, height: float, angle: float):
    long, short, _ = rectangle_like(box(width, height, angle))
    assert (long, short) == pytest.approx((max(width, height), min(width, height)), rel=1e-6)
    assert sides(box(width, height, angle)) == pytest.approx((long, short), rel=1e-6)


def test_mask_and_outline_are_each_other():
    polygon = box(80, 40, 0.3)
    mask = inside(polygon, (160, 200))
    assert mask.sum() == pytest.approx(3200, rel=0.01)
    there = Polygon(outline_of(mask))
    assert there.intersection(Polygon(polygon)).area / there.union(Polygon(polygon)).area > 0.98


@pytest.mark.filterwarnings("ignore::FutureWarning")
def test_homography_as_scikit_image_has_it():
    from skimage.transform import ProjectiveTransform

    source = np.array([[0, 0], [8.5, 0], [8.5, 11], [0, 11]], float)
    target = np.array([[100, 90], [620, 130], [590, 800], [80, 760]], float)
    other = ProjectiveTransform()
    assert other.estimate(source, target)
    mine = homography(source, target)
    points = np.random.default_rng(0).uniform(0, 10, (20, 2))
    assert np.allclose(project(mine, points), other(points))
    at, step = np.array([3.0, 4.0]), 1e-4
    square = project(mine, at + step * np.array([[0, 0], [1, 0], [1, 1], [0, 1]]))
    assert local_scale(mine, at) ** 2 == pytest.approx(area(square) / step**2, rel=1e-4)
    with pytest.raises(ValueError, match="one line"):
        homography(np.array([[0, 0], [1, 1], [2, 2], [0, 1]], float), target)


def drawn(corners: np.ndarray, radius: float, dark: float, light: float) -> np.ndarray:
    """A card with round corners, painted in linear light, blurred, encoded: by signed distance."""
    from scipy.ndimage import gaussian_filter

    y, x = np.mgrid[0 : 4 * 200, 0 : 4 * 300] / 4 + 0.125
    centre = corners.mean(axis=0)
    u = (corners[1] - corners[0]) / np.linalg.norm(corners[1] - corners[0])
    half = np.array(sides(corners)) / 2
    p = np.abs((x - centre[0]) * u[0] + (y - centre[1]) * u[1]) - half[0] + radius
    q = np.abs((y - centre[1]) * u[0] - (x - centre[0]) * u[1]) - half[1] + radius
    far = np.hypot(np.maximum(p, 0), np.maximum(q, 0)) + np.minimum(np.maximum(p, q), 0) - radius
    cover = (far < 0).reshape(200, 4, 300, 4).mean(axis=(1, 3))
    linear = gaussian_filter(dark + (light - dark) * cover, 0.9)
    srgb = np.where(linear < 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.repeat(np.rint(srgb * 255).astype(np.uint8)[..., None], 3, axis=-1)


@pytest.mark.parametrize(("dark", "light"), [(0.03, 0.8), (0.6, 0.1), (0.3, 0.5)])
def test_corners_are_found_to_a_tenth_of_a_pixel(dark: float, light: float):
    right = box(160, 100, 0.17, (70, 30))
    for radius in (0.0, 6.0):
        pixels = drawn(right, radius, dark, light)
        found = refined_corners(pixels, right + np.array([[2, -1], [1, 2], [-2, 1], [1, 1]]))
        assert found is not None
        assert np.abs(found - right).max() < 0.1
        roundness = corner_roundness(pixels, found, (6 / 160, 6 / 100))
        assert np.median(roundness) == pytest.approx(radius / 6, abs=0.2)


def test_corners_of_a_rounded_outline():
    right = box(160, 100, 0.17, (70, 30))
    mask = drawn(right, 8.0, 0.0, 1.0)[..., 0] > 187  # half of the light
    found = corners_of(outline_of(mask))
    assert found is not None
    nearest = np.linalg.norm(found[:, None] - right, axis=-1).min(axis=1)
    assert nearest.max() < 0.6
    assert corners_of(ragged(1)) is None or area(corners_of(ragged(1))) > 0


def test_few_corners_move_no_side_by_more_than_a_hundredth():
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    outline = np.column_stack([300 + 90 * np.cos(t), 200 + (60 + 3 * np.sin(9 * t)) * np.sin(t)])
    thin = few_corners(outline)
    side = np.sqrt(area(outline))
    ring = np.vstack([thin, thin[:1]])
    for point in outline:
        a, run = ring[:-1], np.diff(ring, axis=0)
        s = np.clip(((point - a) * run).sum(axis=1) / (run**2).sum(axis=1), 0, 1)
        assert np.hypot(*(a + s[:, None] * run - point).T).min() < 0.01 * side + 1e-9


@given(st.floats(-3.1, 3.1), st.floats(30, 90))
@settings(max_examples=40, deadline=None)
def test_a_scrap_laid_before_the_cutter_is_as_large_as_it_was_measured(turn: float, short: float):
    lies = laid([tuple(at) for at in box(120.0, short, turn)], (12.0, short / 10), False)
    assert Polygon(lies).symmetric_difference(shapely_box(0, 0, 12, short / 10)).area < 0.2


def test_a_slanting_scrap_keeps_its_area_and_its_middle():
    slanting = [(0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (0.0, 50.0)]
    long, short, _ = rectangle_like(np.array(slanting))
    lies = Polygon(laid(slanting, (long / 10, short / 10), False))
    assert lies.area == pytest.approx(Polygon(slanting).area / 100, rel=0.02)
    assert np.hypot(lies.centroid.x - long / 20, lies.centroid.y - short / 20) < 0.05


def test_a_ragged_scrap_reaches_beyond_what_counts_of_it():
    torn = ragged(5)
    lies = Polygon(laid([tuple(at) for at in torn], (6.0, 4.0), True))
    assert lies.intersection(shapely_box(0, 0, 6, 4)).area > 0.97 * 24
    assert lies.area > 1.1 * 24
