"""Fragments that a print's own four sides cut off are one print; what merely lies near is not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from sequencer.photo.finds.rejoined import rejoined
from sequencer.photo.finds.table import Mask
from sequencer.photo.shapes.runs import pieces_of
from sequencer.photo.shapes.shape import inside

SHAPE = (360, 480)


def _blotches(seed: int, share: float = 0.5) -> Mask:
    """Figures in ``share`` of the picture, as large as a print's."""
    noise = gaussian_filter(np.random.default_rng(seed).normal(size=SHAPE), 4)
    return np.asarray(noise > np.quantile(noise, 1 - share))


def _print(turn: float, width: float = 150, height: float = 100) -> Mask:
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2]
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return inside(half @ spin + [230.0, 180.0], SHAPE)


def _filled(found: Mask) -> Mask:
    return rejoined(found, pieces_of(found))


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_what_four_sides_cut_off_is_one_print(seed: int, turn: float) -> None:
    whole = _print(turn)
    found = whole & _blotches(seed)
    assert pieces_of(found).count > 2
    joined = _filled(found)
    both, either = (joined & whole).sum(), (joined | whole).sum()
    assert both > 0.9 * either  # corners that are all table are lost
    assert not (found & ~joined).any()


@pytest.mark.parametrize("seed", range(8))
def test_what_no_sides_cut_off_stays_apart(seed: int) -> None:
    """The same figures cut by a disk, and only those of them that no side cuts."""
    y, x = np.indices(SHAPE)
    disk = np.hypot(x - 230, y - 180) < 65
    round_ = disk & _blotches(seed)
    assert np.array_equal(_filled(round_), round_)
    figures = pieces_of(_blotches(seed, 0.35))
    loose = np.zeros(SHAPE, bool)
    for k in range(figures.count):
        box, whole = figures.boxes[k], np.zeros(SHAPE, bool)
        whole[box] = figures.mask(k)
        if not (whole & ~_print(0.0)).any():
            loose |= whole
    assert np.array_equal(_filled(loose), loose)


def test_strips_laid_side_by_side_stay_strips() -> None:
    found = np.zeros(SHAPE, bool)
    for left in range(150, 300, 30):
        found[120:240, left : left + 20] = True
    assert np.array_equal(_filled(found), found)


@pytest.mark.parametrize("seed", range(4))
def test_a_scrap_among_fragments_is_not_swallowed(seed: int) -> None:
    found = _print(0.0) & _blotches(seed)
    found[150:200, 200:260] = False
    found[155:195, 205:255] = True
    assert np.array_equal(_filled(found), found)


@pytest.mark.parametrize("radius", [12, 20, 30])
def test_round_patches_in_rows_stay_apart(radius: int) -> None:
    """Their common hull is a rectangle, and they cover most of it; but no side cuts them."""
    y, x = np.indices(SHAPE)
    step = 2.5 * radius
    near = np.hypot((x - 60) % step - step / 2, (y - 60) % step - step / 2) < radius
    found = near & (x >= 60) & (y >= 60) & (x < 60 + 4 * step) & (y < 60 + 3 * step)
    assert pieces_of(found).count == 12
    assert np.array_equal(_filled(found), found)


@pytest.mark.parametrize(("gap", "joins"), [(13, True), (20, False)])
def test_two_halves_of_a_print_are_joined_over_a_gap(gap: int, joins: bool) -> None:
    """Over .027 of the picture's diagonal, 16 pixels, and not over more."""
    found = np.zeros(SHAPE, bool)
    found[100:220, 150:350] = True
    found[160 : 160 + gap, 150:350] = False
    for left in (180, 230, 290):  # bays: torn
        found[115:205, left : left + 30] = False
    pieces = pieces_of(found)
    assert pieces.count == 2
    assert (_filled(found)[100:220, 150:350].mean() > 0.95) == joins
