"""The colour of a spot: what is measured, in which pixels, by which reference."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from passalong.main import main
from PIL import Image

import sequencer
from sequencer.colour import ciede2000, srgb8_to_lab
from sequencer.errors import PhotoError, UsageError
from tests.made import simulator

ORIENTATION = 274
CORNERS = [(60, 60), (660, 60), (660, 460), (60, 460)]


def patches() -> np.ndarray:
    """A photo of a target: flat patches of its true colours, corners as in CORNERS."""
    from sequencer.colour import lab_to_srgb8
    from sequencer.photo.reference.patches import PATCHES_LAB

    picture = np.full((520, 720, 3), 40, np.uint8)
    for index, colour in enumerate(lab_to_srgb8(PATCHES_LAB)):
        row, column = divmod(index, 6)
        top, left = 60 + row * 100, 60 + column * 100
        picture[top + 10 : top + 90, left + 10 : left + 90] = colour
    return picture


def centre(index: int) -> tuple[int, int]:
    row, column = divmod(index, 6)
    return 110 + column * 100, 110 + row * 100


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "chart.png"
    Image.fromarray(patches()).save(path)
    return path


def test_a_spot_is_the_mean_of_lab_over_its_disc(tmp_path: Path) -> None:
    picture = np.full((100, 120, 3), 90, np.uint8)
    picture[:, 60:] = 180
    path = tmp_path / "halves.png"
    Image.fromarray(picture).save(path)
    at = [(20, 50), (100, 50), (60, 50)]
    left, right, edge = sequencer.colours_at(path, at, "none", radius=9)
    dark, light = srgb8_to_lab(np.array([[90] * 3, [180] * 3], np.uint8))
    assert left.lab == pytest.approx(dark, abs=0.01)
    assert right.lab == pytest.approx(light, abs=0.01)
    assert edge.lab == pytest.approx((dark + light) / 2, abs=0.01)


def test_points_are_in_pixels_of_the_upright_photo(tmp_path: Path) -> None:
    upright = patches()
    plain, turned = tmp_path / "plain.png", tmp_path / "turned.jpg"
    Image.fromarray(upright).save(plain)
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    Image.fromarray(np.rot90(upright).copy()).save(turned, exif=exif, quality=98, subsampling=0)
    at = [centre(k) for k in (0, 5, 12, 23)]
    for one, other in zip(*(sequencer.colours_at(path, at, "none") for path in (plain, turned)),
                          strict=True):
        assert ciede2000(one.lab, other.lab) < 2


def test_sixteen_bits_and_cmyk_are_read(tmp_path: Path) -> None:
    deep, ink = tmp_path / "deep.png", tmp_path / "ink.jpg"
    Image.fromarray(np.full((80, 80), 257 * 128, np.uint16)).save(deep)
    Image.new("CMYK", (80, 80), (0, 0, 0, 127)).save(ink, quality=98)
    grey = srgb8_to_lab(np.array([128, 128, 128], np.uint8))
    for path in (deep, ink):
        (spot,) = sequencer.colours_at(path, [(40, 40)], "none")
        assert ciede2000(spot.lab, grey) < 2, path.name


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("winding", [1, -1])
def test_a_target_may_be_marked_from_any_corner_and_either_way_round(
    photo: Path, turn: int, winding: int
) -> None:
    from sequencer.photo.reference.patches import PATCHES_LAB

    marked = np.roll(CORNERS, turn, axis=0)[::winding]
    spots = sequencer.colours_at(photo, [centre(7), centre(14)], "target", marked=marked.tolist())
    for spot, true in zip(spots, PATCHES_LAB[[7, 14]], strict=True):
        assert ciede2000(spot.lab, true) < 2


def test_two_marked_corners_are_enough(photo: Path) -> None:
    four = sequencer.colours_at(photo, [centre(3)], "target", marked=CORNERS)
    two = sequencer.colours_at(photo, [centre(3)], "target", marked=[CORNERS[0], CORNERS[2]])
    assert two[0].lab == pytest.approx(four[0].lab, abs=1e-3)


def test_a_spoilt_patch_takes_no_part_when_it_is_left_out(tmp_path: Path) -> None:
    clean, glare = patches(), patches()
    for index in (6, 15):
        x, y = centre(index)
        glare[y - 40 : y + 40, x - 40 : x + 40] = 255
    paths = [tmp_path / "clean.png", tmp_path / "glare.png"]
    for path, picture in zip(paths, (clean, glare), strict=True):
        Image.fromarray(picture).save(path)
    at = [centre(k) for k in (0, 11, 14)]
    without = {"reference": "target", "marked": CORNERS, "without_patches": (7, 16)}
    one, other = (sequencer.colours_at(path, at, **without) for path in paths)
    for a, b in zip(one, other, strict=True):
        assert a.lab == pytest.approx(b.lab, abs=1e-3)
    with pytest.raises(PhotoError, match="does not show the 24 patches of a target"):
        sequencer.colours_at(paths[1], at, "target", marked=CORNERS)


def test_a_card_is_as_light_as_it_is_said_to_be(photo: Path) -> None:
    at = [centre(20)]
    x, y = centre(20)
    marked = [(x - 30, y - 30), (x + 30, y + 30)]
    for lightness in (40, 60.5):
        (spot,) = sequencer.colours_at(photo, at, f"grey={lightness}", marked=marked)
        assert spot.lab[0] == pytest.approx(lightness, abs=0.3)


@pytest.mark.parametrize("kind", ["sheet", "grey", "target"])
def test_what_a_simulated_photo_shows_is_within_its_uncertainty(tmp_path: Path, kind: str) -> None:
    within = []
    for seed in range(31, 43):
        scene = simulator.scene(seed, kind)
        path = tmp_path / f"{seed}.png"
        Image.fromarray(scene.pixels).save(path)
        at = [np.median(np.nonzero(one.mask)[::-1], axis=1) for one in scene.scraps]
        spots = sequencer.colours_at(path, at, kind, marked=scene.polygon.tolist(), radius=1)
        for spot, scrap in zip(spots, scene.scraps, strict=True):
            inks = [lab for lab, share in scrap.inks if share > 0]
            within.append(min(ciede2000(spot.lab, inks)) <= spot.uncertainty)
    assert np.mean(within) > 0.75


@pytest.mark.parametrize("reference", ["none", "target"])
def test_a_spot_that_is_blown_out_is_told_and_hardly_known(tmp_path: Path, reference: str) -> None:
    """Foliage under glare reads white: far off its own colour, and within what is stated."""
    from sequencer.photo.reference.patches import PATCHES_LAB

    picture = patches()
    x, y = centre(3)
    picture[y - 40 : y + 40, x - 40 : x + 40] = 255
    path = tmp_path / "glare.png"
    Image.fromarray(picture).save(path)
    asked = {"marked": CORNERS, "without_patches": (4,)} if reference == "target" else {}
    spots = sequencer.colours_at(path, [(x, y), centre(0)], reference, **asked)
    assert ciede2000(spots[0].lab, PATCHES_LAB[3]) > 30
    assert spots[0].uncertainty >= 40 > 2 * spots[1].uncertainty
    assert any(note.startswith(f"overexposed at {x},{y}: ") for note in spots.notes)
    assert not sequencer.colours_at(path, [centre(0)], "none").notes[1:]


def test_one_pixel_is_a_spot(photo: Path) -> None:
    picture = patches()
    picture[110, 110] = (250, 10, 10)
    Image.fromarray(picture).save(photo)
    at = [(110.5, 110.5), (0, 0), (720, 520)]
    one, corner, other = sequencer.colours_at(photo, at, "none", radius=0)
    assert one.lab == pytest.approx(srgb8_to_lab(np.array([250, 10, 10], np.uint8)), abs=0.01)
    assert corner.lab == pytest.approx(other.lab, abs=1e-4)


# ── refusals ──────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("asked", "text"),
    [
        ({"points": []}, "name at least one point"),
        ({"points": [(1, 2, 3)]}, "are not pairs of x and y"),
        ({"points": [(float("nan"), 2)]}, "name at least one point"),
        ({"without_patches": (25,)}, "a target has no patch 25"),
        ({"without_patches": (0,)}, "a target has no patch 0"),
        ({"without_patches": tuple(range(1, 14))}, "leave at least 12 patches"),
        ({"reference": "grey=0"}, "give the card's lightness as L*"),
        ({"reference": "grey=light"}, "give the card's lightness as L*"),
        ({"reference": "sheet=90"}, "reference 'sheet=90' is not known"),
        ({"reference": None}, "reference None is no text: use one of auto, sheet, grey"),
        ({"reference": "none", "marked": CORNERS}, "leave one of them out"),
        ({"radius": -1}, "radius -1 is not a number of pixels"),
        ({"radius": "wide"}, "radius wide is not a number of pixels"),
        ({"without_patches": 7}, "the patches 7 are not a list of whole numbers"),
        ({"reference": "none", "without_patches": (3,)}, "patches can only be left out"),
    ],
)
def test_what_cannot_be_understood_is_refused(photo: Path, asked: dict, text: str) -> None:
    with pytest.raises(UsageError, match=re.escape(text)):
        sequencer.colours_at(photo, **{"points": [(100, 100)], **asked})


def test_a_point_outside_the_photo_is_told(photo: Path) -> None:
    with pytest.raises(PhotoError, match=re.escape("the point 900,20 lies outside this photo of "
                                                   "720 × 520 pixels")):
        sequencer.colours_at(photo, [(900, 20)])


# ── the command ───────────────────────────────────────────────────────────────────────────


def test_the_command_speaks_the_contract(photo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = [f"{x},{y}" for x, y in (centre(0), centre(20))]
    marked = [f"{x},{y}" for x, y in CORNERS]
    code = main(["colour", str(photo), "--at", *at, "--reference", "target", "--marked", *marked,
                 "--without-patches", "4,5", "--radius", "6", "--json"])
    document = json.loads(capsys.readouterr().out)
    assert code == 0
    assert document["schema"] == "passalong.colours/1"
    assert (document["photo"], document["reference"], document["camera"]) == (
        "chart.png", "target", None)
    assert [point["at"] for point in document["points"]] == [list(centre(0)), list(centre(20))]
    assert all(len(p["lab"]) == 3 and p["uncertainty"] > 0 for p in document["points"])
    assert main(["colour", str(photo), "--at", "100,100", "--reference", "none"]) == 0
    assert "±ΔE00" in capsys.readouterr().out


@pytest.mark.parametrize(("typed", "text"), [
    (["--at", "-5,3"], "the point -5,3 lies outside this photo of 720 × 520 pixels"),
    (["--at", "100"], "'100' is not a point; write X,Y"),
    (["--at", "9,9", "--without-patches", "7,x"], "'7,x' is not a list of whole numbers"),
])
def test_what_is_mistyped_is_said(
    photo: Path, typed: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        code = main(["colour", str(photo), *typed])
    except SystemExit as stopped:
        code = int(str(stopped.code))
    assert code in (1, 2)
    assert text in capsys.readouterr().err
