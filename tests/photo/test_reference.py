"""Sheet, grey card and target found in simulated photos, and marked by hand."""

import re
from functools import cache

import numpy as np
import pytest
from PIL import Image

from sequencer.colour import ciede2000, lab_to_srgb8, xyz_to_lab
from sequencer.errors import PhotoError, UsageError
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.patches import PATCHES_LAB, homography
from sequencer.photo.reference.reference import Reference, find_reference, look_for_reference
from sequencer.photo.shapes.foursided import quadrilateral
from tests.made import simulator

TARGETS = range(200, 206)
SHEETS = range(210, 216)


@cache
def scene(seed: int, kind: str, table: str | None = None) -> simulator.Scene:
    return simulator.scene(seed, kind, table=table)


def photo_of(pixels: np.ndarray) -> Photo:
    return Photo("scene.jpg", "scene", pixels, pixels.shape[1::-1])


def off_by(found: Reference | None, truth: np.ndarray) -> float:
    """Pixels between centres; infinite where nothing was found."""
    if found is None:
        return np.inf
    return float(np.hypot(*(found.polygon.mean(axis=0) - truth.mean(axis=0))))


# ── the target ────────────────────────────────────────────────────────────────────────────


def test_patch_table_is_the_mean_of_two_published_sets_of_spectra() -> None:
    """BabelColor's average of 30 charts and N. Ohta (1997), as colour-science carries them."""
    sets = [simulator.checker(name) for name in ("BabelColor Average", "ColorChecker N Ohta")]
    truth = xyz_to_lab(simulator.true_xyz(np.mean(sets, axis=0)))
    assert pytest.approx(truth, abs=0.006) == PATCHES_LAB
    for spectra in sets:
        apart = ciede2000(xyz_to_lab(simulator.true_xyz(spectra)), PATCHES_LAB)
        assert apart.max() < 1.1
        assert apart.mean() < 0.5


@pytest.mark.parametrize("seed", TARGETS)
def test_target_is_found_and_its_first_patch_is_the_dark_skin(seed: int) -> None:
    view = scene(seed, "target")
    found = find_reference(photo_of(view.pixels))
    assert found is not None
    assert found.kind == "target"
    assert off_by(found, view.polygon) < 6
    assert found.encoded.shape == (24, 3)
    corner = view.polygon
    first = corner[0] + (corner[1] - corner[0]) / 12 + (corner[3] - corner[0]) / 8
    assert np.hypot(*(found.centres[0] - first)) < np.hypot(*(corner[1] - corner[0])) / 12


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_target_is_found_whichever_way_the_photo_is_turned(turns: int) -> None:
    view = scene(201, "target")
    straight = find_reference(photo_of(view.pixels), "target")
    turned = find_reference(photo_of(np.ascontiguousarray(np.rot90(view.pixels, turns))), "target")
    assert straight is not None
    assert turned is not None
    assert turned.encoded == pytest.approx(straight.encoded, abs=0.03)


def test_a_mirrored_target_is_read_in_the_right_order_and_told() -> None:
    """A selfie camera's picture: each patch is where its mirror image was."""
    view = scene(201, "target")
    straight = find_reference(photo_of(view.pixels), "target")
    mirrored = photo_of(np.ascontiguousarray(view.pixels[:, ::-1]))
    found, words = look_for_reference(mirrored, "target")
    assert straight is not None
    assert not straight.mirrored
    assert found is not None
    assert found.mirrored
    assert words is not None
    assert "mirrored" in words
    assert found.encoded == pytest.approx(straight.encoded, abs=0.03)


def cut_off(seed: int, columns: float) -> tuple[Photo, np.ndarray]:
    """A scene that ends after so many columns of its target, and the target's corners there."""
    view = scene(seed, "target")
    middle = homography(np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), view.polygon) @ [
        columns, 2, 1,
    ]  # fmt: skip
    at = round(middle[0] / middle[2])
    first = view.polygon[0, 0] < view.polygon[1, 0]
    pixels = view.pixels[:, :at] if first else view.pixels[:, at:]
    return photo_of(np.ascontiguousarray(pixels)), view.polygon - [0 if first else at, 0]


CUT = [201, 203, 205, 206]


@pytest.mark.parametrize("seed", CUT)
def test_half_a_target_is_read_where_it_is_asked_for(seed: int) -> None:
    photo, corners = cut_off(seed, 3.5)
    found, words = look_for_reference(photo, "target")
    assert off_by(found, corners) < 8
    assert found is not None
    hidden = np.isnan(found.encoded).any(axis=1)
    assert 8 <= hidden.sum() <= 12
    assert words is not None
    assert f"{hidden.sum()} of the target's 24 patches do not show" in words


@pytest.mark.parametrize("columns", [3.0, 3.5])
def test_a_photo_of_nothing_but_half_a_target_is_read_where_it_is_asked_for(columns: float) -> None:
    """Its patches are then wider than those of any whole target."""
    picture = np.full((600, 900, 3), 45.0)
    for index, colour in enumerate(lab_to_srgb8(PATCHES_LAB)):
        top, left = 150 * (index // 6), 150 * (index % 6)
        picture[top + 12 : top + 138, left + 12 : left + 138] = colour
    noisy = picture + np.random.default_rng(4).normal(0, 1.5, picture.shape)
    pixels = noisy.clip(0, 255).round().astype(np.uint8)[:, : round(150 * columns)]
    whole = np.array([[0, 0], [900, 0], [900, 600], [0, 600]], float)
    assert off_by(find_reference(photo_of(pixels), "target"), whole) < 15


@pytest.mark.parametrize("seed", CUT)
def test_too_little_of_a_target_is_told_as_that(seed: int) -> None:
    """Seven to nine patches show: it is neither read nor 'no target anywhere', marked or not."""
    photo, corners = cut_off(seed, 2.4)
    found, words = look_for_reference(photo, "target")
    assert found is None
    assert words is not None
    few = "too little of the target is in the picture.*photograph it whole"
    assert re.search(few, words)
    with pytest.raises(PhotoError, match=few):
        look_for_reference(photo, "target", corners.tolist())


@pytest.mark.parametrize("kept", [0.82, 0.9])
def test_a_target_cut_off_by_the_edge_is_read_as_far_as_it_shows(kept: float) -> None:
    """A flat photo of nothing but the target, its last column beyond the edge."""
    view = scene(201, "target")
    corners = np.array([[0, 0], [900, 0], [900, 600], [0, 600]], float)
    to_view = homography(corners, view.polygon)
    size = (round(900 * kept), 600)
    flat = Image.fromarray(view.pixels).transform(
        size, Image.Transform.PERSPECTIVE, (to_view / to_view[2, 2]).ravel()[:8],
        Image.Resampling.BICUBIC,
    )  # fmt: skip
    found, words = look_for_reference(photo_of(np.asarray(flat)))
    assert found is not None
    assert found.kind == "target"
    hidden = np.isnan(found.encoded).any(axis=1)
    assert 1 <= hidden.sum() <= 4
    assert set(np.flatnonzero(hidden) % 6) == {5}
    assert words is not None
    assert f"{hidden.sum()} of the target's 24 patches do not show" in words


@pytest.mark.parametrize("cell", [13, 17])
def test_a_target_of_small_cells_is_found_when_asked_for(cell: int) -> None:
    view = scene(202, "target")
    by = cell / (np.linalg.norm(view.polygon[1] - view.polygon[0]) / 6)
    height, width = view.pixels.shape[:2]
    small = Image.fromarray(view.pixels).resize(
        (round(width * by), round(height * by)), Image.Resampling.LANCZOS
    )
    picture = np.empty((900, 1200, 3), np.uint8)
    picture[:] = np.median(view.pixels.reshape(-1, 3), axis=0)
    picture[201 : 201 + small.height, 333 : 333 + small.width] = small
    found = find_reference(photo_of(picture), "target")
    assert off_by(found, view.polygon * by + [333, 201]) < cell / 4


def test_what_is_asked_for_and_not_there_is_told_with_the_line_to_type() -> None:
    found, words = look_for_reference(photo_of(scene(SHEETS[0], "none").pixels), "target")
    assert found is None
    assert words is not None
    for part in ("no target was found", "960 × 720", "--reference target --marked X,Y X,Y"):
        assert part in words


def test_a_sheet_that_everything_lies_on_is_found_when_asked_for() -> None:
    """Real photographs of targets lie so, and paper then fills most of the picture."""
    view = scene(SHEETS[1], "none")
    height, width = view.pixels.shape[:2]
    paper = np.full_like(view.pixels, (60, 70, 66))
    paper[20 : height - 30, 40 : width - 25] = (224, 221, 214)
    small = np.asarray(Image.fromarray(view.pixels).resize((width // 2, height // 2)))
    paper[150 : 150 + height // 2, 200 : 200 + width // 2] = small
    noisy = paper + np.random.default_rng(3).normal(0, 1.5, paper.shape)
    found, words = look_for_reference(photo_of(noisy.clip(0, 255).astype(np.uint8)), "sheet")
    assert found is not None
    assert found.encoded[0] * 255 == pytest.approx([224, 221, 214], abs=3)
    assert words is None or "taken to lie" in words


def test_a_grey_card_is_not_taken_for_the_sheet_asked_for() -> None:
    """Either something else is, doubtfully and told, or nothing."""
    for seed in SHEETS:
        view = scene(seed, "grey")
        found, words = look_for_reference(photo_of(view.pixels), "sheet")
        assert off_by(found, view.polygon) > 30
        assert words is not None
        assert "--marked" in words


def test_a_table_that_fills_the_picture_is_no_grey_card() -> None:
    """This one is smooth and nearly grey, its card half hidden: it was said to be 70 % sure."""
    found, words = look_for_reference(photo_of(scene(5025, "grey").pixels), "grey")
    assert found is None or np.ptp(found.polygon[:, 0]) < 480
    assert words is not None
    assert "--marked" in words


def test_noise_does_not_hide_a_target_from_the_first_look_at_its_blobs() -> None:
    rng = np.random.default_rng(5)
    for seed in TARGETS[:3]:
        view = scene(seed, "target")
        noisy = (view.pixels + rng.normal(0, 8, view.pixels.shape)).clip(0, 255).astype(np.uint8)
        assert off_by(find_reference(photo_of(noisy), "target"), view.polygon) < 5


@pytest.mark.parametrize("kind", ["sheet", "none"])
def test_no_target_where_there_is_none(kind: str) -> None:
    for seed in SHEETS:
        assert find_reference(photo_of(scene(seed, kind).pixels), "target") is None


def test_homography_recovers_a_known_one() -> None:
    truth = np.array([[1.1, 0.2, 30], [-0.1, 0.9, 12], [1e-4, 2e-4, 1]])
    plane = np.array([[0, 0], [600, 0], [600, 400], [0, 400], [300, 150.0]])
    picture = np.column_stack([plane, np.ones(5)]) @ truth.T
    found = homography(plane, picture[:, :2] / picture[:, 2:])
    assert found / found[2, 2] == pytest.approx(truth, abs=1e-9)


# ── sheet and grey card ───────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("kind", ["sheet", "grey"])
def test_asked_for_reference_is_found_nearly_always(kind: str) -> None:
    views = [scene(seed, kind) for seed in SHEETS]
    hits = [off_by(find_reference(photo_of(v.pixels), kind), v.polygon) < 12 for v in views]
    assert sum(hits) >= len(views) - 1


def test_sheet_is_found_unasked() -> None:
    views = [scene(seed, "sheet") for seed in SHEETS]
    found = [find_reference(photo_of(view.pixels)) for view in views]
    hits = [
        one is not None and one.kind == "sheet" and off_by(one, view.polygon) < 12
        for one, view in zip(found, views, strict=True)
    ]
    assert sum(hits) >= len(views) - 1


def test_repeated_white_squares_are_a_motif_and_not_a_sheet() -> None:
    pixels = np.full((600, 800, 3), (60, 80, 120), np.uint8)
    for x in (60, 300, 540):
        for y in (60, 330):
            pixels[y : y + 180, x : x + 160] = 235
    assert find_reference(photo_of(pixels)) is None


def test_one_white_sheet_on_a_dark_table() -> None:
    pixels = np.full((600, 800, 3), (60, 50, 45), np.uint8)
    pixels[200:420, 300:600] = (236, 232, 220)
    found = find_reference(photo_of(pixels))
    assert found is not None
    assert found.kind == "sheet"
    assert found.encoded[0] * 255 == pytest.approx([236, 232, 220], abs=2)
    assert sorted(found.polygon.round(-1).tolist()) == [
        [300, 200], [300, 420], [600, 200], [600, 420]
    ]  # fmt: skip


@pytest.mark.parametrize("pixels", [
    np.zeros((40, 60, 3), np.uint8), np.full((500, 700, 3), 255, np.uint8),
    np.zeros((1, 1, 3), np.uint8),
    np.random.default_rng(0).integers(0, 256, (300, 400, 3), dtype=np.uint8),
])  # fmt: skip
def test_nothing_is_found_in_nothing(pixels: np.ndarray) -> None:
    for wanted in ("auto", "sheet", "grey", "target", "none"):
        assert find_reference(photo_of(pixels), wanted) is None


# ── marked by hand ────────────────────────────────────────────────────────────────────────


def test_marked_sheet_and_card_are_told_apart_by_lightness() -> None:
    pixels = np.full((300, 400, 3), 118, np.uint8)
    pixels[50:150, 50:200] = 240
    photo = photo_of(pixels)
    sheet = find_reference(photo, "auto", [[60, 60], [190, 140]])
    card = find_reference(photo, "auto", [[250, 180], [350, 260]])
    assert sheet is not None
    assert card is not None
    assert (sheet.kind, card.kind) == ("sheet", "grey")
    assert sheet.marked
    assert sheet.encoded[0] == pytest.approx(240 / 255, abs=1e-6)


def test_marked_target_is_read_from_rough_corners_in_any_order() -> None:
    view = scene(202, "target")
    photo = photo_of(view.pixels)
    free = find_reference(photo, "target")
    assert free is not None
    for turn in range(4):
        marked = find_reference(photo, "target", np.roll(view.polygon, turn, axis=0))
        assert marked is not None
        assert marked.encoded == pytest.approx(free.encoded, abs=0.05)


def test_marked_target_that_is_none_is_refused_with_advice() -> None:
    photo = photo_of(np.full((300, 400, 3), 118, np.uint8))
    with pytest.raises(PhotoError, match="24 patches"):
        find_reference(photo, "target", [[50, 50], [300, 200]])


def test_bad_markings_are_usage_errors() -> None:
    photo = photo_of(np.full((300, 400, 3), 118, np.uint8))
    with pytest.raises(UsageError, match="not known"):
        find_reference(photo, "blotter")
    with pytest.raises(UsageError, match="two opposite corners"):
        find_reference(photo, "sheet", [[1, 2], [3, 4], [5, 6]])
    with pytest.raises(UsageError, match="larger"):
        find_reference(photo, "sheet", [[10, 10], [11, 12]])


def test_quadrilateral_of_a_turned_rectangle() -> None:
    y, x = np.mgrid[:200, :200]
    turned = (np.abs((x - 100) + (y - 100)) < 60) & (np.abs((x - 100) - (y - 100)) < 90)
    corners = quadrilateral(turned)
    assert corners is not None
    for corner in ([25, 115], [85, 175], [175, 85], [115, 25]):
        assert np.hypot(*(corners - corner).T).min() < 3
