"""Photographs into the piece: by content, whatever their names and places are."""

import os
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sequencer import corrections
from sequencer.errors import NothingReadError, PieceError
from sequencer.intake import read_into
from sequencer.piece import load
from tests.made.pieces import PHOTOS, old_piece, piece_json
from tests.made.small_box import BOX, cloth, ids, table


def test_a_moved_photo_keeps_its_prints(box: Path, photos: Path, tmp_path: Path, counted):
    (photos / "moss.jpg").rename(tmp_path / "elsewhere.jpg")
    read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {})
    assert ids(box) == [*BOX, "new"]
    assert counted == ["new.jpg"]
    read_into(box, [tmp_path / "elsewhere.jpg"], {})
    assert ids(box) == [*BOX, "new"]


def test_reading_again_brings_back_a_spoiled_swatch(box: Path, photos: Path, counted):
    """As the message about it advises; photos whose cloth is sound are not read."""
    before = load(box).prints
    assert before[0].swatch is not None
    pixels, path = before[0].swatch.pixels, before[0].swatch.source
    assert isinstance(path, Path)
    for spoil in (lambda: path.write_bytes(b""), path.unlink):
        spoil()
        counted.clear()
        read_into(box, [photos], {})
        assert counted == ["moss.jpg"]
        assert ids(box) == BOX
        assert path.read_bytes()
    assert np.array_equal(load(box).prints[0].swatch.pixels, pixels)


def test_photos_of_one_name_are_told_apart(tmp_path: Path, counted):
    first = cloth(tmp_path / "a" / "image.jpg", (70, 95, 50), 1)
    second = cloth(tmp_path / "b" / "image.jpg", (200, 180, 130), 2)
    box = tmp_path / "box"
    read_into(box, [first, second], {})
    assert ids(box) == ["image", "image-b"]
    dark, light = load(box).prints
    assert dark.value < 50 < light.value
    corrections.redraw(box, "image", ((0, 0), (200, 0), (200, 150), (0, 150)))
    assert counted == ["image.jpg"] * 3
    changed, same = load(box).prints
    assert changed.outline != dark.outline
    assert (same.id, same.mean_lab, same.outline) == ("image-b", light.mean_lab, light.outline)
    first.unlink()
    read_into(box, [second], {})
    assert [(one.id, one.value > 50) for one in load(box).prints] == [
        ("image", False), ("image-b", True)]


def test_a_folder_that_is_moved_goes_on_working(box: Path, photos: Path, tmp_path: Path):
    shutil.rmtree(photos)
    elsewhere = tmp_path / "elsewhere" / "piece"
    elsewhere.parent.mkdir()
    shutil.copytree(box, elsewhere)
    shutil.rmtree(box)
    corrections.merge(elsewhere, ["table-1", "table-2"])
    assert ids(elsewhere) == ["moss", "sand", "table-1", "table-3"]
    assert all(one.swatch.pixels.size for one in load(elsewhere).prints if one.swatch)


def test_originals_are_kept_as_second_names_or_copies(box: Path, photos: Path, monkeypatch,
                                                      tmp_path: Path):
    kept = [box / photo.file for photo in load(box).photos if photo.file]
    assert [path.parent.name for path in kept] == ["photos"] * 3
    assert os.path.samefile(kept[0], photos / "moss.jpg")

    def refuse(*args, **kwargs):
        raise OSError(18, "Invalid cross-device link")

    monkeypatch.setattr(os, "link", refuse)
    other = tmp_path / "copied"
    read_into(other, [photos / "moss.jpg"], {})
    copy = other / str(load(other).photos[0].file)
    assert copy.read_bytes() == (photos / "moss.jpg").read_bytes()
    assert not os.path.samefile(copy, photos / "moss.jpg")


def test_without_copies_missing_files_are_told(tmp_path: Path, photos: Path):
    box = tmp_path / "box"
    read_into(box, [photos], {}, copy=False)
    assert not (box / "photos").exists()
    (photos / "table.jpg").unlink()
    assert ids(box) == BOX
    with pytest.raises(PieceError, match=r"table\.jpg: the photograph is no longer there"):
        corrections.merge(box, ["table-1", "table-2"])
    assert ids(box) == BOX


def test_the_same_bytes_given_twice_are_two_photos_and_stay_two(tmp_path: Path):
    moss = cloth(tmp_path / "moss.jpg", (70, 95, 50), 1)
    twin = tmp_path / "twin.jpg"
    twin.write_bytes(moss.read_bytes())
    box = tmp_path / "box"
    for _ in range(2):
        read_into(box, [moss, twin], {})
        assert ids(box) == ["moss", "twin"]


def test_a_name_that_is_not_utf_8_is_handled_and_the_rest_read(tmp_path: Path, photos: Path):
    odd = os.fsencode(photos) + b"/caf\xe9\x1b[31m.jpg"
    try:
        with open(odd, "wb") as file:
            file.write(cloth(tmp_path / "x.jpg", (80, 45, 75), 3).read_bytes())
    except OSError:
        pytest.skip("this disk takes no such names")
    piece = read_into(tmp_path / "box", [photos], {})
    assert len(piece.prints) == 6
    name = next(photo.name for photo in piece.photos if photo.name.startswith("caf"))
    assert name == "caf��[31m.jpg"


def test_nothing_usable_changes_nothing(box: Path, tmp_path: Path):
    before = (box / "piece.json").read_bytes()
    (tmp_path / "note.jpg").write_text("no picture")
    with pytest.raises(NothingReadError, match=r"note\.jpg: not a picture"):
        read_into(box, [tmp_path / "note.jpg"], {})
    assert (box / "piece.json").read_bytes() == before
    with pytest.raises(NothingReadError, match="no such file"):
        read_into(tmp_path / "none", [tmp_path / "gone.jpg"], {})
    assert not (tmp_path / "none").exists()


def test_a_piece_of_version_1_goes_on_with_its_photos(tmp_path: Path, counted):
    shutil.copytree(PHOTOS, tmp_path / "photos")
    box = old_piece(tmp_path / "box", tmp_path / "photos")
    before = {one.id: one for one in load(box).prints}
    corrections.merge(box, ["table-1", "table-3"])
    assert counted == ["table.jpg"]
    after = {one.id: one for one in load(box).prints}
    assert list(after) == ["moss", "moss-b", "reed", "table-1", "table-2", "table-4"]
    assert after["moss"] == before["moss"]
    assert after["table-1"].name == "clay"
    assert all(str(photo.file).startswith("photos/") for photo in load(box).photos)
    assert piece_json(box)["schema"] == "passalong.piece/2"


def test_photos_lost_by_version_1_are_found_again_by_name(tmp_path: Path, counted):
    """They were known by their place alone; read from where they lie today they are the same."""
    box = old_piece(tmp_path / "box")
    corrections.rename(box, {"table-2": "dusk"})
    before = [(one.id, one.name) for one in load(box).prints]
    with pytest.raises(PieceError, match=r"table\.jpg: the photograph is no longer there"):
        corrections.merge(box, ["table-1", "dusk"])
    for _ in range(2):
        read_into(box, [PHOTOS / "table.jpg", PHOTOS / "reed.jpg"], {"scale": "2in=150"})
        assert [(one.id, one.name) for one in load(box).prints] == before
    assert sorted(counted) == ["reed.jpg", "table.jpg"]
    corrections.merge(box, ["table-1", "dusk"])
    assert "table-2" not in ids(box)


def test_a_photo_of_the_piece_can_be_called_by_its_name(box: Path, photos: Path, counted):
    shutil.rmtree(photos)
    read_into(box, [Path("table.jpg")], {"scale": "2in=140"})
    assert counted == ["table.jpg"]
    assert ids(box) == BOX
    assert load(box).print_of("table-1").size_in is not None


def test_pictures_of_our_own_are_no_photographs(photos: Path):
    """`make PHOTOS --out PHOTOS` twice must not read the preview as a print."""
    read_into(photos, [photos], {})
    Image.new("RGB", (300, 200), (90, 20, 20)).save(photos / "preview.png")
    read_into(photos, [photos], {})
    assert ids(photos) == BOX


def test_a_kept_photo_that_was_changed_in_place_is_told_not_read(box: Path, counted):
    """A second name of a file shows what another program does to that file."""
    photo = next(one for one in load(box).photos if one.name == "table.jpg")
    table(box / str(photo.file)).write_bytes(b"another picture by now")
    with pytest.raises(PieceError, match=r"is no longer there, or is another by now \(photos/"):
        corrections.merge(box, ["table-1", "table-2"])
    assert counted == []
    assert ids(box) == BOX
