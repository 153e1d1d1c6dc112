"""A cast over a print changes how it is lit, not which inks it has nor how much of each."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from sequencer.colour import (
    lab_to_xyz,
    linear_to_srgb,
    linear_to_xyz,
    srgb8_to_lab,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.prints import palette
from sequencer.prints.evened import stretch_of
from sequencer.prints.palette import picture_palette
from tests.reading.test_palette import MOSS, NIGHT, RUST, SAND, cloth, distance, whole


def under_a_cast(*colours: tuple[float, float, float]) -> np.ndarray:
    """Soft stripes (h, w, 3), CIELAB, under a bluish lamp: .15, .45 and 1 of each channel."""
    lit = xyz_to_linear(lab_to_xyz(np.array(colours))) * [0.15, 0.45, 1.0]
    stripes = np.repeat(lit[np.arange(240) // 20 % len(lit)][None], 200, axis=0)
    seen = xyz_to_lab(linear_to_xyz(gaussian_filter(stripes, (2, 2, 0))))
    return seen + np.random.default_rng(3).normal(0, 1, seen.shape)


BROWN, BLACK, WHITE = (24.0, 18.0, 8.0), (15.0, 0.0, 0.0), (85.0, 0.0, 3.0)


def test_a_cast_does_not_hide_one_ink_behind_another():
    lab = under_a_cast(BROWN, BLACK, WHITE)
    inks = picture_palette(lab, np.ones(lab.shape[:2], bool))
    assert len(inks) == 3
    for seen in (lab[:, 7:13], lab[:, 27:33], lab[:, 47:53]):  # told as they are in the photo
        mean = seen.reshape(-1, 3).mean(axis=0)
        assert min(np.linalg.norm(mean - one.lab) for one in inks) < 4


def test_light_and_shade_of_a_solid_stay_one_ink(monkeypatch: pytest.MonkeyPatch):
    lab = under_a_cast(BROWN, WHITE)
    stretch = stretch_of(lab, np.ones(lab.shape[:2], bool))
    pair = stretch.copied(np.array([[55.0, 32, 19], [31, 18, 11]]))  # threads, one dye
    told = iter([(pair, np.array([0.6, 0.4])), (np.array([[45.0, 26, 16]]), np.ones(1))])
    monkeypatch.setattr(palette, "_found_inks", lambda *_: next(told))
    inks = picture_palette(lab, np.ones(lab.shape[:2], bool))
    assert [one.lab for one in inks] == [(45.0, 26.0, 16.0)]


def test_evened_is_as_light_as_pale_cloth_and_turns_back():
    lab = under_a_cast(BROWN, WHITE)
    mask = np.zeros(lab.shape[:2], bool)
    mask[10:90, 10:150] = True
    stretch = stretch_of(lab, mask)
    copy = stretch.copied(lab[mask])
    top = np.quantile(xyz_to_linear(lab_to_xyz(copy)), 0.995, axis=0)
    assert np.allclose(top, 0.7, atol=0.02)
    assert np.allclose(stretch.turned_back(copy), lab[mask], atol=1e-6)


def developed(linear: np.ndarray) -> np.ndarray:
    """Linear sRGB (h, w, 3) as eight bits hold it, exposed so that nothing clips: CIELAB."""
    encoded = 255 * linear_to_srgb(linear / max(1.0, float(linear.max())))
    return srgb8_to_lab(np.rint(encoded).astype(np.uint8)).astype(np.float32)


@pytest.mark.parametrize("seed", range(12))
def test_von_kries_gains_change_neither_inks_nor_shares(seed: int) -> None:
    """The same cloth by another lamp and camera: gains of .4 to 2.5 on each channel of light."""
    rng = np.random.default_rng([seed, 11])
    inks = [NIGHT, RUST, MOSS, SAND, BROWN, WHITE]
    chosen = rng.choice(len(inks), int(rng.integers(2, 5)), replace=False)
    shares = np.full(len(chosen), 1 / len(chosen)).tolist()
    lab, _ = cloth([inks[k] for k in chosen], shares, seed, scale=10)
    linear = np.maximum(xyz_to_linear(lab_to_xyz(lab)), 0)
    plain = picture_palette(developed(linear), whole(lab))
    for gains in np.exp(rng.uniform(np.log(0.4), np.log(2.5), (4, 3))):
        seen = linear * gains
        gains = gains / max(1.0, float(seen.max()))
        cast = picture_palette(developed(seen), whole(lab))
        light = xyz_to_linear(lab_to_xyz(np.array([one.lab for one in cast]))) / gains
        back = xyz_to_lab(linear_to_xyz(light)).tolist()
        assert len(cast) == len(plain)
        assert distance(plain, back, [one.share for one in cast]) < 0.7


@pytest.mark.parametrize("seed", range(6))
def test_a_channel_that_is_all_but_gone_brings_no_inks(seed: int) -> None:
    """Two deep blues: what red there is in the picture is rounding and noise."""
    rng = np.random.default_rng(seed)
    which = gaussian_filter(rng.normal(size=(200, 200)), 9) > 0
    light = np.array([[0.001, 0.06, 0.3], [0.001, 0.2, 0.1]])[which.astype(int)]
    seen = gaussian_filter(light, (0.8, 0.8, 0)) + rng.normal(0, 0.0015, light.shape)
    lab = developed(np.maximum(seen, 0))
    assert len(picture_palette(lab, whole(lab))) == 2
