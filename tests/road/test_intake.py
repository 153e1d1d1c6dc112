"""Photographs into the piece: by content, only what changed is read, joined with others' work."""

import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sequencer import corrections
from sequencer.errors import NothingReadError, PieceError, UsageError
from sequencer.intake import needed, read_into
from sequencer.intake.places import overlap
from sequencer.piece import change, load, redo, undo
from tests.made.pieces import PHOTOS, old_piece, piece_json


def cloth(path: Path, colour, seed: int = 0) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    noise = np.random.default_rng(seed).normal(0, 6, (200, 260, 1))
    pixels = np.clip(np.array(colour) + noise, 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(path, quality=90)
    return path


def table(path: Path) -> Path:
    """Three red, blue and green scraps on grey, 640 × 480."""
    image = Image.new("RGB", (640, 480), (60, 60, 66))
    draw = ImageDraw.Draw(image)
    for x, colour in ((40, (180, 60, 50)), (250, (60, 90, 160)), (460, (90, 140, 80))):
        draw.rectangle((x, 100, x + 139, 299), fill=colour)
    noisy = np.asarray(image) + np.random.default_rng(4).normal(0, 3, (480, 640, 1))
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(path, quality=92)
    return path


@pytest.fixture
def counted(monkeypatch) -> list[str]:
    """The names of the photos that are really read."""
    names: list[str] = []
    real = needed.read_each

    def read_each(jobs, *more):
        names.extend(job.name for job in jobs)
        return real(jobs, *more)

    monkeypatch.setattr(needed, "read_each", read_each)
    return names


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    folder = tmp_path / "photos"
    cloth(folder / "moss.jpg", (70, 95, 50), 1)
    cloth(folder / "sand.jpg", (200, 180, 130), 2)
    table(folder / "table.jpg")
    return folder


@pytest.fixture
def box(tmp_path: Path, photos: Path) -> Path:
    folder = tmp_path / "box"
    read_into(folder, [photos], {})
    return folder


def ids(folder: Path) -> list[str]:
    return [one.id for one in load(folder).prints]


BOX = ["moss", "sand", "table-1", "table-2", "table-3"]


# ── photos ────────────────────────────────────────────────────────────────────────────────


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


# ── only what changed is read ─────────────────────────────────────────────────────────────


def test_reading_again_reads_nothing(box: Path, photos: Path, counted):
    before = (box / "piece.json").read_bytes()
    read_into(box, [photos], {})
    assert counted == []
    assert (box / "piece.json").read_bytes() == before


def test_one_redraw_in_forty_photos_reads_one(tmp_path: Path, counted):
    folder = tmp_path / "photos"
    for k in range(40):
        cloth(folder / f"p{k}.jpg", (40 + 5 * k, 90, 200 - 4 * k), k)
    box = tmp_path / "box"
    read_into(box, [folder], {"shows": "one"})
    assert len(counted) == len(load(box).prints) == 40
    before = {one.id: one for one in load(box).prints}
    del counted[:]
    corrections.redraw(box, "p7", ((10, 10), (200, 10), (200, 150), (10, 150)))
    assert counted == ["p7.jpg"]
    after = {one.id: one for one in load(box).prints}
    assert {id_ for id_ in after if after[id_] != before[id_]} == {"p7"}


def test_a_wish_of_one_photo_reads_that_one(box: Path, photos: Path, counted):
    read_into(box, [photos / "table.jpg"], {"scale": "2in=140"})
    assert counted == ["table.jpg"]
    piece = load(box)
    assert [photo.wishes for photo in piece.photos] == [{}, {}, {"scale": "2in=140"}]
    assert [one.size_in is not None for one in piece.prints] == [False, False, True, True, True]
    assert piece.photos[2].found is not None
    assert piece.photos[2].found.size == (640, 480)


@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("way", [1, -1])
def test_a_card_marked_by_hand_gives_the_scale(box: Path, photos: Path, start: int, way: int):
    """ISO/IEC 7810 ID-1: 85.60 × 53.98 mm, here 5 pixels a mm: a scrap is 28 × 40 mm."""
    card = [(10, 10), (438, 10), (438, 279.9), (10, 279.9)]
    turned = [card[(start + way * k) % 4] for k in range(4)]
    read_into(box, [photos / "table.jpg"], {"card": turned})
    piece = load(box)
    size = piece.print_of("table-3").size_in
    assert size == pytest.approx((200 / 5 / 25.4, 140 / 5 / 25.4), rel=0.03)
    seen = piece.photo_of("table-3").found
    assert seen is not None
    assert seen.scale is not None
    assert (seen.scale.kind, seen.scale.marked) == ("bankcard", True)


@pytest.mark.parametrize(("card", "says"), [
    ([(0, 0), (900, 0), (900, 300), (0, 300)], "reaches beyond this photo of 640 × 480"),
    ([(0, 0), (200, 300), (200, 0), (0, 300)], "no four-sided thing"),
    ([(0, 0), (100, 0), (200, 0), (300, 0)], "no four-sided thing"),
])
def test_a_card_that_is_none_is_refused(box: Path, photos: Path, card, says: str):
    before = (box / "piece.json").read_bytes()
    with pytest.raises(NothingReadError, match=says):
        read_into(box, [photos / "table.jpg"], {"card": card})
    assert (box / "piece.json").read_bytes() == before
    with pytest.raises(UsageError, match="four corners"):
        read_into(box, [photos / "table.jpg"], {"card": card[:3]})


def test_a_reading_that_is_damaged_is_read_again(box: Path, counted):
    for path in (box / "readings").iterdir():
        path.write_bytes(b"not a reading")
    corrections.merge(box, ["table-1", "table-2"])
    assert counted == ["table.jpg"]
    assert ids(box) == ["moss", "sand", "table-1", "table-3"]


def test_a_reading_from_elsewhere_brings_nothing_but_a_reading(tmp_path: Path):
    import pickle

    from sequencer.keeping.disk.readings import reading_from
    from sequencer.reading.photograph import ReadPhoto

    path = tmp_path / "x.json"
    for data in (pickle.dumps(print), b"", b"\x78\x9c", b"{}"):
        path.write_bytes(data)
        assert reading_from(path, "key", ReadPhoto, tmp_path) is None


def test_wrong_wishes_are_refused_before_anything(box: Path, photos: Path):
    before = (box / "piece.json").read_bytes()
    with pytest.raises(UsageError, match="scale"):
        read_into(box, [photos], {"scale": "big"})
    assert (box / "piece.json").read_bytes() == before


# ── corrections ───────────────────────────────────────────────────────────────────────────


def test_drop_reads_nothing_and_holds(box: Path, photos: Path, counted):
    corrections.drop(box, ["table-2"])
    read_into(box, [photos], {})
    assert counted == []
    assert ids(box) == ["moss", "sand", "table-1", "table-3"]
    corrections.split(box, "table-1", ((110, 0), (110, 480)))
    assert counted == ["table.jpg"]
    assert ids(box) == ["moss", "sand", "table-1", "table-3", "table-4"]


def test_an_added_scrap_is_measured(box: Path):
    corner = ((250, 350), (400, 350), (400, 450), (250, 450))
    piece = corrections.add(box, "table.jpg", corner)
    assert [one.id for one in piece.prints] == [*BOX, "table-4"]
    assert piece.prints[-1].palette
    assert piece.corrections[-1].op == "add"
    assert load(box).prints[-1].number == 4


@pytest.mark.parametrize(("what", "says"), [
    (lambda box: corrections.split(box, "table-1", ((500, 0), (500, 480))),
     r"does not cut table-1, which lies at x \d+ to \d+, y \d+ to \d+ of table\.jpg"),
    (lambda box: corrections.split(box, "table-1", ((500, 0), (500, 0))), "does not cut table-1"),
    (lambda box: corrections.redraw(box, "table-1", ((260, 110), (380, 110), (380, 280))),
     r"lies on table-2, which is at x 2[45]\d to 3[89]\d"),
    (lambda box: corrections.redraw(box, "table-1", ((10, 400), (90, 400), (90, 470), (10, 470))),
     r"does not touch table-1, which lies at x .* passalong add"),
    (lambda box: corrections.redraw(box, "table-1", ((10, 10), (2000, 10), (9, 90))),
     "reaches beyond table.jpg, a photo of 640 × 480 pixels"),
    (lambda box: corrections.redraw(box, "table-1", ((10, 10), (20, 20), (30, 30))),
     "holds nothing"),
    (lambda box: corrections.add(box, "table.jpg", ((50, 110), (170, 110), (170, 290), (50, 290))),
     "lies on table-1"),
    (lambda box: corrections.add(box, "shelf.jpg", ((0, 0), (9, 0), (9, 9))),
     "no photo of this piece is called 'shelf.jpg'. There are: moss.jpg"),
    (lambda box: corrections.merge(box, ["moss", "sand"]), "lie in different photos"),
    (lambda box: corrections.merge(box, ["moss", "moss"]), "takes at least two"),
    (lambda box: corrections.say_alike(box, ["table-1", "table-2"], True), "finds of one photo"),
    (lambda box: corrections.rename(box, {"moss": "SAND"}), "'SAND' is what sand is called"),
    (lambda box: corrections.drop(box, ["mose"]), "Did you mean moss"),
])  # fmt: skip
def test_what_makes_no_sense_is_refused_and_changes_nothing(box: Path, what, says: str):
    before = (box / "piece.json").read_bytes()
    with pytest.raises(PieceError, match=says):
        what(box)
    assert (box / "piece.json").read_bytes() == before


@pytest.mark.parametrize("name", ["", "a,b", "a=b", "two\nlines", "\x1b[31mred", "x" * 200])
def test_names_that_cannot_be_typed_are_refused(box: Path, name: str):
    with pytest.raises(UsageError, match="a name"):
        corrections.rename(box, {"moss": name})


@pytest.mark.parametrize("size", ["1e9x2", "0x3", "-1x2", "1000x2", "3", "nanx2"])
def test_sizes_typed_by_hand_pass_the_same_checks(box: Path, size: str):
    with pytest.raises(UsageError, match=size.replace("-", "")[:1]):
        corrections.resize(box, {"moss": size})
    assert load(box).sizes == {}


def test_same_and_different_are_kept_and_the_last_word_counts(box: Path):
    corrections.say_alike(box, ["moss", "table-1"], True)
    piece = corrections.say_alike(box, ["moss", "table-1"], False)
    assert [one.op for one in piece.corrections] == ["different"]
    assert {find.photo for find in piece.corrections[0].finds} == {
        piece.photo_of("moss").id, piece.photo_of("table-1").id}


def test_names_serve_as_ids(box: Path):
    corrections.rename(box, {"table-2": "low sun"})
    corrections.resize(box, {"low sun": "9x3"})
    assert load(box).sizes == {"table-2": [["9", "3"]]}
    corrections.drop(box, ["Low Sun"])
    assert ids(box) == ["moss", "sand", "table-1", "table-3"]


def test_a_new_photo_never_takes_a_name_that_is_given(box: Path, tmp_path: Path):
    corrections.rename(box, {"moss": "reed"})
    read_into(box, [cloth(tmp_path / "reed.jpg", (120, 140, 80), 5)], {})
    names = [one.name for one in load(box).prints]
    assert len(set(names)) == len(names)
    assert "reed" not in ids(box)


def test_outlines_have_few_corners(box: Path):
    assert all(len(one.outline) <= 12 for one in load(box).prints)


# ── undo ──────────────────────────────────────────────────────────────────────────────────


def test_every_change_can_be_taken_back_and_done_again(box: Path, photos: Path, tmp_path: Path):
    steps = [
        lambda: corrections.rename(box, {"moss": "dusk"}),
        lambda: corrections.resize(box, {"sand": "9x3"}),
        lambda: corrections.merge(box, ["table-1", "table-2"]),
        lambda: corrections.drop(box, ["table-3"]),
        lambda: read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {}),
    ]
    states = [load(box)]
    for step in steps:
        step()
        states.append(load(box))
    names = [step.name for step in states[-1].past]
    assert names == ["name dusk", "size sand", "merge table-1, table-2", "drop table-3", "read"]
    for state in states[-2::-1]:
        back, _ = undo(box)
        assert replace(back, past=(), future=(), revision="") == replace(
            state, past=(), future=(), revision="")
    for state in states[1:]:
        again, _ = redo(box)
        assert again.prints == state.prints
    assert all(one.swatch.pixels.size for one in load(box).prints if one.swatch)


# ── two at once ───────────────────────────────────────────────────────────────────────────


def test_a_name_given_while_photos_are_read_survives(box: Path, tmp_path: Path, monkeypatch):
    real = needed.read_each

    def meanwhile(jobs, *more):
        done = real(jobs, *more)
        corrections.rename(box, {"moss": "dusk"})
        corrections.drop(box, ["table-3"])
        return done

    monkeypatch.setattr(needed, "read_each", meanwhile)
    read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {})
    piece = load(box)
    assert [one.name for one in piece.prints] == ["dusk", "sand", "table-1", "table-2", "new"]


def test_two_readings_at_once_are_joined(box: Path, tmp_path: Path, monkeypatch):
    real = needed.read_each
    other = cloth(tmp_path / "other.jpg", (30, 60, 120), 6)

    def meanwhile(jobs, *more):
        done = real(jobs, *more)
        monkeypatch.setattr(needed, "read_each", real)
        read_into(box, [other], {})
        return done

    monkeypatch.setattr(needed, "read_each", meanwhile)
    read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {})
    assert ids(box) == [*BOX, "other", "new"]


def test_sixty_names_by_two_programs_are_all_kept(box: Path):
    """Two real processes; every write is either kept or told."""
    script = (
        "import sys; from pathlib import Path; from dataclasses import replace\n"
        "from sequencer.errors import PieceInUseError\n"
        "from sequencer.piece import change\n"
        "left = list(range(30))\n"
        "while left:\n"
        "    try:\n"
        "        change(Path(sys.argv[1]), f'size {left[0]}', lambda p: replace(p, cameras={"
        "**p.cameras, f'{sys.argv[2]} {left[0]}': {}}))\n"
        "        del left[0]\n"
        "    except PieceInUseError:\n"  # told, so it is done again
        "        pass\n"
    )
    both = [subprocess.Popen([sys.executable, "-c", script, str(box), who]) for who in "ab"]
    assert [process.wait(timeout=600) for process in both] == [0, 0]
    piece = load(box)
    assert len(piece.cameras) == len(piece.past) == 60


def test_two_programs_read_and_name_at_once(tmp_path: Path, photos: Path):
    """Real processes, as from terminals: nothing of any is lost, no print lacks its cloth."""
    box = tmp_path / "box"
    read_into(box, [photos / "moss.jpg"], {"shows": "one"})
    more = [cloth(tmp_path / f"n{k}.jpg", (30 + 50 * k, 90, 160), k) for k in range(3)]
    jobs = [["read", path, "--shows", "one", "--out", box] for path in more]
    jobs += [["name", box, "moss=dusk"], ["size", box, "moss=9x3"]]
    while jobs:
        running = [
            subprocess.Popen([sys.executable, "-m", "passalong", *map(str, job)],
                             stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for job in jobs
        ]
        told = [process.communicate(timeout=600)[1] for process in running]
        for process, err in zip(running, told, strict=True):
            assert process.returncode == 0 or b"in use" in err, err
        jobs = [job for job, process in zip(jobs, running, strict=True) if process.returncode]
    piece = load(box)
    assert sorted(one.name for one in piece.prints) == ["dusk", "n0", "n1", "n2"]
    assert piece.sizes == {"moss": [["9", "3"]]}
    assert len(piece.past) == 5
    assert all(one.swatch.pixels.size for one in piece.prints if one.swatch)


def test_a_folder_in_use_is_said(box: Path, monkeypatch):
    from sequencer.errors import PieceInUseError
    from sequencer.keeping.disk import lock
    from sequencer.piece import writing

    monkeypatch.setattr(lock.locked.__wrapped__, "__defaults__", (0.1,))
    with writing(box), pytest.raises(PieceInUseError, match="in use by another passalong"):
        corrections.rename(box, {"moss": "dusk"})


# ── version 1 with its photos ─────────────────────────────────────────────────────────────


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


def test_a_quick_change_that_fails_changes_nothing(box: Path):
    before = (box / "piece.json").read_bytes()

    def refuse(piece):
        raise PieceError("no")

    with pytest.raises(PieceError, match="no"):
        change(box, "x", refuse)
    assert (box / "piece.json").read_bytes() == before


def test_a_kept_photo_that_was_changed_in_place_is_told_not_read(box: Path, counted):
    """A second name of a file shows what another program does to that file."""
    photo = next(one for one in load(box).photos if one.name == "table.jpg")
    table(box / str(photo.file)).write_bytes(b"another picture by now")
    with pytest.raises(PieceError, match=r"is no longer there, or is another by now \(photos/"):
        corrections.merge(box, ["table-1", "table-2"])
    assert counted == []
    assert ids(box) == BOX


def test_what_was_dropped_can_be_drawn_again(box: Path):
    outline = load(box).print_of("table-2").outline
    corrections.drop(box, ["table-2"])
    corrections.add(box, "table.jpg", outline)
    there = [overlap(one.outline, outline).alike > 0.9
             for one in load(box).prints if one.photo == "table.jpg"]
    assert (len(there), sum(there)) == (3, 1)
