"""Only what changed is read again, and a wish or a damaged reading is such a change."""

from pathlib import Path

import pytest

from sequencer import corrections
from sequencer.errors import NothingReadError, UsageError
from sequencer.intake import read_into
from sequencer.piece import load
from tests.made.small_box import cloth, ids


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
