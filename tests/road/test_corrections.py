"""What the maker sets right: names, sizes, scraps; refused whole or taken whole."""

from dataclasses import replace
from pathlib import Path

import pytest

from sequencer import corrections
from sequencer.errors import PieceError, UsageError
from sequencer.intake import read_into
from sequencer.intake.places import overlap
from sequencer.piece import change, load, redo, undo
from tests.made.small_box import BOX, cloth, ids


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


def test_a_quick_change_that_fails_changes_nothing(box: Path):
    before = (box / "piece.json").read_bytes()

    def refuse(piece):
        raise PieceError("no")

    with pytest.raises(PieceError, match="no"):
        change(box, "x", refuse)
    assert (box / "piece.json").read_bytes() == before


def test_what_was_dropped_can_be_drawn_again(box: Path):
    outline = load(box).print_of("table-2").outline
    corrections.drop(box, ["table-2"])
    corrections.add(box, "table.jpg", outline)
    there = [overlap(one.outline, outline).alike > 0.9
             for one in load(box).prints if one.photo == "table.jpg"]
    assert (len(there), sum(there)) == (3, 1)
