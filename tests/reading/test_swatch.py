"""A swatch carries its cloth's corrected colours, also in pixels finer than those corrected."""

import numpy as np
import pytest

from sequencer.colour import ciede2000, srgb8_to_lab
from sequencer.photo.files.load import Photo
from sequencer.photo.finds.scraps import Scrap, as_scrap
from sequencer.photo.finds.swatch import cut_swatch

CAST = np.array([0.86, 1.0, 0.72])


def cloth(seed: int = 3) -> np.ndarray:
    """(240, 320, 3) sRGB of blotches in many colours, none near black or white."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(60, 225, (12, 16, 3))
    return np.kron(coarse, np.ones((20, 20, 1))).round().astype(np.uint8)


def cast(truth: np.ndarray) -> np.ndarray:
    """Each channel dimmed, and each a little by the product of the two others."""
    light = truth / 255
    others = light[..., [1, 2, 0]] * light[..., [2, 0, 1]]
    return (255 * (light * CAST - [0.1, 0.06, 0.14] * others).clip(0, 1)).round().astype(np.uint8)


def whole(shape: tuple[int, ...]) -> Scrap:
    return as_scrap(np.ones(shape[:2], bool), (0, 0), shape[:2])


@pytest.mark.parametrize("finer", [1, 2])
def test_the_correction_reaches_the_finest_pixels(finer: int):
    truth = cloth()
    seen = cast(truth)
    detail = np.repeat(np.repeat(seen, finer, axis=0), finer, axis=1)
    photo = Photo("a.jpg", "a", seen, (320 * finer, 240 * finer), float(finer), detail=detail)
    corners = np.array([[0, 0], [320, 0], [320, 240], [0, 240]], dtype=float)
    swatch = cut_swatch(photo, corners, srgb8_to_lab(truth), whole(truth.shape), 40.0)
    height, width = swatch.pixels.shape[:2]
    assert (width, height) == pytest.approx((320 * finer, 240 * finer), abs=4 * finer)
    assert swatch.ppi == pytest.approx(40.0 * finer)
    # The middle of each blotch, where neither the inset nor resampling mixes two.
    rows, columns = (np.arange(10, n, 20) for n in (240, 320))
    inset = np.array([(320 * finer - width) / 2, (240 * finer - height) / 2])
    at = swatch.pixels[np.ix_((rows * finer - inset[1]).astype(int),
                              (columns * finer - inset[0]).astype(int))]
    apart = ciede2000(srgb8_to_lab(at), srgb8_to_lab(truth[np.ix_(rows, columns)]))
    uncorrected = ciede2000(srgb8_to_lab(seen[10::20, 10::20]), srgb8_to_lab(truth[10::20, 10::20]))
    assert np.median(uncorrected) > 8
    assert np.median(apart) < 0.6
    assert apart.max() < 2
