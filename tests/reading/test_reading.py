"""From photographs to prints: ids, rejections, corrections, what a re-read keeps."""

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sequencer import read_photos
from sequencer.errors import NothingReadError, PhotoError, UsageError
from sequencer.models import Print
from sequencer.photo.files.load import Photo
from sequencer.photo.files.quality import check_quality
from sequencer.photo.finds.edits import Edit, numbered
from sequencer.photo.finds.scraps import as_scrap
from sequencer.photo.reference.patches import homography
from sequencer.reading.photos import photo_files, read
from tests.made import simulator
from tests.made.scenes import Scene, blurred, make_scene, single_print


@pytest.fixture(scope="module")
def made() -> Scene:
    return make_scene(8200, "grey", scraps=6, size=(1600, 1200), touching=0, near_table=0)


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory, made: Scene) -> Path:
    folder = tmp_path_factory.mktemp("box")
    made.jpeg(folder / "My table.jpg")
    Image.fromarray(single_print(1, (900, 700))).save(folder / "moss.png")
    Image.fromarray(single_print(4, (900, 700))).save(folder / "moss2.png")
    (folder / "letter.jpg").write_text("no picture")
    (folder / "make_it.py").write_text("print()")
    return folder


@pytest.fixture(scope="module")
def reading(box: Path):
    return read([box])


def test_ids_and_rejections(reading, made: Scene):
    ids = [one.id for one in reading.prints]
    assert ids[:2] == ["moss", "moss2"]
    assert ids[2:] == [f"My-table-{k}" for k in range(1, len(made.scraps) + 1)]
    assert [one.photo for one in reading.rejected] == ["letter.jpg"]
    assert "not a picture" in reading.rejected[0].why


def test_the_document(reading):
    data = json.loads(json.dumps(reading.to_json(), allow_nan=False))
    assert data["schema"] == "passalong.prints/1"
    keys = {"id", "name", "photo", "outline", "mean_lab", "palette", "value", "spread", "size_in",
            "reference", "uncertainty", "warnings"}
    for one in data["prints"]:
        assert keys <= set(one)
        assert sum(colour["share"] for colour in one["palette"]) == pytest.approx(1, abs=1e-4)
        shares = [colour["share"] for colour in one["palette"]]
        assert shares == sorted(shares, reverse=True)
        assert one["value"] == pytest.approx(one["mean_lab"][0], abs=1e-3)


def test_outlines_are_in_photo_pixels(reading, made: Scene):
    for one in reading.prints:
        if one.photo == "My table.jpg":
            x, y = np.array(one.outline).mean(axis=0)
            assert made.pieces[made.labels[int(y), int(x)] - 1].kind == "scrap"


def test_swatches_hold_the_print_upright_with_scale(reading):
    for one in reading.prints:
        swatch = one.swatch
        assert swatch is not None
        assert max(swatch.pixels.shape) <= 1000
        assert swatch.pixels.dtype == np.uint8
        if one.size_in is not None and swatch.ppi is not None:
            longest = max(swatch.pixels.shape[:2]) / swatch.ppi
            assert 0.7 * one.size_in[0] < longest <= 1.03 * one.size_in[0]


def test_same_files_same_prints(reading, box: Path):
    again = read([box])
    assert again.to_json() == reading.to_json()
    assert all(np.array_equal(a.swatch.pixels, b.swatch.pixels)
               for a, b in zip(again.prints, reading.prints, strict=True))


def test_progress_counts_every_photo_in_this_thread(box: Path):
    seen = []
    read([box / "moss.png", box / "letter.jpg"], progress=lambda *step: seen.append(step))
    assert [done for done, _, _ in seen] == [0, 1, 2]
    assert all(total == 2 for _, total, _ in seen)


def test_public_call(box: Path):
    prints = read_photos([box / "moss.png"], shows="one", reference="none")
    assert [one.id for one in prints] == ["moss"]
    assert prints[0].reference == "none"
    assert prints[0].size_in is None


def test_a_marked_scale_gives_spread(box: Path):
    (one,) = read([box / "moss.png"], scale="3in=450", strip=Fraction(1, 2)).prints
    assert one.spread is not None
    assert one.swatch is not None
    assert one.swatch.ppi == pytest.approx(150, rel=0.02)


def test_same_stems_get_letters(tmp_path: Path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        Image.fromarray(single_print(1, (400, 300))).save(tmp_path / folder / "Moss, old=1.png")
    Image.fromarray(single_print(1, (400, 300))).save(tmp_path / "--open.png")
    ids = [one.id for one in read([tmp_path / "a", tmp_path / "b", tmp_path]).prints]
    assert ids == ["Moss-old-1", "Moss-old-1-b", "open"]


def test_folders_stand_for_their_photos_in_natural_order(tmp_path: Path):
    for name in ("img10.jpg", "img2.jpg", "notes.txt", ".hidden.jpg", "IMG1.JPG"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "folder.jpg").mkdir()
    names = [path.name for path in photo_files([tmp_path, tmp_path / "img2.jpg"])]
    assert names == ["IMG1.JPG", "img2.jpg", "img10.jpg"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(NothingReadError, match="holds no photographs"):
        photo_files([tmp_path / "empty"])
    with pytest.raises(NothingReadError, match="no photographs were given"):
        photo_files([])


def test_nothing_read_names_every_reason(box: Path):
    words = r"none of the 2 .*\n.*letter.jpg: not a picture.*\n.*gone.jpg: no such file"
    with pytest.raises(NothingReadError, match=words) as caught:
        read([box / "letter.jpg", box / "gone.jpg"])
    assert [photo for photo, _ in caught.value.rejected] == ["letter.jpg", "gone.jpg"]


@pytest.mark.parametrize(("what", "wrong"), [
    ("shows", "some"), ("reference", "sun"), ("scale", "big"),
])  # fmt: skip
def test_arguments_are_checked_before_any_photo(what: str, wrong: str):
    with pytest.raises(UsageError, match=f"{what} '{wrong}' is not known: use "):
        read(["gone.jpg"], **{what: wrong})


# ── corrections ───────────────────────────────────────────────────────────────────────────


def scraps():
    return [as_scrap(np.ones((40, 60), bool), (x, 20), (200, 400)) for x in (10, 100, 200)]


def edit(op: str, *which: int, line=()) -> Edit:
    outlines = tuple(tuple(map(tuple, scraps()[k].outline * 2)) for k in which)
    return Edit(op, "t.jpg", outlines, line)


def test_numbers_never_move_to_another_scrap():
    left, lost = numbered(scraps(), [edit("drop", 1)], 2.0, (200, 400))
    assert [(one.number, one.scrap.corner[0]) for one in left] == [(1, 10), (3, 200)]
    assert lost == ()


def test_merge_split_and_redraw():
    merged, _ = numbered(scraps(), [edit("merge", 0, 1)], 2.0, (200, 400))
    assert [one.number for one in merged] == [1, 3]
    assert merged[0].scrap.area == pytest.approx(150 * 40, rel=0.03)
    cut = edit("split", 1, line=((260.0, 0.0), (260.0, 200.0)))
    parts, _ = numbered(scraps(), [cut], 2.0, (200, 400))
    assert [one.number for one in parts] == [1, 2, 3, 4]
    assert sorted(one.scrap.area for one in parts if one.number in (2, 4)) == [1200, 1200]
    shape = ((240.0, 60.0), (300.0, 60.0), (300.0, 90.0), (240.0, 90.0))
    drawn, _ = numbered(scraps(), [edit("redraw", 1, line=shape)], 2.0, (200, 400))
    assert [one.number for one in drawn] == [1, 2, 3]
    assert drawn[1].scrap.area == pytest.approx(30 * 15, rel=0.05)
    added, _ = numbered(scraps(), [Edit("redraw", "t.jpg", (), shape)], 2.0, (200, 400))
    assert [one.number for one in added] == [1, 2, 3, 4]


def test_a_correction_whose_scrap_is_gone_says_so():
    gone = Edit("drop", "t.jpg", (((700.0, 300.0), (760.0, 300.0), (760.0, 390.0)),))
    left, lost = numbered(scraps(), [gone], 2.0, (200, 400))
    assert len(left) == 3
    assert "no longer finds its scrap" in lost[0]


def test_corrections_survive_json_and_refuse_nonsense():
    one = edit("split", 1, line=((1.0, 2.0), (3.0, 4.0)))
    assert Edit.from_json(json.loads(json.dumps(one.to_json()))) == one
    for words, wrong in {
        "'paint' is no correction": {"op": "paint", "photo": "a"},
        "to drop takes at least 1": {"op": "drop", "photo": "a"},
        "cannot be understood: {'op': 'drop'}": {"op": "drop"},
        "to split takes at least 2 points":
            {"op": "split", "photo": "a", "outlines": [[[0, 0]]], "line": [[1, 2]]},
        "cannot be understood: {'op': 'merge'": {"op": "merge", "photo": "a", "outlines": 3},
    }.items():  # fmt: skip
        with pytest.raises(UsageError, match=words):
            Edit.from_json(wrong)


def test_a_correction_survives_a_reread(reading, box: Path):
    table = [one for one in reading.prints if one.photo == "My table.jpg"]
    drop = Edit("drop", "My table.jpg", (table[1].outline,))
    again = read([box], edits=[drop.to_json()])
    assert [one.id for one in again.prints if one.photo == "My table.jpg"] == [
        one.id for one in table if one is not table[1]]


# ── poor photographs ──────────────────────────────────────────────────────────────────────


def as_photo(picture: np.ndarray) -> Photo:
    return Photo("p.jpg", "p", picture, picture.shape[1::-1])


def test_hopeless_photos_are_refused():
    dark = (single_print(1, (400, 300)) * 0.05).astype(np.uint8)
    with pytest.raises(PhotoError, match="nearly black"):
        check_quality(as_photo(dark))
    with pytest.raises(PhotoError, match="overexposed"):
        check_quality(as_photo(np.full((300, 400, 3), 254, np.uint8)))


def test_poor_photos_are_warned_of():
    picture = single_print(6, (1000, 750))
    for seed in (1, 2, 6):  # soft figures, small figures, hard edges: none is a blurred photo
        assert check_quality(as_photo(single_print(seed, (1000, 750)))) == ()
    assert "blurred" in check_quality(as_photo(blurred(picture, 8)))[0]
    assert "very dark" in check_quality(as_photo((picture * 0.2).astype(np.uint8)))[0]
    assert "200 × 150" in check_quality(as_photo(picture[:150, :200]))[0]


# ── photos that borrow each other's standard ──────────────────────────────────────────────


def test_an_agreement_moves_everything_that_has_colour(box: Path, monkeypatch):
    from sequencer.colour import ciede2000, srgb8_to_lab
    from sequencer.photo.agreement.agree import Agreement
    from sequencer.reading import photos as road

    (plain,) = read([box / "moss.png"]).prints
    darker = Agreement("moss.png", 0.8 * np.eye(3), 7.5, "table.jpg", ("brought to table.jpg",))
    monkeypatch.setattr(road, "agree", lambda photos, textures: (darker,))
    (moved,) = read([box / "moss.png"]).prints
    right = darker.moved(np.array(plain.mean_lab))
    assert ciede2000(moved.mean_lab, right) < 1e-6
    assert moved.value < plain.value - 3
    assert moved.palette[0].lab[0] < plain.palette[0].lab[0]
    assert (moved.uncertainty, moved.warnings[-1]) == (7.5, "brought to table.jpg")
    seen = srgb8_to_lab(moved.swatch.pixels).mean(axis=(0, 1))[0]
    assert seen < srgb8_to_lab(plain.swatch.pixels).mean(axis=(0, 1))[0] - 3


def test_a_sheet_is_no_scrap_even_when_not_asked_for(box: Path, made: Scene):
    prints = read([box / "My table.jpg"], reference="none").prints
    assert len(prints) == len(made.scraps)
    assert {one.reference for one in prints} == {"none"}


# ── a marked reference, a ragged scrap ────────────────────────────────────────────────────

WARM_GREY = (132, 120, 104)


@pytest.fixture(scope="module")
def marked_table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """On a green table, 100 pixels an inch: a warm grey card, two scraps of that grey, a trapezoid.

    At full size the picture is twice that, so that marking has to be brought to analysis pixels.
    """
    from PIL import ImageDraw

    image = Image.new("RGB", (1600, 1200), (60, 110, 70))
    draw = ImageDraw.Draw(image)
    draw.rectangle((100, 100, 399, 299), fill=WARM_GREY)
    draw.rectangle((600, 100, 1099, 399), fill=WARM_GREY)
    draw.polygon([(200, 900), (800, 900), (700, 600), (300, 600)], fill=(180, 60, 50))
    noisy = np.asarray(image) + np.random.default_rng(4).normal(0, 2, (1200, 1600, 1))
    path = tmp_path_factory.mktemp("marked") / "marked.png"
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).resize((3200, 2400)).save(path)
    return path


@pytest.mark.parametrize("corners", [
    [[220, 220], [780, 580]],
    [[220, 220], [780, 220], [780, 580], [220, 580]],
])  # fmt: skip
def test_a_marked_card_is_the_reference(marked_table: Path, corners: list[list[float]]):
    prints = read([marked_table], reference="grey", marked=corners).prints
    assert {one.reference for one in prints} == {"grey"}
    same = min(prints, key=lambda one: np.hypot(*one.mean_lab[1:]))
    assert np.hypot(*same.mean_lab[1:]) < 1.5  # cloth of the card's colour is neutral
    assert abs(same.mean_lab[0] - 49.5) < 2  # a grey card reflects 18 %: L* 49.5 (CIE 15)
    assert not any(one.outline[0][0] < 800 and one.outline[0][1] < 600 for one in prints)


@pytest.mark.parametrize(("corners", "how", "words"), [
    ([[1, 2]], {}, "two opposite corners"), ([[1, 2], [3, 4], [5, 6]], {}, "two opposite corners"),
    ([["a", 1], [2, 3]], {}, "are not pairs of x and y"), (7, {}, "7 are not pairs of x and y"),
    ([[0, 0], [float("nan"), 9]], {}, "two opposite corners"),
    ([[0, 0], [90, 90]], {"reference": "none"}, "'none' was asked for"),
])  # fmt: skip
def test_a_marking_that_is_none_is_refused(marked_table: Path, corners, how, words):
    with pytest.raises(UsageError, match=words):
        read([marked_table], marked=corners, **how)


def test_a_spoilt_patch_may_be_left_out(tmp_path: Path):
    """Two patches under glare spoil a target, and are as if never seen when they are named."""
    scene = simulator.scene(9, "target", size=(960, 720))
    clean, glare = tmp_path / "clean.png", tmp_path / "glare.png"
    corners = scene.polygon
    assert corners is not None
    Image.fromarray(scene.pixels).save(clean)
    picture = scene.pixels.copy()
    cells = homography(np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), corners)
    for column, row in ((0.5, 1.5), (3.5, 2.5)):  # patches 7 and 16
        x, y, w = cells @ [column, row, 1]
        at, reach = (int(x / w), int(y / w)), int(np.linalg.norm(corners[1] - corners[0]) / 16)
        picture[at[1] - reach:at[1] + reach, at[0] - reach:at[0] + reach] = 255
    Image.fromarray(picture).save(glare)
    asked = {"reference": "target", "marked": corners.tolist(), "shows": "many"}
    plain, whole = (read([path], without_patches=(7, 16), **asked).prints
                    for path in (clean, glare))  # fmt: skip
    assert len(plain) == len(whole) > 2
    for one, other in zip(plain, whole, strict=True):
        assert one.reference == other.reference == "target"
        assert one.mean_lab == pytest.approx(other.mean_lab, abs=0.2)
    with pytest.raises(NothingReadError, match="does not show the 24 patches"):
        read([glare], **asked)
    with pytest.raises(UsageError, match="a target has no patch 25"):
        read([clean], without_patches=(25,), **asked)


def test_a_marking_beyond_the_photo_is_refused(marked_table: Path):
    with pytest.raises(NothingReadError, match="beyond this photo of 3200 × 2400"):
        read([marked_table], marked=[[3000, 2000], [4000, 2300]])


def test_a_ragged_scrap_tells_the_rectangle_it_holds(marked_table: Path):
    prints = read([marked_table], reference="none", scale="1in=200").prints
    trapezoid = max(prints, key=lambda one: one.mean_lab[1])
    # Sides 6 and 4 in, 3 in high: the rectangle below the shorter side is the largest (calculus).
    assert trapezoid.usable_in == pytest.approx((4, 3), abs=0.12)
    assert trapezoid.cuttable_in == trapezoid.usable_in
    assert any("ragged" in warning for warning in trapezoid.warnings)
    assert trapezoid.to_json()["usable_in"] == pytest.approx([4, 3], abs=0.12)
    straight = [one for one in prints if one is not trapezoid]
    assert straight
    assert all(one.usable_in is None for one in straight)
    assert all(one.cuttable_in == one.size_in for one in straight)


def _pale_thing(path: Path, weave: float) -> tuple[int, int]:
    """A table with four coloured scraps and a pale thing, a sheet by all signs but for its weave;
    its middle."""
    from tests.photo.test_evidence import picture

    Image.fromarray(picture((0.85, 0.8, 0.7), weave)).save(path)
    return 340, 230


def _lies_at(one: Print, middle: tuple[int, int]) -> bool:
    return float(np.hypot(*(np.mean(one.outline, axis=0) - middle))) < 30


def test_a_pale_scrap_taken_for_a_sheet_is_a_scrap_by_the_word_that_is_told(tmp_path: Path):
    middle = _pale_thing(tmp_path / "table.png", 0.03)
    taken = read([tmp_path / "table.png"], shows="many").prints
    told = next(one for one in taken[0].warnings if "was taken for a white sheet" in one)
    assert told.endswith("if it is a pale scrap, give the reference as none")
    assert not any(_lies_at(one, middle) for one in taken)
    given = read([tmp_path / "table.png"], shows="many", reference="none").prints
    assert sum(_lies_at(one, middle) for one in given) == 1


def test_a_plain_sheet_that_is_not_asked_for_is_no_scrap_and_that_is_told(tmp_path: Path):
    middle = _pale_thing(tmp_path / "table.png", 0.0)
    prints = read([tmp_path / "table.png"], shows="many", reference="none").prints
    assert len(prints) == 4
    assert not any(_lies_at(one, middle) for one in prints)
    for one in prints:
        assert sum("add FOLDER table.png --outline" in note for note in one.warnings) == 1
    asked = read([tmp_path / "table.png"], shows="many", reference="sheet").prints
    assert not any("so it is no scrap" in note for one in asked for note in one.warnings)
