"""Palettes, mean and what a print reads as at strip scale, on cloth of known inks."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter, median_filter
from scipy.optimize import linprog

from sequencer.colour import (
    ciede2000,
    lab_to_xyz,
    xyz_to_lab,
)
from sequencer.models import PaletteColour
from sequencer.prints.measure import measure_print
from sequencer.prints.palette import palette_of, picture_palette
from sequencer.prints.pixels import denoised
from sequencer.prints.spread import reads_as

NIGHT, RUST, MOSS, SAND = (22, 4, -18), (45, 42, 38), (52, -22, 24), (82, 3, 18)


def cloth(
    inks: list[tuple[float, float, float]], shares: list[float], seed: int = 0, scale: float = 8,
    size: int = 220,
) -> tuple[np.ndarray, np.ndarray]:
    """Blotches of inks in given shares, with weave, noise and soft borders: Lab, and the truth."""
    rng = np.random.default_rng(seed)
    field = gaussian_filter(rng.normal(size=(size, size)), scale)
    which = np.searchsorted(np.quantile(field, np.cumsum(shares)[:-1]), field)
    lab = np.asarray(inks, float)[which]
    y, x = np.mgrid[:size, :size]
    weave = 2.0 * np.sin(2.1 * x) * np.sin(2.1 * y) + rng.normal(0, 1, (size, size))
    lab = gaussian_filter(lab, (0.7, 0.7, 0))
    lab[..., 0] += weave
    return (lab + rng.normal(0, 0.7, lab.shape)).astype(np.float32), which


def distance(palette: tuple[PaletteColour, ...], inks: list, shares: list[float]) -> float:
    """Earth mover's distance in ΔE00 (Rubner, Tomasi, Guibas 2000), by linear programming."""
    cost = ciede2000(np.array([c.lab for c in palette])[:, None], np.array(inks, float)[None])
    n, m = cost.shape
    constraints = np.vstack([np.kron(np.eye(n), np.ones(m)), np.kron(np.ones(n), np.eye(m))])
    amounts = np.concatenate([[c.share for c in palette], shares])
    return float(linprog(cost.ravel(), A_eq=constraints, b_eq=amounts).fun)


def whole(lab: np.ndarray) -> np.ndarray:
    return np.ones(lab.shape[:2], bool)


@pytest.mark.parametrize(("inks", "shares"), [
    ([NIGHT], [1.0]),
    ([NIGHT, SAND], [0.7, 0.3]),
    ([RUST, MOSS, SAND], [0.5, 0.3, 0.2]),
    ([NIGHT, RUST, MOSS, SAND], [0.4, 0.3, 0.2, 0.1]),
])  # fmt: skip
def test_inks_come_back(inks: list, shares: list[float]) -> None:
    lab, _ = cloth(inks, shares)
    palette = measure_print(lab, whole(lab)).palette
    assert len(palette) == len(inks)
    assert distance(palette, inks, shares) < 2.4
    assert sum(c.share for c in palette) == pytest.approx(1, abs=1e-9)
    assert [c.share for c in palette] == sorted((c.share for c in palette), reverse=True)
    assert all(c.name for c in palette)


def test_many_random_prints() -> None:
    """The goal of the project's accuracy table: median earth mover's distance of at most 2.4."""
    rng = np.random.default_rng(7)
    distances = []
    for seed in range(30):
        count = int(rng.integers(2, 6))
        inks = [tuple(v) for v in rng.uniform([15, -45, -45], [90, 50, 60], (count, 3))]
        shares = np.sort(rng.dirichlet(np.full(count, 2.0)))[::-1]
        shares = (np.maximum(shares, 0.04) / np.maximum(shares, 0.04).sum()).tolist()
        lab, _ = cloth(inks, shares, seed, scale=float(rng.uniform(5, 14)))
        distances.append(distance(measure_print(lab, whole(lab)).palette, inks, shares))
    assert np.median(distances) <= 2.4
    assert np.percentile(distances, 90) <= 5


def test_small_accent_is_kept() -> None:
    lab, which = cloth([NIGHT, SAND, RUST], [0.68, 0.29, 0.03])
    accent = measure_print(lab, whole(lab)).palette[-1]
    assert (which == 2).mean() == pytest.approx(0.03, abs=0.005)
    assert ciede2000(accent.lab, RUST) < 8
    assert 0.01 < accent.share < 0.06


def test_thin_lines_are_named() -> None:
    """A woven check of red lines one pixel wide, which denoising alone would wipe out."""
    lab, _ = cloth([SAND], [1.0])
    lab[12::24] = lab[:, 12::24] = RUST
    palette = measure_print(lab, whole(lab)).palette
    assert min(ciede2000(c.lab, RUST) for c in palette) < 8
    assert len(palette) == 2


def test_weave_noise_and_folds_are_one_colour() -> None:
    lab, _ = cloth([(55, -20, -12)], [1.0], scale=3)
    y = np.linspace(0, 9, lab.shape[0])[:, None]
    shade = 1 + 0.12 * np.sin(y)  # folds: chroma falls with lightness
    folded = (lab * shade[..., None]).astype(np.float32)
    assert len(measure_print(folded, whole(lab)).palette) == 1


def test_two_shades_printed_apart_stay_two() -> None:
    lab, _ = cloth([(40, -20, -12), (66, -33, -20)], [0.5, 0.5], scale=12)
    assert len(measure_print(lab, whole(lab)).palette) == 2


def test_mean_is_the_arithmetic_mean_under_the_mask() -> None:
    lab, which = cloth([NIGHT, SAND], [0.5, 0.5])
    mask = which == 1
    measured = measure_print(lab, mask)
    assert measured.mean_lab == pytest.approx(lab[mask].mean(axis=0, dtype=float), abs=1e-4)


def test_same_pixels_same_palette() -> None:
    lab, _ = cloth([RUST, MOSS, SAND], [0.5, 0.3, 0.2])
    assert measure_print(lab, whole(lab)) == measure_print(lab.copy(), whole(lab))


def test_a_palette_does_not_depend_on_the_pixels_order() -> None:
    lab, _ = cloth([RUST, MOSS, SAND], [0.5, 0.3, 0.2])
    points = lab.reshape(-1, 3)
    shuffled = points[np.random.default_rng(1).permutation(len(points))]
    for one, other in zip(palette_of(points), palette_of(shuffled), strict=True):
        assert one.share == pytest.approx(other.share, abs=0.01)
        assert ciede2000(one.lab, other.lab) < 0.5


@settings(max_examples=40, deadline=None)
@given(st.lists(
    st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)),
    min_size=1, max_size=60,
))  # fmt: skip
def test_any_pixels_give_a_palette(points: list[tuple[float, float, float]]) -> None:
    palette = palette_of(np.array(points))
    assert 1 <= len(palette) <= 6
    assert sum(c.share for c in palette) == pytest.approx(1)
    assert all(0 < c.share <= 1 for c in palette)


def test_median_network_against_scipy() -> None:
    codes = np.random.default_rng(2).integers(0, 256, (3, 37, 23), dtype=np.uint8)
    wanted = [median_filter(plane, 3, mode="nearest") for plane in codes]
    assert (denoised(codes) == np.stack(wanted)).all()


def test_nothing_to_measure_is_refused() -> None:
    with pytest.raises(ValueError, match="no cloth"):
        measure_print(np.zeros((5, 5, 3)), np.zeros((5, 5), bool))
    with pytest.raises(ValueError, match="at least one"):
        palette_of(np.zeros((0, 3)))
    with pytest.raises(ValueError, match="at least one"):
        picture_palette(np.zeros((5, 5, 3)), np.zeros((5, 5), bool))


def test_tiny_cloth_is_measured() -> None:
    for shape in ((1, 1), (1, 7), (3, 3)):
        lab = np.full((*shape, 3), (50.0, 10, 10), np.float32)
        assert measure_print(lab, np.ones(shape, bool), ppi=10).palette[0].share == 1


def printed(labels: np.ndarray, inks: list, blur: float = 0.9, seed: int = 0) -> np.ndarray:
    """Inks blurred in linear light, as a lens does, with a little noise: CIELAB."""
    light = gaussian_filter(lab_to_xyz(np.array(inks, float))[labels], (blur, blur, 0))
    noise = np.random.default_rng(seed).normal(0, 0.8, light.shape)
    return (xyz_to_lab(light) + noise).astype(np.float32)


def test_the_blur_between_two_inks_is_no_third_ink() -> None:
    """Stripes of dark and light: the mixed pixels are a fifth of all, and none of them counts."""
    y, x = np.mgrid[:200, :200]
    labels = ((x + y // 3) % 12 < 5).astype(int)
    lab = printed(labels, [SAND, NIGHT])
    palette = measure_print(lab, whole(lab)).palette
    assert len(palette) == 2
    assert distance(palette, [SAND, NIGHT], [7 / 12, 5 / 12]) < 2.4


def test_a_border_pixel_is_not_counted_to_a_third_ink_of_its_colour() -> None:
    """Grey is what black and white mix to. Where it is printed it is found, with its true share."""
    white, black, grey = (92, 0, 4), (20, 0, 0), (66, 1, 2)
    labels = np.zeros((200, 200), int)
    labels[(np.mgrid[:200, :200][1] % 14) < 6] = 1
    labels[160:] = 2
    lab = printed(labels, [white, black, grey])
    palette = measure_print(lab, whole(lab)).palette
    assert len(palette) == 3
    found = min(palette, key=lambda c: float(ciede2000(c.lab, grey)))
    assert found.share == pytest.approx(0.2, abs=0.02)


def test_fine_lines_are_named_by_their_ink_and_not_by_their_blur() -> None:
    """Lines of 2.5 px blurred by 0.9 px show no pure pixel: at best three quarters of the ink."""
    x = np.arange(200.0)[None] + 0.21 * np.arange(200.0)[:, None]
    labels = (x % 13 < 2.5).astype(int)
    lab = printed(labels, [SAND, MOSS])
    assert np.quantile(ciede2000(lab.reshape(-1, 3), MOSS), 0.02) > 5
    palette = measure_print(lab, whole(lab)).palette
    assert min(ciede2000(c.lab, MOSS) for c in palette) < 5


def test_a_large_print_is_sampled_fairly() -> None:
    """A plaid of 0.7 megapixels whose bands could fall between the sampled squares."""
    band = (np.arange(840) % 48 < 17).astype(int)
    labels = band[:, None] + band[None]
    lab = printed(labels, [SAND, RUST, NIGHT])
    palette = measure_print(lab, whole(lab)).palette
    shares = np.bincount(labels.ravel()) / labels.size
    assert distance(palette, [SAND, RUST, NIGHT], shares.tolist()) < 1


# ── what a strip shows ────────────────────────────────────────────────────────────────────


def halves(size: int = 200) -> np.ndarray:
    """Gold on the left, teal on the right."""
    lab = np.empty((size, size, 3))
    lab[:, : size // 2], lab[:, size // 2 :] = (75, 5, 60), (50, -28, -8)
    return lab


def test_spread_of_two_halves_by_hand() -> None:
    """Patches much smaller than the halves read as one or the other: the mean ΔE00 is that to
    their common mean."""
    lab = halves()
    mean = lab.reshape(-1, 3).mean(axis=0)
    wanted = np.mean([ciede2000(lab[0, 0], mean), ciede2000(lab[0, -1], mean)])
    seen = reads_as(lab, whole(lab), ppi=40, strip=Fraction(1, 4))
    assert seen is not None
    assert seen.spread == pytest.approx(float(wanted), rel=0.06)


@pytest.mark.parametrize("ppi", [30, 37, 90])
def test_patches_are_means_of_the_cloth_in_their_squares(ppi: int) -> None:
    """One square after the other, on a ragged piece."""
    rng = np.random.default_rng(ppi)
    lab = rng.uniform(0, 60, (70, 95, 3)).astype(np.float32)
    y, x = np.mgrid[:70, :95]
    mask = (np.hypot(y - 35, (x - 45) / 1.3) < 33) & (rng.random((70, 95)) > 0.05)
    side, wanted = round(ppi / 4), []
    for top in range(0, 70 - side + 1, side // 2):
        for left in range(0, 95 - side + 1, side // 2):
            box = np.s_[top : top + side, left : left + side]
            if mask[box].sum() >= 0.85 * side * side:
                wanted.append(lab[box][mask[box]].mean(axis=0))
    seen = reads_as(lab, mask, ppi, Fraction(1, 4))
    assert seen is not None
    np.testing.assert_allclose(seen.patches, wanted, atol=1e-3)


def test_large_motif_is_warned_of_in_words() -> None:
    measured = measure_print(halves(), whole(halves()), ppi=40)
    (warning,) = measured.warnings
    assert warning.startswith("at 1/4 in this print reads as anything from ")
    assert "gold" in warning or "yellow" in warning
    assert "blue-green" in warning


def test_small_motif_reads_steady() -> None:
    y, x = np.mgrid[:200, :200]
    lab = np.where(((x // 2 + y // 2) % 2 > 0)[..., None], (75.0, 5, 60), (50.0, -28, -8))
    measured = measure_print(lab, whole(lab), ppi=80)
    assert measured.spread is not None
    assert measured.spread < 1
    assert measured.warnings == ()


@pytest.mark.parametrize(("motif", "warned"), [
    (0.1, False), (0.35, False), (0.5, False), (0.75, False), (1.0, True), (1.5, True), (3.0, True),
])  # fmt: skip
@pytest.mark.parametrize("ppi", [30, 40, 80, 120])
def test_warned_where_the_motif_is_as_large_as_the_strip(
    motif: float, warned: bool, ppi: int
) -> None:
    """Checks of gold and teal, ``motif`` times as wide as the strip, with weave."""
    side = max(1, round(motif * ppi / 4))
    y, x = np.mgrid[:260, :260]
    odd = (x // side + y // side) % 2 > 0
    lab = np.where(odd[..., None], (75.0, 5, 60), (50.0, -28, -8))
    lab[..., 0] += 2 * np.sin(2.1 * x) * np.sin(2.1 * y)
    seen = reads_as(lab, whole(lab), ppi, Fraction(1, 4))
    assert seen is not None
    assert bool(seen.warnings) == warned


@pytest.mark.parametrize("period", [3.1, 4.1, 4.3, 6.1, 8.1, 10.1])
@pytest.mark.parametrize("ppi", [60, 80, 120, 160, 200])
def test_fine_stripes_never_read_as_broad_ones(period: float, ppi: int) -> None:
    """Whatever their period against the pixels counted: no moiré."""
    y, x = np.mgrid[:260, :260]
    stripe = (x + 0.1 * y) % period < period / 2
    lab = np.where(stripe[..., None], (75.0, 5, 60), (50.0, -28, -8))
    seen = reads_as(lab, whole(lab), ppi, Fraction(1, 4))
    assert seen is not None
    assert seen.warnings == ()


def test_wider_strips_read_steadier() -> None:
    lab, _ = cloth([NIGHT, SAND], [0.5, 0.5], scale=6)
    spreads = [
        measure_print(lab, whole(lab), ppi=40, strip=width).spread
        for width in (Fraction(1, 4), Fraction(1, 2), Fraction(1))
    ]
    assert None not in spreads
    assert spreads == sorted(spreads, reverse=True)  # type: ignore[type-var]


def test_no_scale_no_spread() -> None:
    lab, _ = cloth([NIGHT, SAND], [0.5, 0.5])
    assert measure_print(lab, whole(lab)).spread is None
    assert measure_print(lab, whole(lab), ppi=2).spread is None  # a patch under two pixels
