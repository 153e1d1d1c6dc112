"""The correction chain on simulated photos with known truth, and its parts one by one."""

from dataclasses import replace
from functools import cache

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
from sequencer.models import PaletteColour
from sequencer.photo.agreement.agree import PhotoColours, agree
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.curves import SRGB, target_profile, unbent
from sequencer.photo.colour.light import EVEN, Light, fit_light, witnesses
from sequencer.photo.colour.neutral import card_lab, neutral_profile, sheet_lab
from sequencer.photo.colour.shoulder import USUAL, Shoulder
from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import make_view
from sequencer.photo.reference.reference import Reference, find_reference
from sequencer.photo.reference.target import PATCHES_LAB
from tests.made import simulator

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
            stated.append(seen.uncertainty_of(mean).total)
    return np.array(after), np.array(before), np.array(stated)


@pytest.mark.parametrize(("kind", "median", "p90"), [
    ("target", 2.4, 6.0), ("sheet", 4.6, 9.8), ("grey", 4.9, 9.8),
])  # fmt: skip
def test_accuracy_by_reference(kind: str, median: float, p90: float) -> None:
    """Some fifty prints a kind: too few for a 95th percentile, which photo_truth.py prints.

    Through responses like those of real cameras, so as far from the truth as real photos are.
    """
    after, before, _ = measured(kind)
    assert np.median(after) <= median
    assert np.percentile(after, 90) <= p90
    assert np.median(after) < 0.6 * np.median(before)


def test_without_reference_dark_photos_are_lifted_and_none_gets_worse() -> None:
    after, before, _ = measured("none")
    assert np.median(after) < np.median(before)
    assert np.percentile(after, 90) <= np.percentile(before, 90)


@pytest.mark.parametrize(("level", "table", "gain"), [
    (100, True, 1.82), (190, True, 1.378), (215, True, 1.0), (100, False, 1.0),
])  # fmt: skip
def test_only_a_dark_table_is_lifted(level: int, table: bool, gain: float) -> None:
    """Gains by hand: exp(1.5 (-.45 - ln Y)), at most exp(.6); Y by IEC 61966-2-1."""
    photo = photo_of(np.full((200, 300, 3), level, np.uint8))
    seen = correct(photo, None, np.full((200, 300), table))
    linear = ((level / 255 + 0.055) / 1.055) ** 2.4
    expected = 116 * (linear * gain) ** (1 / 3) - 16
    assert seen.lab[100, 150] == pytest.approx([expected, 0, 0], abs=0.3)


def test_she_is_told_that_a_dark_photo_was_lifted() -> None:
    table = np.ones((200, 300), bool)
    dark, light = (correct(photo_of(np.full((200, 300, 3), level, np.uint8)), None, table)
                   for level in (100, 215))
    assert dark.warnings == (
        "no white sheet, grey card or target in this photo, and it is dark, so it is read 1.8 "
        "times as light: its colours are approximate and cannot be compared closely with those of "
        "another photo",
    )
    assert "dark" not in light.warnings[0]


def test_clipped_highlights_tell_nothing_of_exposure() -> None:
    dark = np.full((200, 300, 3), 100, np.uint8)
    lamp = dark.copy()
    lamp[:4, :200] = 255  # 1.3 % of the picture
    table = np.ones((200, 300), bool)
    lifted, left = (correct(photo_of(one), None, table).lab[150, 150, 0] for one in (dark, lamp))
    assert lifted - left > 10
    assert left == pytest.approx(42.4, abs=0.2)  # L* of sRGB 100


def test_a_print_that_fills_the_photo_is_less_certain() -> None:
    photo = photo_of(np.full((200, 300, 3), 120, np.uint8))
    single, table = correct(photo, None), correct(photo, None, np.ones((200, 300), bool))
    assert single.doubt.usual == table.doubt.usual + 3


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
    stated = [shown_grey(sure=sure).doubt.usual for sure in (1.0, 0.9, 0.6, 0.3, 0.1)]
    none = correct(photo_of(np.full((200, 300, 3), 120, np.uint8)), None).doubt.usual
    assert stated == sorted(stated)
    assert stated[0] < 11
    assert stated[1] - stated[0] > 1
    assert stated[3] == stated[4] == pytest.approx(none)


def test_a_strong_cast_is_trusted_less() -> None:
    plain, warm, strange = (
        shown_grey(encoded=np.array([colour]))
        for colour in ((0.5, 0.5, 0.5), (0.7, 0.5, 0.3), (0.8, 0.4, 0.03))
    )
    assert warm.doubt.usual > plain.doubt.usual + 2
    assert strange.doubt.usual > 2 * plain.doubt.usual
    told = "the light is strongly coloured"
    assert [any(told in text for text in one.warnings) for one in (plain, warm, strange)] == [
        False, True, True]


def test_a_tinted_picture_without_reference_is_trusted_less() -> None:
    """But one print that fills the photo may well be orange."""
    def stated(colour: tuple[int, int, int], several: bool) -> Corrected:
        pixels = np.full((200, 300, 3), colour, np.uint8)
        return correct(photo_of(pixels), None, np.full((200, 300), several))

    grey, orange, single = (stated((128, 128, 128), True), stated((230, 120, 20), True),
                            stated((230, 120, 20), False))
    assert (grey.doubt.usual, single.doubt.usual) == (16, 19)
    assert orange.doubt.usual > 40
    assert any("strongly coloured" in text for text in orange.warnings)
    assert not any("strongly coloured" in text for text in single.warnings + grey.warnings)


@pytest.mark.parametrize("kind", ["sheet", "grey"])
def test_uncertainty_is_honest_under_extreme_casts(kind: str) -> None:
    """A phone balanced for daylight under a tungsten lamp: far beyond any real photo we have."""
    phone = simulator.Phone(balance="daylight", lamp="A")
    within = []
    for seed in SEEDS:
        scene = simulator.scene(seed, kind, size=(720, 540), phone=phone)
        photo = photo_of(scene.pixels)
        seen = correct(photo, find_reference(photo, kind, scene.polygon), scene.table)
        for scrap in scene.scraps:
            mean = seen.lab[scrap.mask].mean(axis=0)
            error = float(ciede2000(mean, scrap.mean_lab))
            within.append(error <= seen.uncertainty_of(mean).total)
    assert np.mean(within) >= 0.86


def test_an_overexposed_sheet_is_trusted_less_and_told() -> None:
    fine, blown = shown_grey("sheet", 240), shown_grey("sheet", 255)
    assert blown.doubt.usual > fine.doubt.usual + 2
    assert any("overexposed" in text for text in blown.warnings)
    assert not fine.warnings


def test_a_card_serves_best_what_is_as_light_as_it() -> None:
    """And a card of L* 65 better than one of 50 or 90."""
    seen = shown_grey()
    stated = {level: seen.uncertainty_of((level, 0, 0)).total for level in (10, 50, 95)}
    assert min(stated, key=stated.__getitem__) == 50
    assert stated[10] > stated[50] + 1
    at_its_own = {known: shown_grey(lightness=known).doubt.stated for known in (50.0, 65.0, 90.0)}
    assert min(at_its_own, key=at_its_own.__getitem__) == 65
    none = correct(photo_of(np.full((200, 300, 3), 120, np.uint8)), None)
    assert none.uncertainty_of((10, 0, 0)).total == none.doubt.usual


def test_what_a_photo_shares_and_what_is_a_prints_own_make_up_the_whole() -> None:
    for kind in ("sheet", "grey"):
        one = shown_grey(kind).uncertainty_of((30, 10, 5))
        assert np.hypot(one.shared, one.own) == pytest.approx(one.total)
        assert one.shared > one.own > 0.5 * one.total


@pytest.mark.parametrize("kind", ["sheet", "grey"])
def test_prints_of_one_photo_err_together(kind: str) -> None:
    """Differences of L* inside one simulated photo are surer than L* itself."""
    alone, apart = [], []
    for seed in SEEDS:
        scene = simulator.scene(seed, kind, size=(720, 540))
        seen = correct(photo := photo_of(scene.pixels),
                       find_reference(photo, kind, scene.polygon), scene.table)
        off = np.array([seen.lab[s.mask].mean(axis=0)[0] - s.mean_lab[0] for s in scene.scraps])
        alone += off.tolist()
        apart += (off - off.mean()).tolist()
    assert np.std(apart) < 0.8 * np.sqrt(np.mean(np.square(alone)))


def test_a_shouldered_camera_is_read_better_than_by_plain_gains() -> None:
    """Neutral greys through responses as published (libcamera's three; base curves of raw
    converters for eleven cameras; fitted as in tests/made/simulator.py), a card of L* 50 known."""
    greys = np.linspace(15, 90, 16)
    light = lab_to_xyz(np.column_stack([greys, 0 * greys, 0 * greys]))[:, 1]
    ours, plain = [], []
    for power, knee in ((1.438, 0.331), (1.544, 0.508), (1.284, 2.617), (1.517, 0.114),
                        (1.356, 0.171), (1.471, 0.224), (1.767, 0.161)):
        for white in (0.6, 0.75, 0.9):
            camera = simulator.Response(power, knee, 0.0)
            x = light / 0.88 * camera.reached(white)
            encoded = np.repeat(linear_to_srgb(camera(x))[:, None], 3, axis=1)
            card = linear_to_srgb(camera(0.184 / 0.88 * camera.reached(white))) * np.ones(3)
            profile = neutral_profile(card, 1.0, card_lab(50))
            ours += (profile.lab(profile.linear(encoded).T)[0] - greys).tolist()
            gain = srgb_to_linear(encoded[:, 0]) * 0.184 / srgb_to_linear(card[0])
            plain += (xyz_to_lab(gain[:, None] * D65_WHITE)[:, 0] - greys).tolist()
    assert np.sqrt(np.mean(np.square(ours))) < 0.75 * np.sqrt(np.mean(np.square(plain)))


def steep_picture(power: float, table: float, card: float = 0.19) -> tuple[Photo, Reference]:
    """A table of luminance factor ``table`` and a grey card through a camera d = x to ``power``."""
    def seen(luminance: float) -> float:
        return float(linear_to_srgb(np.array((luminance / 0.9) ** power)))

    pixels = np.full((200, 300, 3), round(255 * seen(table)), np.uint8)
    pixels[40:100, 40:100] = round(255 * seen(card))
    photo = photo_of(pixels)
    reference = find_reference(photo, f"grey={xyz_to_lab(card * D65_WHITE)[0]:.2f}",
                               [[50, 50], [90, 90]])
    assert reference is not None
    return photo, reference


@pytest.mark.parametrize("power", [1.8, 2.0, 2.3])
def test_no_table_is_whiter_than_white(power: float) -> None:
    """The perfect diffuser is L* 100 (CIE 015:2018), paper L* 95 (ISO 12647-2); the table L* 90."""
    photo, card = steep_picture(power, 0.763)
    seen = correct(photo, card)
    assert seen.profile.shoulder is not None
    assert seen.profile.shoulder.power > USUAL.power + 0.2
    assert seen.lab[150, 200, 0] == pytest.approx(95, abs=0.5)
    assert seen.lab[70, 70, 0] == pytest.approx(50.7, abs=0.5)  # the card stays where it belongs


def test_light_things_and_small_sunny_ones_leave_the_curve_alone() -> None:
    photo, card = steep_picture(1.0, 0.763)
    assert correct(photo, card).profile.shoulder == USUAL
    photo, card = steep_picture(1.0, 0.3)
    photo.pixels[:, 240:] = 255  # a fifth of the picture in the sun
    seen = correct(photo, card)
    assert seen.lab[150, 280, 0] > 100
    assert seen.profile.shoulder == USUAL


def test_a_sheet_tells_no_steep_camera() -> None:
    photo, _ = steep_picture(2.3, 0.763)
    sheet = find_reference(photo, "sheet", [[50, 50], [90, 90]])  # grey taken for paper
    assert correct(photo, sheet).profile.shoulder == USUAL


def test_the_shoulder_is_undone_exactly() -> None:
    x = np.linspace(0.01, 1, 50)
    for power, knee in ((1.0, 1e9), (1.3, 0.8), (1.5, 0.25)):
        camera = simulator.Response(power, knee, 0.0)
        assert Shoulder(power, knee).undone(camera(x)) == pytest.approx(x, rel=1e-4)
        assert camera(camera.reached(0.7)) == pytest.approx(0.7)


# ── exact cases ───────────────────────────────────────────────────────────────────────────


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
