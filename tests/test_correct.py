"""The correction chain on simulated photos with known truth, and its parts one by one."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import simulator
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
from sequencer.models import PaletteColour
from sequencer.photo.agreement.agree import PhotoColours, agree
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.curves import CLOTH, SRGB, target_profile, unbent
from sequencer.photo.colour.light import EVEN, Light, fit_light, witnesses
from sequencer.photo.colour.neutral import GREY_Y, SHEET_Y, white_profile
from sequencer.photo.colour.tone import estimate_bend
from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import make_view
from sequencer.photo.reference.reference import find_reference
from sequencer.photo.reference.target import NEUTRALS, PATCHES_LAB

SEEDS = range(300, 308)  # never used for building: that was 0 to 39


def photo_of(pixels: np.ndarray) -> Photo:
    return Photo("scene.jpg", "scene", pixels, pixels.shape[1::-1])


@cache
def measured(kind: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Errors after and before correction, and the stated uncertainty, one for each scrap."""
    after, before, stated = [], [], []
    for seed in SEEDS:
        scene = simulator.scene(seed, kind, size=(720, 540))
        photo = photo_of(scene.pixels)
        # Marked by hand, so that finding, which has tests of its own, does not blur the figures.
        reference = find_reference(photo, kind, scene.polygon) if kind != "none" else None
        cloth = np.any([scrap.mask for scrap in scene.scraps], axis=0)
        seen = correct(photo, reference, scene.table, cloth)
        raw = srgb8_to_lab(scene.pixels)
        for scrap in scene.scraps:
            mean = seen.lab[scrap.mask].mean(axis=0)
            after.append(float(ciede2000(mean, scrap.mean_lab)))
            before.append(float(ciede2000(raw[scrap.mask].mean(axis=0), scrap.mean_lab)))
            stated.append(seen.uncertainty_of(mean))
    return np.array(after), np.array(before), np.array(stated)


@pytest.mark.parametrize(("kind", "median", "p90"), [
    ("target", 2.1, 5.6), ("sheet", 3.5, 7.8), ("grey", 3.5, 7.8),
])  # fmt: skip
def test_accuracy_by_reference(kind: str, median: float, p90: float) -> None:
    """Some fifty prints a kind: too few for a 95th percentile, which photo_truth.py prints."""
    after, before, _ = measured(kind)
    assert np.median(after) <= median
    assert np.percentile(after, 90) <= p90
    assert np.median(after) < 0.6 * np.median(before)


def test_without_reference_no_worse_than_the_photo() -> None:
    after, before, _ = measured("none")
    assert after == pytest.approx(before, abs=0.05)


@pytest.mark.parametrize("kind", ["target", "sheet", "grey", "none"])
def test_uncertainty_is_honest(kind: str) -> None:
    after, _, stated = measured(kind)
    assert 0.8 <= (after <= stated).mean() <= 1.0
    assert stated.mean() < 3 * after.mean()  # and not by being wide


def test_a_better_reference_promises_more() -> None:
    promised = {kind: measured(kind)[2].mean() for kind in ("target", "sheet", "none")}
    assert promised["target"] < promised["sheet"] < promised["none"]


def shown_grey(kind: str = "grey", level: int = 120, **changes: object) -> Corrected:
    """A grey picture, a reference marked in it and changed as told."""
    photo = photo_of(np.full((200, 300, 3), level, np.uint8))
    reference = find_reference(photo, kind, [[50, 50], [200, 150]])
    assert reference is not None
    return correct(photo, replace(reference, **changes))  # type: ignore[arg-type]


def test_a_doubtful_reference_is_trusted_less() -> None:
    """From its own uncertainty, when sure, to that of a photo without one."""
    stated = [shown_grey(sure=sure).uncertainty for sure in (1.0, 0.9, 0.6, 0.3, 0.1)]
    none = correct(photo_of(np.full((200, 300, 3), 120, np.uint8)), None).uncertainty
    assert stated == sorted(stated)
    assert stated[0] < 7
    assert stated[1] - stated[0] > 1
    assert stated[3] == stated[4] == pytest.approx(none)


def test_a_strong_cast_is_trusted_less() -> None:
    plain, warm = (
        shown_grey(encoded=np.array([colour])) for colour in ((0.5, 0.5, 0.5), (0.7, 0.5, 0.3))
    )
    assert warm.uncertainty > plain.uncertainty + 2


def test_an_overexposed_sheet_is_trusted_less_and_told() -> None:
    fine, blown = shown_grey("sheet", 240), shown_grey("sheet", 255)
    assert blown.uncertainty > fine.uncertainty + 2
    assert any("overexposed" in text for text in blown.warnings)
    assert not fine.warnings


def test_a_reference_serves_best_what_is_as_light_as_it() -> None:
    for kind, own in (("grey", 50), ("sheet", 95)):
        seen = shown_grey(kind)
        stated = {level: seen.uncertainty_of((level, 0, 0)) for level in (10, 50, 95)}
        assert min(stated, key=stated.__getitem__) == own
        assert stated[10] > stated[own] + 1
    none = correct(photo_of(np.full((200, 300, 3), 120, np.uint8)), None)
    assert none.uncertainty_of((10, 0, 0)) == none.uncertainty


@pytest.mark.parametrize("balance", ["usual", "gains"])
@pytest.mark.parametrize("matrix", ["usual", "d65", "lamp"])
def test_white_adapts_better_than_by_bradford(balance: str, matrix: str) -> None:
    """Whatever the phone's kind: colours of twenty phones each, none used for the fit."""
    rng = np.random.default_rng(987)
    phone = simulator.Phone(balance, matrix)
    ours, plain = [], []
    for lamp in simulator.ILLUMINANTS:
        for camera in simulator.CAMERAS:
            inks = np.stack([simulator._ink(rng) for _ in range(30)]).clip(0.01, 0.98)
            every = np.vstack([inks, np.full((1, 31), SHEET_Y)])
            linear = simulator.bare(rng, every, lamp, camera, phone)
            linear = np.maximum(linear / linear.max(), 1e-4)
            truth = xyz_to_lab(simulator.true_xyz(inks))
            profile = white_profile(linear_to_srgb(linear[-1]), 1.0, SHEET_Y, 0.0)
            ours += [*ciede2000(profile.lab(linear[:-1].T).T, truth)]
            seen = linear @ SRGB.matrix.T
            moved = adaptation_matrix(seen[-1], D65_WHITE) * (SHEET_Y / seen[-1, 1])
            plain += [*ciede2000(xyz_to_lab(np.maximum(seen[:-1] @ moved.T, 1e-5)), truth)]
    assert np.median(ours) < np.median(plain)
    assert np.percentile(ours, 95) < np.percentile(plain, 95)


# ── exact cases ───────────────────────────────────────────────────────────────────────────


def test_white_and_grey_go_where_they_belong() -> None:
    for kind, known in (("sheet", SHEET_Y), ("grey", GREY_Y)):
        pixels = np.full((200, 300, 3), (150, 120, 90), np.uint8)
        photo = photo_of(pixels)
        reference = find_reference(photo, kind, [[50, 50], [200, 150]])
        lab = correct(photo, reference).lab[100, 100]
        assert lab == pytest.approx(xyz_to_lab(known * D65_WHITE), abs=0.05)
    # 18 % grey is L* 49.5, plain paper white about L* 95 (ISO 12647-2:2013)
    assert xyz_to_lab(GREY_Y * D65_WHITE)[0] == pytest.approx(50, abs=0.1)
    assert xyz_to_lab(SHEET_Y * D65_WHITE)[0] == pytest.approx(95, abs=0.5)


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
    profile = target_profile(encoded, np.ones(24), np.zeros((3, 3)))
    seen = profile.lab(profile.linear(encoded).T).T
    gamut = np.abs(srgb8_to_lab(lab_to_srgb8(PATCHES_LAB)) - PATCHES_LAB).max(axis=1) < 1
    assert gamut.sum() >= 23  # one cyan lies outside sRGB
    assert ciede2000(seen, PATCHES_LAB)[gamut].max() < 1.5
    assert profile.misfit < 0.8


def test_what_dyes_need_leaves_greys_alone() -> None:
    """Paints are moved on purpose by what is known of dyes: a little, and greys not at all."""
    encoded = lab_to_srgb8(PATCHES_LAB) / 255
    as_paint, as_cloth = (
        profile.lab(profile.linear(encoded).T).T
        for profile in (target_profile(encoded, np.ones(24), c) for c in (np.zeros((3, 3)), CLOTH))
    )
    moved = ciede2000(as_paint, as_cloth)
    assert moved[NEUTRALS].max() < 0.2
    assert 0.5 < moved.max() < 2


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


@pytest.mark.parametrize("bend", [0.0, 0.15, 0.3])
def test_tone_curve_is_read_off_the_light(bend: float) -> None:
    seen = witnesses(make_view(lit_table(bend, (-0.35, 0.15, 0, 0, 0), seed=3)))
    assert estimate_bend(seen) == pytest.approx(bend, abs=0.13)


def test_even_light_says_nothing_about_the_curve() -> None:
    seen = witnesses(make_view(lit_table(0.6, (0, 0, 0, 0, 0))))
    assert estimate_bend(seen) == pytest.approx(0.15, abs=0.1)


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
            plain = Corrected(flat.seen, flat.profile, EVEN, flat.kind, flat.uncertainty)
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


def test_white_profile_takes_the_light_at_the_sheet_into_account() -> None:
    bright = white_profile(np.array([0.8, 0.8, 0.8]), 1.0, SHEET_Y, 0.0)
    shaded = white_profile(np.array([0.8, 0.8, 0.8]), 0.5, SHEET_Y, 0.0)
    assert shaded.matrix * 2 == pytest.approx(bright.matrix)


# ── several photos ────────────────────────────────────────────────────────────────────────

HARBOUR = (PaletteColour((60, 40, 20), 0.5), PaletteColour((40, -20, -20), 0.3),
           PaletteColour((80, 0, 60), 0.2))  # fmt: skip
KELP = (PaletteColour((50, 10, -40), 0.5), PaletteColour((70, -30, 30), 0.3),
        PaletteColour((30, 20, 20), 0.2))  # fmt: skip
PLAIN = (PaletteColour((50, 1, 1), 1.0),)
CAST = adaptation_matrix(D65_WHITE, [1.05, 1, 0.8]) * 0.8


def in_other_light(palette: tuple[PaletteColour, ...]) -> tuple[PaletteColour, ...]:
    moved = [xyz_to_lab(lab_to_xyz(c.lab) @ CAST.T) for c in palette]
    return tuple(
        PaletteColour((float(m[0]), float(m[1]), float(m[2])), c.share)
        for m, c in zip(moved, palette, strict=True)
    )


def test_a_shared_print_lends_its_photos_reference() -> None:
    photos = [
        PhotoColours("a.jpg", "sheet", 7.0, (HARBOUR,)),
        PhotoColours("b.jpg", "none", 15.5, (in_other_light(HARBOUR), in_other_light(KELP))),
        PhotoColours("c.jpg", "none", 15.5, (in_other_light(KELP),)),
        PhotoColours("d.jpg", "none", 15.5, (PLAIN,)),
    ]
    shared = {frozenset({(0, 0), (1, 0)}): True, frozenset({(1, 1), (2, 0)}): True}
    sheet, direct, over_two, alone = agree(photos, told=shared)
    assert sheet.matrix is None
    assert direct.through == "a.jpg"
    assert direct.moved(in_other_light(KELP)[0].lab) == pytest.approx(KELP[0].lab, abs=0.1)
    assert 7 < direct.uncertainty < over_two.uncertainty < 15.5
    assert over_two.through == "b.jpg"
    assert alone.uncertainty == 15.5
    assert "nothing ties" in alone.warnings[0]


def test_different_prints_do_not_tie() -> None:
    photos = [
        PhotoColours("a.jpg", "sheet", 7.0, (HARBOUR, PLAIN)),
        PhotoColours("b.jpg", "none", 15.5, (KELP, in_other_light(PLAIN))),
    ]
    assert agree(photos)[1].matrix is None


def test_one_photo_has_nobody_to_agree_with() -> None:
    (only,) = agree([PhotoColours("a.jpg", "none", 15.5, (HARBOUR,))])
    assert only.warnings == ()
