"""Cameras taught from targets: what is learnt, when it is used, and that it never does harm."""

import json
from pathlib import Path

import numpy as np
import pytest
from passalong.main import main
from PIL import Image

import sequencer
from sequencer.colour import ciede2000, lab_to_xyz, linear_to_srgb, xyz_to_linear
from sequencer.errors import PhotoError, UsageError, WorkError
from sequencer.photo.colour.correct import correct
from sequencer.photo.colour.shoulder import USUAL, Shoulder
from sequencer.photo.colour.taught import GENERAL, Camera, Lesson, expected_of, lesson_from
from sequencer.photo.files.load import Photo
from sequencer.photo.reference.patches import PATCHES_LAB
from sequencer.photo.reference.reference import Reference
from sequencer.reading import cameras
from tests.made.responses import Response

MAKE, MODEL, LENS = 271, 272, 42036
CORNERS = [(60, 60), (660, 60), (660, 460), (60, 460)]
STEEP = Response(1.85, 8.0, 0.0)  # as far from the general camera as any measured


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "APPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / "user"))


def encoded(
    response: Response = STEEP, gains: tuple[float, ...] = (1, 1, 1), shown: float = 0.8
) -> np.ndarray:
    """The target's patches, (24, 3), through a camera; its white shows as ``shown``."""
    linear = np.maximum(xyz_to_linear(lab_to_xyz(PATCHES_LAB)), 1e-3) * gains
    return linear_to_srgb(response(linear / linear[18].max() * response.reached(shown)))


def photo(path: Path, *seen: object, made: tuple[str, str] = ("Loom", "Bobbin 3")) -> Path:
    picture = np.full((520, 720, 3), 40, np.uint8)
    for index, colour in enumerate(encoded(*seen)):  # type: ignore[arg-type]
        row, column = divmod(index, 6)
        top, left = 60 + row * 100, 60 + column * 100
        picture[top + 10 : top + 90, left + 10 : left + 90] = np.rint(colour * 255)
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = made
    Image.fromarray(picture).save(path, exif=exif)
    return path


def centre(index: int) -> tuple[int, int]:
    row, column = divmod(index, 6)
    return 110 + column * 100, 110 + row * 100


def errors_by_card(path: Path, camera: str) -> np.ndarray:
    x, y = centre(21)
    spots = sequencer.colours_at(
        path, [centre(k) for k in range(18)], f"grey={PATCHES_LAB[21, 0]}", camera=camera,
        marked=[(x - 30, y - 30), (x + 30, y + 30)],
    )
    return ciede2000(np.array([spot.lab for spot in spots]), PATCHES_LAB[:18])


def test_a_taught_camera_is_read_better_and_known_again(tmp_path: Path) -> None:
    camera, notes = cameras.learn(photo(tmp_path / "lesson.png"), "my phone", CORNERS)
    assert camera.taken_by == ("Loom", "Bobbin 3", "")
    assert "1 of 3 lessons" in notes[0]
    other = photo(tmp_path / "other.png", STEEP, (1.02, 1, 0.98), 0.78)
    untaught, known, named = (
        errors_by_card(other, which) for which in ("none", "auto", "My Phone")
    )
    assert np.median(known) < 0.8 * np.median(untaught)
    assert known == pytest.approx(named)
    for shown in (0.7, 0.9):
        again = photo(tmp_path / "again.png", STEEP, (1, 1, 1), shown)
        camera, notes = cameras.learn(again, "my phone", CORNERS)
    assert len(camera.lessons) == 3
    assert not notes
    assert np.median(errors_by_card(other, "auto")) < 0.6 * np.median(untaught)


def test_a_response_flatter_than_any_cameras_is_the_scenes_own() -> None:
    """Flare lightens shadows in one photo: nothing of it is carried to the next."""
    flat = Response(0.65, 2.0, 0.06)
    lesson = lesson_from(encoded(flat), np.ones(24))
    usual = np.log([USUAL.power, USUAL.knee])
    assert (((np.array(lesson.response) - usual) / [0.12, 0.55]) ** 2).sum() > 9.21
    camera = Camera("phone", ("", "", ""), (lesson,))
    assert expected_of(camera) is GENERAL
    kept = expected_of(camera, encoded(flat)[21], 0.19).shoulder
    assert (kept.power, kept.knee) == pytest.approx((USUAL.power, USUAL.knee))


def test_without_reference_an_unsteady_camera_is_read_as_untaught(tmp_path: Path) -> None:
    """Its lessons are alike what scenes scatter by: they say nothing of the next scene's gains."""
    for shown in (0.6, 0.75, 0.9):
        lesson = photo(tmp_path / "l.png", Response(1.35, 0.7, 0.0), (1, 1, 1), shown)
        cameras.learn(lesson, "my phone", CORNERS)
    other = photo(tmp_path / "other.png", Response(1.3, 0.5, 0.0), (1.1, 1, 0.9), 0.5)
    at = [centre(k) for k in range(18)]
    taught, plain = (
        sequencer.colours_at(other, at, "none", camera=one) for one in ("auto", "none")
    )
    assert [one.lab for one in taught] == [one.lab for one in plain]
    assert taught.camera is None
    assert not any("taught as" in note for note in taught.notes)


def test_a_camera_of_another_model_is_left_alone(tmp_path: Path) -> None:
    cameras.learn(photo(tmp_path / "lesson.png"), "my phone", CORNERS)
    other = photo(tmp_path / "other.png", made=("Loom", "Bobbin 4"))
    assert errors_by_card(other, "auto") == pytest.approx(errors_by_card(other, "none"))


def test_one_lesson_under_another_light_does_little() -> None:
    """It is shrunk towards the general camera; under its own light it counts a half."""
    lesson = lesson_from(encoded(gains=(1.6, 1, 0.5)), np.ones(24))
    camera = Camera("phone", ("", "", ""), (lesson,))
    here = encoded(gains=(1.6, 1, 0.5))[21]
    far = encoded(gains=(0.7, 1, 1.4))[21]
    assert expected_of(camera, here, 0.19).share == pytest.approx(1 / 2, abs=0.05)
    assert expected_of(camera, far, 0.19).share < 0.05


def test_a_response_no_further_off_than_scenes_scatter_is_not_believed() -> None:
    """A phone maps tones anew for each scene: only a camera that stands out keeps its curve."""
    def taught(response: Response) -> Shoulder:
        lessons = tuple(lesson_from(encoded(response, shown=shown), np.ones(24))
                        for shown in (0.6, 0.75, 0.9))
        return expected_of(Camera("phone", ("", "", ""), lessons)).shoulder

    usual = taught(Response(1.35, 0.7, 0.0))
    assert (usual.power, usual.knee) == pytest.approx((USUAL.power, USUAL.knee))
    assert taught(STEEP).power > 1.5


def test_a_lesson_of_a_dark_photo_holds_only_what_lifting_leaves() -> None:
    plain, lifted = (lesson_from(encoded(), np.ones(24), lift) for lift in (1.0, 1.5))
    assert np.subtract(plain.gains, lifted.gains) == pytest.approx(np.full(3, np.log(1.5)))
    assert plain.misfit == lifted.misfit


def test_what_is_learnt_comes_back() -> None:
    """Through a known response; what is left is that phones mix channels and luminance."""
    lesson = lesson_from(encoded(), np.ones(24))
    assert lesson.misfit < 4
    assert np.exp(lesson.response[1]) > 2  # nearly no shoulder
    assert Lesson.from_json(json.loads(json.dumps(lesson.to_json()))) == lesson
    hidden = encoded()
    hidden[[3, 8]] = np.nan
    assert lesson_from(hidden, np.ones(24)).misfit == pytest.approx(lesson.misfit, abs=0.3)


def test_without_reference_the_cameras_own_gains_serve(tmp_path: Path) -> None:
    cameras.learn(photo(tmp_path / "lesson.png"), "my phone", CORNERS)
    other = photo(tmp_path / "other.png", STEEP, (1, 1, 1), 0.75)
    at = [centre(k) for k in range(18)]
    taught, plain = (
        sequencer.colours_at(other, at, "none", camera=one) for one in ("auto", "none")
    )
    off = [np.median(ciede2000(np.array([s.lab for s in one]), PATCHES_LAB[:18]))
           for one in (taught, plain)]
    assert off[0] < 0.7 * off[1]
    assert taught[0].uncertainty < plain[0].uncertainty


def test_a_target_needs_no_lesson() -> None:
    picture = Photo("a.jpg", "a", np.full((60, 60, 3), 120, np.uint8), (60, 60))
    target = Reference("target", np.zeros((4, 2)), encoded(), np.full((24, 2), 30.0))
    camera = Camera("phone", ("", "", ""), (lesson_from(encoded(), np.ones(24)),))
    one, other = correct(picture, target), correct(picture, target, camera=camera)
    assert one.profile.matrix == pytest.approx(other.profile.matrix)
    assert not any("phone" in note for note in other.warnings)


def test_the_command_learns_lists_and_forgets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lesson = str(photo(tmp_path / "lesson.png"))
    corners = [f"{x},{y}" for x, y in CORNERS]
    assert main(["camera", "list"]) == 0
    assert "no camera was taught so far" in capsys.readouterr().out
    assert main(["camera", "learn", lesson, "--name", "my phone", "--marked", *corners]) == 0
    assert "Loom Bobbin 3" in capsys.readouterr().out
    assert main(["camera", "learn", lesson, "--name", "MY PHONE", "--marked", *corners]) == 0
    capsys.readouterr()
    assert main(["camera", "list", "--json"]) == 0
    (listed,) = json.loads(capsys.readouterr().out)["cameras"]
    assert (listed["name"], len(listed["lessons"])) == ("my phone", 1)  # the same lesson once
    at = ["--at", "110,110", "--json"]
    assert main(["colour", lesson, *at, "--reference", "none"]) == 0
    assert json.loads(capsys.readouterr().out)["camera"] == "my phone"
    assert main(["camera", "forget", "my phone"]) == 0
    capsys.readouterr()
    assert main(["camera", "forget", "my phone"]) == 2
    assert "no camera was taught under the name 'my phone'" in capsys.readouterr().err
    assert main(["camera", "learn", lesson]) == 2


@pytest.mark.parametrize(("name", "text"), [
    ("", "cannot be a camera's name"), ("auto", "cannot be a camera's name"),
    ("x" * 61, "cannot be a camera's name"), ("a\x07b", "cannot be a camera's name"),
])  # fmt: skip
def test_names_that_cannot_be_are_refused(tmp_path: Path, name: str, text: str) -> None:
    with pytest.raises(UsageError, match=text):
        cameras.learn(photo(tmp_path / "lesson.png"), name, CORNERS)


def test_refusals_say_what_to_do(tmp_path: Path) -> None:
    lesson = photo(tmp_path / "lesson.png")
    cameras.learn(lesson, "my phone", CORNERS)
    other = photo(tmp_path / "other.png", made=("Loom", "Bobbin 4"))
    with pytest.raises(UsageError, match="was taught from photos by Loom Bobbin 3"):
        cameras.learn(other, "my phone", CORNERS)
    plain = tmp_path / "plain.png"
    Image.new("RGB", (300, 300), (120, 130, 140)).save(plain)
    with pytest.raises(PhotoError, match="no target was found"):
        cameras.learn(plain, "my phone")
    with pytest.raises(UsageError, match="no camera was taught under the name 'her phone'"):
        sequencer.colours_at(lesson, [(100, 100)], "none", camera="her phone")


def test_a_damaged_file_is_told_and_left(tmp_path: Path) -> None:
    cameras.learn(photo(tmp_path / "lesson.png"), "my phone", CORNERS)
    kept = cameras._file()
    assert str(kept).startswith(str(tmp_path))
    kept.write_text('{"schema": "passalong.cameras/1", "cameras": [{"name": 3}]}')
    with pytest.raises(WorkError, match="the taught cameras cannot be read"):
        cameras.taught()
    assert kept.exists()


def test_a_piece_keeps_the_camera_it_was_read_by(tmp_path: Path) -> None:
    from sequencer import intake
    from sequencer.piece import load

    cameras.learn(photo(tmp_path / "lesson.png"), "my phone", CORNERS)
    cloth = tmp_path / "cloth.png"
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = "Loom", "Bobbin 3"
    rng = np.random.default_rng(3)
    pixels = np.clip(rng.normal((150, 90, 60), 12, (300, 400, 3)), 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(cloth, exif=exif)
    intake.read_into(tmp_path / "box", [cloth], {"shows": "one"})
    piece = load(tmp_path / "box")
    assert list(piece.cameras) == ["my phone"]
    cameras.forget("my phone")
    (one,) = load(tmp_path / "box").prints
    assert any("taught as 'my phone'" in warning for warning in one.warnings)
