"""The correction chain on simulated photos with known truth, and its parts one by one."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sequencer.colour import (
    D65_WHITE,
    adaptation_matrix,
    ciede2000,
    lab_to_xyz,
    linear_to_srgb,
    srgb8_to_lab,
    srgb_to_linear,
    xyz_to_lab,
)
from sequencer.models import PaletteColour
from sequencer.photo.agreement.agree import PhotoColours, agree
from sequencer.photo.colour.correct import Corrected, correct
from sequencer.photo.colour.neutral import card_lab, neutral_profile
from sequencer.photo.colour.shoulder import USUAL, Shoulder
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.reference import Reference, find_reference
from tests.made import simulator
from tests.made.responses import Response

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


def test_a_card_of_which_nothing_is_said_is_told_to_count_as_18_percent() -> None:
    """One of L* 65 so read gives every cloth some 15 L* too dark: she can only know if told."""
    unsaid, said = shown_grey(), shown_grey(lightness=65.0)
    told = [text for text in unsaid.warnings if "give the reference as grey=65" in text]
    assert len(told) == 1
    assert "one of 18 % (L* 50)" in told[0]
    assert not said.warnings
    assert not shown_grey("sheet", 240).warnings
    apart = said.lab[100, 100] - unsaid.lab[100, 100]
    assert apart == pytest.approx([15, 0, 0], abs=0.5)


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
            camera = Response(power, knee, 0.0)
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
        camera = Response(power, knee, 0.0)
        assert Shoulder(power, knee).undone(camera(x)) == pytest.approx(x, rel=1e-4)
        assert camera(camera.reached(0.7)) == pytest.approx(0.7)


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
