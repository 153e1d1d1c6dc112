"""What speaks for a sheet or a grey card, on small pictures made for one question each."""

import numpy as np
import pytest
from scipy.ndimage import binary_fill_holes, uniform_filter

from sequencer.colour import linear_to_srgb
from sequencer.photo.files.load import Photo
from sequencer.photo.files.view import make_view
from sequencer.photo.reference.evidence import GREY_WEIGHTS, SHEET_WEIGHTS, features, odds
from sequencer.photo.reference.likeliest import candidates
from sequencer.photo.reference.outlines import outlines_below
from sequencer.photo.reference.quads import Quad, smooth_quads
from sequencer.photo.reference.reference import find_reference, look_for_reference
from sequencer.photo.shapes.foursided import quadrilateral

PLACE = np.s_[130:330, 210:470]
MIDDLE = np.array([340.0, 230.0])


def picture(
    reflectance: object = 0.88,
    weave: float = 0.0,
    table: object = (0.2, 0.17, 0.13),
    cast: object = (1.0, 1.0, 1.0),
    place: tuple[slice, slice] = PLACE,
    brightest: float = 0.8,
) -> np.ndarray:
    """A table with four coloured scraps and one plain thing on it, at 500 × 700."""
    rng = np.random.default_rng(3)
    linear = np.ones((500, 700, 3)) * np.asarray(table, float)
    inks = [(0.4, 0.06, 0.05), (0.05, 0.12, 0.3), (0.1, 0.3, 0.1), (brightest, 0.6, 0.3)]
    corners = [(20, 30), (30, 520), (360, 30), (370, 520)]
    for (y, x), ink in zip(corners, inks, strict=True):
        linear[y : y + 100, x : x + 140] = ink * (1 + 0.05 * rng.normal(size=(100, 140, 1)))
    shape = (*linear[place].shape[:2], 1)
    linear[place] = np.asarray(reflectance, float) * (1 + weave * rng.normal(size=shape))
    linear *= np.asarray(cast, float) * (1 + 0.01 * rng.normal(size=linear.shape))
    return np.rint(linear_to_srgb(np.clip(linear, 0, 1)) * 255).astype(np.uint8)


def photo_of(pixels: np.ndarray) -> Photo:
    return Photo("scene.jpg", "scene", pixels, pixels.shape[1::-1])


def quad_at(pixels: np.ndarray, middle: np.ndarray = MIDDLE) -> Quad:
    quads = smooth_quads(make_view(pixels))
    near = [np.hypot(*(quad.corners.mean(axis=0) - middle)) for quad in quads]
    assert near
    assert min(near) < 25
    return quads[int(np.argmin(near))]


def log_odds(pixels: np.ndarray, middle: np.ndarray = MIDDLE) -> tuple[float, float]:
    """Of the plain thing, alone against none: as the sheet, as the card."""
    sheet, grey = odds([quad_at(pixels, middle)], pixels)
    return float(sheet[0]), float(grey[0])


def test_one_weight_for_each_thing_weighed() -> None:
    pixels = picture()
    sheet, grey = features([quad_at(pixels)], pixels)
    assert sheet.shape == (1, len(SHEET_WEIGHTS))
    assert grey.shape == (1, len(GREY_WEIGHTS))
    assert np.isfinite(sheet).all()
    assert np.isfinite(grey).all()


def test_each_measure_of_roughness_rises_with_the_weave() -> None:
    """Texture, grain, grain beside the quietest place, and its rank: columns 4 to 7."""
    smooth, rough = picture(), picture(weave=0.04)
    low, high = (features([quad_at(one)], one)[0][0, 4:8] for one in (smooth, rough))
    assert (high > low + 0.1).all()


def test_nothing_has_no_odds() -> None:
    sheet, grey = odds([], picture())
    assert len(sheet) == len(grey) == 0


def test_weave_speaks_against_paper_and_the_more_the_stronger() -> None:
    rising = [log_odds(picture(weave=weave)) for weave in (0.0, 0.02, 0.05)]
    sheets, cards = zip(*rising, strict=True)
    assert sheets[0] > sheets[1] + 0.3 > sheets[2] + 0.6
    cards = [log_odds(picture(0.18, weave, (0.3, 0.28, 0.25)))[1] for weave in (0.0, 0.03, 0.08)]
    assert cards[0] > cards[1] + 0.3 > cards[2] + 0.6


def test_noise_that_is_all_over_the_picture_says_less_than_weave_in_one_place() -> None:
    rng = np.random.default_rng(5)
    clean = picture()
    noise = rng.normal(0, 3, clean.shape)
    everywhere = np.clip(clean + noise, 0, 255).astype(np.uint8)
    here = clean.copy()
    here[PLACE] = np.clip(clean + noise, 0, 255).astype(np.uint8)[PLACE]
    assert log_odds(everywhere)[0] > log_odds(here)[0] + 0.5


def test_lighter_is_more_likely_the_sheet() -> None:
    sheets = [log_odds(picture(level))[0] for level in (0.88, 0.6, 0.4)]
    assert sheets[0] > sheets[1] > sheets[2]


def test_a_card_is_a_fifth_as_light_as_the_lightest_things() -> None:
    right, dark, light = (
        log_odds(picture(level, table=(0.4, 0.36, 0.3)))[1] for level in (0.18, 0.03, 0.7)
    )
    assert right > dark + 1
    assert right > light + 1


def test_what_is_near_must_not_outshine_a_sheet() -> None:
    """The same table, lighter than the thing: no paper is half as light as what it lies on."""
    fair, outshone = picture(0.6, table=(0.2, 0.18, 0.16)), picture(0.6, table=(0.95, 0.93, 0.9))
    assert log_odds(fair)[0] > log_odds(outshone)[0] + 1


@pytest.mark.parametrize("colour", [(0.1, 0.4, 0.15), (0.75, 0.25, 0.5), (0.3, 0.7, 0.85)])
def test_no_lamp_makes_paper_green_pink_or_turquoise(colour: tuple[float, float, float]) -> None:
    assert log_odds(picture())[0] > log_odds(picture(colour))[0] + 2


def test_a_cast_that_the_whole_picture_has_speaks_less_against_the_sheet_than_its_own() -> None:
    warm = (1.0, 0.75, 0.45)
    shared = log_odds(picture(cast=warm))[0]
    own = log_odds(picture(0.88 * np.array(warm), table=(0.17, 0.17, 0.19)))[0]
    assert shared > own


def test_round_and_holed_things_are_less_likely_than_whole_rectangles() -> None:
    whole = picture()
    y, x = np.mgrid[:500, :700]
    round_off = whole.copy()
    inside = np.zeros((500, 700), bool)
    inside[PLACE] = True
    oval = ((x - 340) / 145) ** 4 + ((y - 230) / 112) ** 4 > 1
    round_off[inside & oval] = whole[480, 350]
    assert log_odds(whole)[0] > log_odds(round_off)[0]
    holed = whole.copy()
    for top in (160, 220, 280):
        for left in (235, 295, 355, 415):
            holed[top : top + 22, left : left + 30] = whole[480, 350]
    assert quad_at(holed).fill < quad_at(whole).fill - 0.05


# ── what is looked at at all ──────────────────────────────────────────────────────────────


@pytest.mark.parametrize("turn", [0.0, 0.1, 0.4, 0.785])
@pytest.mark.parametrize("ratio", [1.0, 1.414, 1.8])
def test_four_sides_are_found_at_any_turn_also_under_a_scrap(turn: float, ratio: float) -> None:
    y, x = np.mgrid[:300, :400]
    u = (x - 200) * np.cos(turn) + (y - 150) * np.sin(turn)
    v = (y - 150) * np.cos(turn) - (x - 200) * np.sin(turn)
    half = np.array([60 * ratio, 60])
    member = (np.abs(u) < half[0]) & (np.abs(v) < half[1])
    for covered in (member, member & ~((u > half[0] - 30) & (v > half[1] - 25))):
        corners = quadrilateral(covered)
        assert corners is not None
        away = corners - [200, 150]
        spun = away @ [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
        assert np.abs(np.abs(spun) - half).max() < 2.5


def test_sheet_cut_off_by_the_edge_or_partly_covered_is_found() -> None:
    cut = picture(place=np.s_[130:330, 0:200])
    found = find_reference(photo_of(cut), "sheet")
    assert found is not None
    assert np.hypot(*(found.polygon.mean(axis=0) - [100, 230])) < 12
    covered = picture()
    covered[270:330, 380:470] = (40, 90, 150)
    found = find_reference(photo_of(covered), "sheet")
    assert found is not None
    assert np.hypot(*(found.polygon.mean(axis=0) - MIDDLE)) < 12


def test_one_double_is_a_rival_two_are_a_motif() -> None:
    def with_doubles(count: int) -> np.ndarray:
        pixels = np.full((500, 700, 3), (60, 80, 120), np.uint8)
        for left in (20, 250, 480)[: count + 1]:
            pixels[150:330, left : left + 190] = 236
        return pixels

    assert len(candidates(photo_of(with_doubles(1)))) == 2
    assert candidates(photo_of(with_doubles(2))) == []


# ── how it is said ────────────────────────────────────────────────────────────────────────


def test_the_users_word_makes_a_find_surer() -> None:
    photo = photo_of(picture(weave=0.01))
    unasked, asked = find_reference(photo), find_reference(photo, "sheet")
    assert asked is not None
    assert unasked is None or asked.sure > unasked.sure


def test_doubt_is_said_in_words() -> None:
    """Rougher step by step: taken, taken with a word, left out with a word, not spoken of."""
    kinds = ["taken", "taken and told", "left out and told", "silent"]
    outcomes = []
    for weave in np.linspace(0, 0.08, 33):
        found, doubt = look_for_reference(photo_of(picture(0.8, float(weave))))
        if doubt is None:
            outcomes.append("taken" if found else "silent")
        else:
            outcomes.append("taken and told" if found else "left out and told")
            assert ("was taken for a white sheet" if found else "looks like a white sheet") in doubt
            assert "340, 230" in doubt.replace("341", "340")
            assert ("reference as none" if found else "reference as sheet") in doubt
    assert outcomes[0] == "taken"
    assert set(outcomes) == set(kinds)
    ranks = [kinds.index(one) for one in outcomes]
    assert ranks == sorted(ranks)


# ── the view and what is counted in it ────────────────────────────────────────────────────


@pytest.mark.parametrize("height", [5, 31, 67, 96])
def test_change_is_that_of_the_mean_of_nine_over_two_pixels_in_every_row(height: int) -> None:
    pixels = np.random.default_rng(height).integers(0, 256, (height, 41, 3)).astype(np.uint8)
    view = make_view(pixels)
    wide = np.pad(view.lab.astype(float), ((2, 2), (2, 2), (0, 0)), mode="edge")
    means = uniform_filter(wide, (3, 3, 0))
    across = np.linalg.norm(means[2:-2, 3:-1] - means[2:-2, 1:-3], axis=-1)
    down = np.linalg.norm(means[3:-1, 2:-2] - means[1:-3, 2:-2], axis=-1)
    assert view.change == pytest.approx(np.maximum(across, down), abs=1e-3)


def test_outline_has_the_median_colour_and_the_share_of_its_group_without_holes() -> None:
    pixels = picture(0.7, weave=0.03)
    pixels[200:240, 300:360] = 20
    view = make_view(pixels)
    found = list(outlines_below(view, 6.0))
    assert found
    for one in found:
        assert one.colour == list(np.median(view.pixels[one.box][one.core], axis=0) / 255)
        assert (binary_fill_holes(one.filled) == one.filled).all()
        assert one.area == one.filled.sum() / view.change.size
    sheet = min(found, key=lambda one: np.hypot(*(np.array(one.middle) * view.step - MIDDLE)))
    hole = (220 // view.step - sheet.box[0].start, 330 // view.step - sheet.box[1].start)
    assert sheet.filled[hole]
    assert sheet.fill < 0.97
