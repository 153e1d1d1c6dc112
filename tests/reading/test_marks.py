"""What she says of a photo: where sheet and card lie, what a length is; a photo taken out."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sequencer import corrections, marks, set_right
from sequencer.errors import PieceError, UsageError
from sequencer.intake import read_into
from sequencer.photo.files.load import load as load_photo
from sequencer.photo.finds.edits import Edit
from sequencer.photo.reference.tapped import thing_at
from sequencer.photo.shapes.handles import handles
from sequencer.piece import load, undo
from sequencer.reading import photograph, scrap, seen
from sequencer.reading.photos import wishes_from
from tests.made.small_box import box, cloth, photos  # noqa: F401 - fixtures

SAMPLES = Path(__file__).parents[2] / "sample_images"
_TABLE = json.loads((SAMPLES / "truth.json").read_text("utf-8"))["table"]
TRUTH = {what: _TABLE[what]["corners"] for what in ("sheet", "card")}


@pytest.fixture(scope="module")
def kept(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("kept") / "box"
    read_into(folder, [SAMPLES / "table-lowtide.jpg"], {})
    return folder


@pytest.fixture
def table(kept: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(kept, tmp_path / "table"))


def photo_of(folder: Path, name: str = "table-lowtide.jpg"):
    return next(photo for photo in load(folder).photos if photo.name == name)


def apart(found, truth) -> float:
    """How far the worst corner lies from the nearest true one."""
    away = np.linalg.norm(np.asarray(found)[:, None] - np.asarray(truth)[None], axis=-1)
    return float(away.min(axis=1).max())


# ── said of a photo ───────────────────────────────────────────────────────────────────────


def test_what_was_found_is_told_with_its_odds(table: Path):
    found = photo_of(table).found
    assert found.reference.kind == "sheet"
    assert 0.5 < found.reference.odds <= 1
    assert (found.scale.kind, found.scale.marked) == ("bankcard", False)
    assert 0.5 < found.scale.odds <= 1
    assert apart(found.scale.corners, TRUTH["card"]) < 12


def test_marked_corners_are_used_as_they_are_and_told_so(table: Path):
    sheet = [tuple(map(float, corner)) for corner in TRUTH["sheet"]]
    piece = marks.mark(table, photo_of(table).id, {"reference": "sheet", "marked": sheet})
    found = piece.photos[0].found
    assert found.reference.marked
    assert found.reference.odds is None
    assert apart(found.reference.corners, sheet) < 1
    assert piece.photos[0].wishes == {"reference": "sheet", "marked": sheet}
    assert piece.past[-1].name == "mark table-lowtide.jpg"
    undo(table)
    assert not photo_of(table).found.reference.marked


def test_names_and_sizes_stay_with_their_scraps(table: Path):
    corrections.rename(table, {"table-lowtide-2": "foam"})
    corrections.resize(table, {"table-lowtide-2": "9x3"})
    piece = marks.mark(table, photo_of(table).id, {"reference": "none"})
    foam = piece.print_of(piece.id_of("foam"))
    assert foam.id == "table-lowtide-2"
    assert foam.size_in == (9, 3)
    assert foam.reference in ("none", "table")
    assert piece.photos[0].found.reference is None


def test_a_scrap_that_is_the_sheet_is_no_print_any_more(table: Path):
    """She points at a cloth and says: this is my white sheet."""
    one = load(table).print_of("table-lowtide-1")  # the palest cloth
    corners = marks.four_corners(one.outline)
    piece = marks.mark(table, photo_of(table).id, {"reference": "sheet", "marked": list(corners)})
    assert one.id not in [other.id for other in piece.prints]
    assert apart(corners, _TABLE["scraps"][0]["corners"]) < 30


def test_a_coloured_cloth_is_refused_as_white_in_words(table: Path):
    strong = load(table).print_of("table-lowtide-3")
    before = (table / "piece.json").read_bytes()
    corners = marks.four_corners(strong.outline)
    with pytest.raises(PieceError, match="colours that no cloth has; mark a white sheet"):
        marks.mark(table, photo_of(table).id, {"reference": "sheet", "marked": list(corners)})
    assert (table / "piece.json").read_bytes() == before


def test_what_contradicts_gives_way_and_none_takes_it_back(box: Path):  # noqa: F811
    id_ = photo_of(box, "table.jpg").id
    card = [(10, 10), (438, 10), (438, 279.9), (10, 279.9)]
    for said, left in (
        ({"card": card}, {"card": card}),
        ({"scale": "2in=140"}, {"scale": "2in=140"}),
        ({"reference": "none"}, {"scale": "2in=140", "reference": "none"}),
        ({"marked": card}, {"scale": "2in=140", "marked": card}),
        ({"reference": None}, {"scale": "2in=140"}),
        ({"scale": None, "shows": "many"}, {"shows": "many"}),
    ):
        piece = marks.mark(box, id_, said)
        assert next(one for one in piece.photos if one.id == id_).wishes == left


def test_a_grey_card_keeps_its_lightness_where_it_is_moved(box: Path):  # noqa: F811
    id_ = photo_of(box, "table.jpg").id
    here, there = ([(x, 10), (x + 90, 10), (x + 90, 70), (x, 70)] for x in (10.0, 14.0))
    for said, left in (
        ({"reference": "grey=65", "marked": here}, {"reference": "grey=65", "marked": here}),
        ({"reference": "grey", "marked": there}, {"reference": "grey=65", "marked": there}),
        ({"reference": "grey=50", "marked": there}, {"reference": "grey=50", "marked": there}),
        ({"reference": "sheet", "marked": here}, {"reference": "sheet", "marked": here}),
        ({"reference": "grey", "marked": here}, {"reference": "grey", "marked": here}),
    ):
        piece = marks.mark(box, id_, said)
        assert next(one for one in piece.photos if one.id == id_).wishes == left


@pytest.mark.parametrize(("said", "error", "says"), [
    ({"card": [[0, 0], [900, 0], [900, 300], [0, 300]]}, PieceError,
     "reach beyond table.jpg, a photo of 640 × 480 pixels"),
    ({"card": [[0, 0], [200, 300], [200, 0], [0, 300]]}, PieceError, "no four-sided thing"),
    ({"card": [[0, 0]]}, UsageError, "four corners"),
    ({"card": ["a"]}, UsageError, "are no corners"),
    ({"scale": "big"}, UsageError, "scale 'big' is not known"),
    ({"reference": "ball"}, UsageError, "ball"),
    ({"colour": "red"}, UsageError, "of a photo reference, marked, card, scale, shows can be said"),
])
def test_what_makes_no_sense_is_refused_and_changes_nothing(
    box: Path, said, error, says: str  # noqa: F811
):
    before = (box / "piece.json").read_bytes()
    with pytest.raises(error, match=says):
        marks.mark(box, photo_of(box, "table.jpg").id, said)
    assert (box / "piece.json").read_bytes() == before


def test_a_photo_that_is_gone_is_said(box: Path):  # noqa: F811
    for what in (lambda: marks.mark(box, "0" * 32, {}), lambda: marks.remove_photo(box, "0" * 32)):
        with pytest.raises(PieceError, match="no longer in this piece"):
            what()


# ── pointed at ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("what", ["sheet", "card"])
def test_what_is_tapped_is_found_by_its_corners(what: str):
    photo = load_photo(SAMPLES / "table-lowtide.jpg")
    truth = np.array(TRUTH[what], float)
    for share in (0.5, 0.2):  # its middle, and nearer to a corner
        x, y = truth.mean(axis=0) * share + truth[0] * (1 - share)
        corners = thing_at(photo, (float(x), float(y)))
        assert corners is not None
        assert apart(corners * photo.factor, truth) < 20


def test_nothing_is_made_up_where_nothing_lies():
    photo = load_photo(SAMPLES / "table-lowtide.jpg")
    for point in ((3300, 200), (60, 60)):
        assert thing_at(photo, point) is None


def test_a_tap_in_the_folder_speaks_photo_pixels(table: Path):
    middle = np.mean(TRUTH["sheet"], axis=0)
    corners = marks.corners_at(table, photo_of(table).id, tuple(middle))
    assert apart(corners, TRUTH["sheet"]) < 20
    shutil.rmtree(table / "photos")
    with pytest.raises(PieceError, match="no longer there"):
        marks.corners_at(table, photo_of(table).id, tuple(middle))


# ── taken out ─────────────────────────────────────────────────────────────────────────────


def test_a_photo_goes_with_all_that_was_said_of_it(box: Path, tmp_path: Path):  # noqa: F811
    corrections.rename(box, {"table-1": "brick"})
    corrections.drop(box, ["table-2"])
    corrections.say_alike(box, ["moss", "table-3"], True)
    before = load(box)
    piece = marks.remove_photo(box, photo_of(box, "table.jpg").id)
    assert [one.id for one in piece.prints] == ["moss", "sand"]
    assert piece.corrections == ()
    assert piece.names == {}
    back, _ = undo(box)
    assert back.prints == before.prints
    assert back.corrections == before.corrections


def test_the_last_photo_can_go_and_another_come(tmp_path: Path):
    folder = tmp_path / "box"
    read_into(folder, [cloth(tmp_path / "moss.jpg", (70, 95, 50), 1)], {})
    piece = marks.remove_photo(folder, load(folder).photos[0].id)
    assert (piece.prints, piece.photos) == ((), ())
    piece = read_into(folder, [tmp_path / "moss.jpg"], {})
    assert [one.id for one in piece.prints] == ["moss"]


# ── names and sizes taken back ────────────────────────────────────────────────────────────


def test_a_typed_size_can_be_taken_back_to_the_measured_one(table: Path):
    before = load(table)
    corrections.resize(table, {"table-lowtide-1": "4x4, 5x2"})
    piece = corrections.unsize(table, ["table-lowtide-1"])
    assert piece.prints == before.prints
    assert piece.sizes == {}


def test_a_name_can_be_taken_back(box: Path):  # noqa: F811
    piece = set_right.renamed(load(box), {"moss": "hedge", "sand": "dune"})
    piece = set_right.unnamed(piece, ["hedge"])
    assert piece.names == {"sand": "dune"}
    assert piece.print_of("moss").name == "moss"
    with pytest.raises(PieceError, match="is what moss is called"):
        set_right.renamed(piece, {"sand": "moss"})


# ── for a page: pointing, handles, news of each photo ─────────────────────────────────────


def test_pointing_says_what_marks_take(table: Path):
    id_ = photo_of(table).id
    middle = tuple(np.mean(TRUTH["card"], axis=0))
    said = marks.pointed(table, id_, "card", at=middle)
    assert apart(said["card"], TRUTH["card"]) < 20
    said = marks.pointed(table, id_, "grey", find="table-lowtide-1")
    assert said["reference"] == "grey"
    assert apart(said["marked"], _TABLE["scraps"][0]["corners"]) < 30
    with pytest.raises(PieceError, match="four straight sides"):
        marks.pointed(table, id_, "sheet", at=(60.0, 60.0))
    with pytest.raises(UsageError, match="say sheet, grey, target or card"):
        marks.pointed(table, id_, "ruler", at=middle)


def test_handles_are_few_and_keep_the_shape(table: Path):
    """IoU by shapely, from outside: what she moves is what was found, give or take a hundredth."""
    from shapely import Polygon

    for one in load(table).prints:
        held = handles(one.outline)
        assert 4 <= len(held) <= 8
        a, b = Polygon(one.outline).buffer(0), Polygon(held)
        assert b.is_valid
        assert a.intersection(b).area / a.union(b).area > 0.98


def test_a_blunt_corner_grows_back_and_a_thread_goes():
    blunt = [(5, 0), (100, 0), (100, 100), (0, 100), (0, 5)]
    assert set(handles(blunt)) == {(0, 0), *blunt[1:4]}
    thread = [(0, 0), (50, 0), (51, -4), (52, 0), (100, 0), (100, 100), (0, 100)]
    assert set(handles(thread)) == {(0, 0), (100, 0), (100, 100), (0, 100)}


def test_a_round_scrap_has_twelve_handles():
    turns = np.linspace(0, 2 * np.pi, 80, endpoint=False)
    assert len(handles([(100 * np.cos(t), 100 * np.sin(t)) for t in turns])) == 12


def test_each_photo_is_told_before_all_are_brought_together(tmp_path: Path):
    folder, told = tmp_path / "box", []

    def note(name: str, read) -> None:
        told.append((name, len(getattr(read, "prints", ())), (folder / "piece.json").exists()))

    (tmp_path / "no.jpg").write_bytes(b"no picture")
    given = [cloth(tmp_path / "moss.jpg", (70, 95, 50), 1), tmp_path / "no.jpg"]
    read_into(folder, given, {}, told=note)
    assert sorted(told) == [("moss.jpg", 1, False), ("no.jpg", 0, False)]


# ── one corner after the other ────────────────────────────────────────────────────────────


def test_what_does_not_change_is_not_looked_at_again(table: Path, monkeypatch):
    """Three corrections of one photo: cloth is looked for once, and each gives what a reading from
    nothing gives."""
    looked, measured = [], []
    find, measure = seen.find_cloth, scrap.measure_print
    monkeypatch.setattr(seen, "LAST", seen.Last())
    monkeypatch.setattr(seen, "find_cloth", lambda *a: looked.append(a) or find(*a))
    monkeypatch.setattr(scrap, "measure_print", lambda *a: measured.append(a) or measure(*a))
    for step in range(3):
        one = load(table).print_of("table-lowtide-1")
        outline = [(x + 3 + step, y + 2) for x, y in handles(one.outline)]
        corrections.redraw(table, one.id, tuple(outline))
    assert len(looked) == 1
    assert len(measured) < 3 * 8 - 8
    kept = load(table)
    monkeypatch.setattr(seen, "LAST", seen.Last())
    for path in (table / "readings").iterdir():
        path.unlink()
    corrections.redraw(table, one.id, tuple(outline))  # as it lies, so the same is asked again
    assert len(looked) == 2
    for fresh, before in zip(load(table).prints, kept.prints, strict=True):
        assert replace(fresh, swatch=None) == replace(before, swatch=None)


def test_a_photo_changed_on_disk_is_looked_at_again(tmp_path: Path):
    path = cloth(tmp_path / "moss.jpg", (70, 95, 50), 1)
    edit = Edit("redraw", "moss.jpg", (((5, 5), (200, 5), (200, 150), (5, 150)),),
                ((9, 9), (190, 9), (190, 140), (9, 140)))
    wishes = wishes_from({"shows": "one"}, (edit,))
    first = photograph.read_one(path, wishes)
    again = photograph.read_one(path, wishes)
    assert first.prints[0][1].mean_lab == again.prints[0][1].mean_lab
    cloth(path, (160, 60, 50), 2)
    other = photograph.read_one(path, wishes)
    assert abs(other.prints[0][1].mean_lab[1] - first.prints[0][1].mean_lab[1]) > 20
