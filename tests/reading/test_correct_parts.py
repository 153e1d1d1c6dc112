"""The correction chain part by part: exact cases, light and tone curve."""


import numpy as np
import pytest
from scipy.ndimage import label

from sequencer.colour import (
    D65_WHITE,
    adaptation_matrix,
    ciede2000,
    lab_to_srgb8,
    lab_to_xyz,
    linear_to_srgb,
    srgb8_to_lab,
    srgb_to_linear,
    xyz_to_lab,
)
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.curves import SRGB, target_profile, unbent
from sequencer.photo.colour.light import EVEN, Light, fit_light, witnesses
from sequencer.photo.colour.neutral import card_lab, neutral_profile, sheet_lab
from sequencer.photo.files.view import make_view
from sequencer.photo.reference.patches import PATCHES_LAB
from sequencer.photo.reference.reference import find_reference
from tests.made import simulator
from tests.reading.test_correct import photo_of


def test_white_and_grey_go_where_they_belong() -> None:
    for colour in ((150, 120, 90), (90, 110, 160), (128, 128, 128)):
        pixels = np.full((200, 300, 3), colour, np.uint8)
        photo = photo_of(pixels)
        for wanted, known in (("grey", card_lab(None)), ("grey=65", (65, 0, 0)),
                              ("sheet", sheet_lab(np.array(colour) / 255))):
            reference = find_reference(photo, wanted, [[50, 50], [200, 150]])
            lab = correct(photo, reference).lab[100, 100]
            assert lab == pytest.approx(known, abs=0.3), wanted
    # 18 % grey is L* 49.5; paper lies between L* 82 and the 95 of ISO 12647-2:2013.
    assert card_lab(None)[0] == pytest.approx(xyz_to_lab(0.184 * D65_WHITE)[0], abs=0.1)


def test_a_sheet_that_reads_blue_is_taken_for_brightened_paper() -> None:
    neutral, blue, warm = (sheet_lab(np.array(c)) for c in ((0.8, 0.8, 0.8), (0.76, 0.8, 0.88),
                                                            (0.9, 0.8, 0.7)))
    assert blue[0] < neutral[0] <= warm[0] <= 95
    assert blue[2] < neutral[2] <= warm[2] <= 0
    assert sheet_lab(np.array([1.0, 1, 1]))[0] > neutral[0]  # what is clipped was lighter still


def test_nothing_known_nothing_changed() -> None:
    rng = np.random.default_rng(5)
    pixels = rng.integers(0, 256, (120, 160, 3), dtype=np.uint8)
    seen = correct(photo_of(pixels), None)
    assert seen.kind == "none"
    assert seen.light is EVEN
    assert seen.lab == pytest.approx(srgb8_to_lab(pixels), abs=0.02)
    assert (seen.pixels == pixels).mean() > 0.999
    assert "approximate" in " ".join(seen.warnings)


def test_perfect_target_changes_nothing() -> None:
    """Patches photographed exactly as published leave bend, matrix and rest at identity."""
    encoded = lab_to_srgb8(PATCHES_LAB) / 255
    profile = target_profile(encoded, np.ones(24))
    seen = profile.lab(profile.linear(encoded).T).T
    gamut = np.abs(srgb8_to_lab(lab_to_srgb8(PATCHES_LAB)) - PATCHES_LAB).max(axis=1) < 1
    assert gamut.sum() >= 23  # one cyan lies outside sRGB
    assert ciede2000(seen, PATCHES_LAB)[gamut].max() < 1.5
    assert profile.misfit < 0.8


def test_a_warm_dim_photo_of_the_target_is_undone() -> None:
    """Bradford cast, a third of a stop, a known bend: the patches come back."""
    cast = adaptation_matrix(D65_WHITE, [1.02, 1, 0.8]) * 0.8
    linear = lab_to_xyz(PATCHES_LAB) @ cast.T @ np.linalg.inv(SRGB.matrix).T
    encoded = linear_to_srgb(linear)
    bent = encoded + 0.3 * (encoded**2 * (3 - 2 * encoded) - encoded)
    profile = target_profile(bent, np.ones(24))
    seen = profile.lab(profile.linear(bent).T).T
    assert np.median(ciede2000(seen, PATCHES_LAB)) < 0.6


def test_bend_is_undone_exactly() -> None:
    levels = np.linspace(0, 1, 101)
    for bend in (-0.3, 0, 0.25, 0.8):
        bent = levels + bend * (levels**2 * (3 - 2 * levels) - levels)
        assert unbent(bent, bend) == pytest.approx(srgb_to_linear(levels), abs=2e-5)


def test_lab_of_a_box_is_the_box_of_the_lab() -> None:
    scene = simulator.scene(301, "sheet", size=(720, 540))
    photo = photo_of(scene.pixels)
    seen = correct(photo, find_reference(photo, "sheet", scene.polygon), scene.table)
    box = np.s_[70:311, 33:402]
    assert seen.lab_in(box) == pytest.approx(seen.lab[box], abs=1e-3)


def test_clipped_and_sheen_are_not_valid() -> None:
    pixels = np.full((200, 300, 3), 120, np.uint8)
    pixels[:, :20] = 255  # clipped
    pixels[:, 20:40] = 252  # lighter than white paper at 200 can be: a highlight
    pixels[50:150, 100:200] = 200
    photo = photo_of(pixels)
    reference = find_reference(photo, "sheet", [[110, 60], [190, 140]])
    cloth = np.ones((200, 300), bool)
    seen = correct(photo, reference, None, cloth)
    assert not seen.valid[:, :40].any()
    assert seen.valid[:, 40:].all()
    assert any("overexposed" in text for text in seen.warnings)


def test_one_clipped_channel_is_a_strong_colour_and_two_are_blown_out() -> None:
    pixels = np.full((40, 60, 3), (255, 120, 30), np.uint8)
    pixels[:, 30:] = (255, 255, 90)
    seen = correct(photo_of(pixels), None)
    assert seen.valid[:, :30].all()
    assert not seen.valid[:, 30:].any()


# ── light and tone curve ──────────────────────────────────────────────────────────────────


def lit_table(bend: float, coefficients: tuple[float, ...], seed: int = 0) -> np.ndarray:
    """A quiet table with scraps of many levels under known light, encoded with a known bend."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[-1:1:480j, -1:1:640j]
    light = np.exp(Light(np.array([0, *coefficients])).at(x, y))
    linear = np.full((480, 640, 3), 0.25)
    for row in range(3):
        for column in range(4):
            level = np.exp(rng.uniform(np.log(0.03), np.log(0.8))) * rng.uniform(0.7, 1, 3)
            linear[30 + 150 * row : 150 + 150 * row, 20 + 155 * column : 145 + 155 * column] = level
    v = linear_to_srgb(np.minimum(linear * light[..., None] * 0.9, 1))
    v = v + bend * (v * v * (3 - 2 * v) - v)
    return np.uint8(np.clip(v * 255 + rng.normal(0, 1, v.shape), 0, 255) + 0.5)


def test_light_is_recovered() -> None:
    truth = (-0.25, 0.1, -0.05, 0.02, 0.03)
    seen = witnesses(make_view(lit_table(0.0, truth)))
    assert fit_light(seen, np.zeros(3)).coefficients[1:] == pytest.approx(truth, abs=0.02)


def test_witnesses_are_the_means_of_their_blocks() -> None:
    """Told pixel by pixel, from what is smooth alone."""
    view = make_view(lit_table(0.1, (-0.2, 0.1, 0, 0, 0), seed=5)[:, :635])
    groups, count = label(view.change < 3.0)
    height, width = groups.shape
    rows, columns = np.mgrid[:height, :width]
    expected = []
    for group in range(1, count + 1):
        if (groups == group).sum() < 150:
            continue
        for top, left in np.ndindex(-(-height // 8), -(-width // 8)):
            block = np.s_[8 * top : 8 * top + 8, 8 * left : 8 * left + 8]
            here = groups[block] == group
            if here.sum() < 16:
                continue
            x = ((columns[block][here] + 0.5) / width * 2 - 1).mean()
            y = ((rows[block][here] + 0.5) / height * 2 - 1).mean()
            for channel in range(3):
                level = view.pixels[block][here][:, channel].mean() / 255
                if 0.06 < level < 0.97:
                    expected.append((channel, x, y, level, here.sum() / 64))
    seen = witnesses(view)
    found = np.column_stack([seen.channel, seen.x, seen.y, seen.level, seen.weight])
    assert len(found) > 1000
    expected = np.array(expected)
    for one in (found, expected):
        one[:] = one[np.lexsort(one.round(9).T)]
    assert found == pytest.approx(expected, abs=1e-9)
    assert (np.diff(seen.patch) >= 0).all(), "patches' rows lie together"


def test_wood_does_not_pass_for_light() -> None:
    """Evening must not harm where the table itself is uneven."""
    worse = []
    for table in ("wood", "checked"):
        for seed in (320, 321, 322):
            scene = simulator.scene(seed, "sheet", size=(720, 540), table=table)
            photo = photo_of(scene.pixels)
            reference = find_reference(photo, "sheet", scene.polygon)
            flat = correct(photo, reference, scene.table)
            plain = Corrected(flat.seen, flat.profile, EVEN, flat.kind, flat.doubt)
            errors = [
                [float(ciede2000(one.lab[s.mask].mean(axis=0), s.mean_lab)) for s in scene.scraps]
                for one in (flat, plain)
            ]
            worse.append(np.mean(errors[0]) - np.mean(errors[1]))
    assert np.mean(worse) < 0.2


def test_cloth_that_fills_the_picture_is_left_alone() -> None:
    """An ombre print is no uneven light: no table, no evening."""
    ramp = np.linspace(60, 200, 640).astype(np.uint8)
    pixels = np.broadcast_to(ramp[None, :, None], (480, 640, 3)).copy()
    seen = correct(photo_of(pixels), None, np.zeros((480, 640), bool), np.ones((480, 640), bool))
    assert seen.light is EVEN


def test_the_light_at_the_sheet_is_taken_into_account() -> None:
    grey = np.array([0.8, 0.8, 0.8])
    bright, shaded = (neutral_profile(grey, light, (85, 0, 0)) for light in (1.0, 0.5))
    assert shaded.matrix == pytest.approx(bright.matrix / 2)
