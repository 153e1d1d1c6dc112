"""What the piece folder promises: nothing lost, nothing outside it, everything taken back.

Each test is something that was done to an earlier version and cost its maker work.
"""

from __future__ import annotations

import json
import os
import shutil
import stat
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import PIL.Image
import pytest

from sequencer.corrections import rename
from sequencer.piece import undo
from tests.conftest import cloth, table

Command = Callable[..., tuple[int, str, str]]


def prints_of(passalong: Command, folder: Path) -> dict[str, dict[str, Any]]:
    """The prints by id, as the next command sees them."""
    record = json.loads((folder / "piece.json").read_text("utf-8"))
    return {one["id"]: one for one in record["prints"]}


def record_of(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "piece.json").read_text("utf-8"))


def refused(told: tuple[int, str, str], *words: str, code: int = 1) -> None:
    got, out, err = told
    assert got == code, out + err
    assert out == ""
    assert len(err.strip().splitlines()) == 1, err
    for word in words:
        assert word in err


# ── photographs come and go ───────────────────────────────────────────────────────────────


def test_prints_of_a_photo_that_moved_stay(tmp_path: Path, passalong: Command):
    photos, box = tmp_path / "photos", tmp_path / "box"
    photos.mkdir()
    table(photos / "table.jpg")
    assert passalong("read", photos / "table.jpg", "--out", box)[0] == 0
    before = prints_of(passalong, box)
    assert len(before) == 3
    (photos / "table.jpg").rename(tmp_path / "elsewhere.jpg")
    cloth(photos / "moss.jpg", (70, 95, 50))
    assert passalong("read", photos / "moss.jpg", "--shows", "one", "--out", box)[0] == 0
    assert set(prints_of(passalong, box)) == {*before, "moss"}


def test_a_moved_folder_goes_on_working(piece: Path, tmp_path: Path, passalong: Command):
    """Copied to another machine: the photographs are in it, whatever became of the first ones."""
    away = tmp_path / "other machine"
    away.mkdir()
    moved = piece.rename(away / "piece")
    (moved / "preview.png").unlink()
    outline = ("28,82", "140,80", "138,282", "30,280")
    assert passalong("redraw", moved, "table-1", "--outline", *outline)[0] == 0
    assert passalong("preview", moved, "--out", moved / "preview.png", "--ppi", 20)[0] == 0


def test_two_photos_of_one_name_are_two_photos(tmp_path: Path, passalong: Command):
    box, first, second = tmp_path / "box", tmp_path / "a", tmp_path / "b"
    first.mkdir()
    second.mkdir()
    table(first / "image.jpg", seed=7)
    table(second / "image.jpg", seed=70)
    photos = (first / "image.jpg", second / "image.jpg")
    assert passalong("read", *photos, "--out", box)[0] == 0
    assert len(prints_of(passalong, box)) == 6
    assert passalong("drop", box, "image-2")[0] == 0
    left = set(prints_of(passalong, box))
    assert left == {"image-1", "image-3", "image-b-1", "image-b-2", "image-b-3"}
    assert passalong("name", box, "image-b-1=dusk")[0] == 0
    (first / "image.jpg").unlink()
    assert passalong("read", second / "image.jpg", "--out", box)[0] == 0  # the correction stays
    prints = prints_of(passalong, box)
    assert set(prints) == left
    assert prints["image-b-1"]["name"] == "dusk"
    assert prints["image-1"]["name"] != "dusk"


@pytest.mark.skipif(sys.platform != "linux", reason="file names are bytes on Linux alone")
def test_a_photo_whose_name_is_no_text(tmp_path: Path, passalong: Command):
    photos = tmp_path / "photos"
    photos.mkdir()
    cloth(photos / "moss.jpg", (70, 95, 50))
    cloth(photos / "reed.jpg", (120, 140, 80))
    odd = os.fsencode(photos) + b"/sand\xff.jpg"
    shutil.copy(os.fsencode(cloth(photos / "sand.jpg", (200, 180, 130))), odd)
    (photos / "sand.jpg").unlink()
    box = tmp_path / "box"
    code, out, err = passalong("read", photos, "--shows", "one", "--out", box, "--json")
    assert code == 0, err
    ids = [one["id"] for one in json.loads(out)["prints"]]
    assert {"moss", "reed"} < set(ids)
    assert len(ids) == 3
    assert passalong("order", box)[0] == 0


def test_a_redraw_reads_its_own_photo_alone(
    tmp_path: Path, passalong: Command, monkeypatch: pytest.MonkeyPatch
):
    photos, box = tmp_path / "photos", tmp_path / "box"
    photos.mkdir()
    table(photos / "table.jpg")
    for seed in range(5):
        cloth(photos / f"cloth{seed}.jpg", (40 * seed, 90, 120), seed)
    assert passalong("read", photos, "--out", box)[0] == 0
    opened: list[str] = []
    plain = PIL.Image.open

    def counted(file: Any, *given: Any, **how: Any) -> Any:
        opened.append(str(file))
        return plain(file, *given, **how)

    monkeypatch.setattr(PIL.Image, "open", counted)
    outline = ("28,82", "140,80", "138,282", "30,280")
    assert passalong("redraw", box, "table-1", "--outline", *outline)[0] == 0
    assert len([one for one in opened if "photos" in one]) == 1


# ── what a piece file may say ─────────────────────────────────────────────────────────────


def old_piece(folder: Path, **changed: Any) -> Path:
    """A piece folder of version 1 with two prints, the first of them changed."""
    folder.mkdir(parents=True)
    prints = []
    for id_, light in (("moss", 40.0), ("reed", 60.0)):
        prints.append({
            "id": id_, "name": id_, "photo": f"{id_}.jpg", "outline": [[0, 0], [9, 0], [9, 9]],
            "mean_lab": [light, 0.0, 0.0], "palette": [{"lab": [light, 0.0, 0.0], "share": 1.0}],
            "value": light, "spread": None, "size_in": [9.0, 3.0], "reference": "none",
            "uncertainty": 9.0, "warnings": [], "swatch_ppi": None,
        })
    prints[0].update(changed)
    record = {
        "schema": "passalong.piece/1", "photos": [], "read_wishes": {}, "edits": [], "names": {},
        "sizes": {}, "prints": prints, "rejected": [], "order_wishes": {}, "sequence": None,
        "plan_wishes": {}, "plan": None,
    }
    (folder / "piece.json").write_text(json.dumps(record))
    return folder


def test_the_old_piece_is_a_good_one(tmp_path: Path, passalong: Command):
    assert passalong("order", old_piece(tmp_path / "old"))[0] == 0


@pytest.mark.parametrize("id_", ["../../holiday", "/tmp/holiday", "a/b", "a\\b", "", "..", "a\0b"])
def test_an_id_that_leads_out_of_the_folder(id_: str, tmp_path: Path, passalong: Command):
    folder = old_piece(tmp_path / "in" / "piece", id=id_)
    beside = tmp_path / "holiday.png"
    beside.write_bytes(b"a picture of mine")
    for command in ("order", "contrast"):
        refused(passalong(command, folder), "piece.json", "prints")
    assert beside.read_bytes() == b"a picture of mine"


@pytest.mark.parametrize("changed", [
    {"mean_lab": [-500, 0, 0]}, {"mean_lab": [40, 1e9, 0]}, {"mean_lab": [float("nan"), 0, 0]},
    {"palette": [{"lab": [40, 0, 0], "share": 7}]}, {"palette": [{"lab": [40, 0, 0], "share": -1}]},
    {"palette": [{"lab": [40, 0, 0], "share": 0.2}]}, {"size_in": [-9, 3]}, {"size_in": [9, 0]},
    {"size_in": [1e308, 3]}, {"size_in": [1e9, 1e9]}, {"size_in": [9]}, {"uncertainty": "much"},
    {"outline": [[0]]}, {"id": 7}, {"id": "reed"}, {"palette": None}, {"spread": "wide"},
], ids=str)  # fmt: skip
def test_figures_that_no_cloth_has(changed: dict[str, Any], tmp_path: Path, passalong: Command):
    folder = old_piece(tmp_path / "piece", **changed)
    raw = (folder / "piece.json").read_bytes()
    for command in (["order", folder], ["contrast", folder], ["plan", folder],
                    ["preview", folder, "--out", tmp_path / "p.png"],
                    ["sheets", folder, "--out", tmp_path / "s.pdf"]):  # fmt: skip
        refused(passalong(*command), "piece.json")
    assert (folder / "piece.json").read_bytes() == raw


def _edited(folder: Path, edit: Callable[[Any], None]) -> None:
    record = record_of(folder)
    edit(record)
    (folder / "piece.json").write_text(json.dumps(record))


def _one_print_five_times(record: Any) -> None:
    record["sequence"]["order"] = ["moss"] * 5


def _an_unknown_print(record: Any) -> None:
    record["sequence"]["order"][0] = "holiday"


def _far_too_large(record: Any) -> None:
    record["plan_wishes"]["size"], record["plan"] = "999999x999999", None


def _far_too_deep(record: Any) -> None:
    deep: Any = []
    for _ in range(400):
        deep = [deep]
    record["order_wishes"]["apart"] = deep


def _unknown_wish(record: Any) -> None:
    record["plan_wishes"]["holiday"] = 3


def _wish_of_another_kind(record: Any) -> None:
    record["order_wishes"]["pick"] = {"a": 1}


@pytest.mark.parametrize("edit", [_one_print_five_times, _an_unknown_print, _far_too_deep,
                                  _unknown_wish, _wish_of_another_kind])  # fmt: skip
def test_records_that_contradict_themselves(
    edit: Callable[[Any], None], piece: Path, passalong: Command
):
    _edited(piece, edit)
    for command in ("contrast", "plan"):
        refused(passalong(command, piece), "piece.json")


def test_a_size_no_panel_has_is_refused_in_words(piece: Path, passalong: Command):
    _edited(piece, _far_too_large)
    refused(passalong("preview", piece, "--out", piece / "p.png"), "999999", code=2)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize("name", ["piece.json", "swatch"])
def test_a_pipe_in_place_of_a_file_is_not_waited_for(name: str, piece: Path, passalong: Command):
    path = piece / "piece.json" if name == "piece.json" else next((piece / "swatches").iterdir())
    path.unlink()
    os.mkfifo(path)
    refused(passalong("preview", piece, "--out", piece / "p.png"), path.name)


# ── files that are not the program's ──────────────────────────────────────────────────────


def test_pictures_of_her_own_in_the_folder_stay(piece: Path, passalong: Command):
    own = [piece / "swatches" / "mine.png", piece / "swatches" / "note.txt", piece / "a.png"]
    for path in own:
        path.write_bytes(b"mine")
    for command in (["drop", piece, "clay"], ["name", piece, "moss=stone"], ["order", piece]):
        assert passalong(*command)[0] == 0
    assert all(path.read_bytes() == b"mine" for path in own)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_result_goes_through_links_and_pipes(piece: Path, tmp_path: Path, passalong: Command):
    target, link = tmp_path / "real.png", tmp_path / "link.png"
    target.write_bytes(b"old")
    link.symlink_to(target)
    assert passalong("preview", piece, "--out", link, "--ppi", 20)[0] == 0
    assert link.is_symlink()
    assert target.read_bytes().startswith(b"\x89PNG")
    pipe = tmp_path / "pipe.pdf"
    os.mkfifo(pipe)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()), daemon=True)
    reader.start()
    assert passalong("sheets", piece, "--out", pipe)[0] == 0
    reader.join(90)
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert got[0].startswith(b"%PDF")


# ── everything can be taken back ──────────────────────────────────────────────────────────


def test_looking_what_her_own_order_costs_can_be_taken_back(piece: Path, passalong: Command):
    before = record_of(piece)
    own = ",".join(sorted(before["sequence"]["order"]))
    assert passalong("order", piece, "--sequence", own)[0] == 0
    assert record_of(piece) == before  # only scored
    assert passalong("order", piece, "--sequence", own, "--keep")[0] == 0
    assert record_of(piece)["sequence"]["order"] != before["sequence"]["order"]
    assert passalong("undo", piece)[0] == 0
    after = record_of(piece)
    for key in ("sequence", "order_wishes", "plan_wishes", "plan", "prints"):
        assert after[key] == before[key], key


def test_making_again_in_one_folder_can_be_taken_back(
    piece: Path, small_photos: Path, passalong: Command
):
    assert passalong("order", piece, "--open", "--first", "moss")[0] == 0
    assert passalong("plan", piece, "--size", "6x5")[0] == 0
    before = record_of(piece)
    assert passalong("make", small_photos, "--out", piece, "--repeats", "3")[0] == 0
    assert record_of(piece)["plan_wishes"] != before["plan_wishes"]
    assert passalong("undo", piece)[0] == 0
    after = record_of(piece)
    for key in ("sequence", "order_wishes", "plan_wishes", "plan", "prints", "read_wishes"):
        assert after[key] == before[key], key


def test_a_hundred_steps_and_back(piece: Path, passalong: Command):
    """Each found again after the program was closed: nothing but the folder is asked."""
    size = sum(path.stat().st_size for path in piece.rglob("*") if path.is_file())
    names = ["clay", *(f"dusk {step}" for step in range(100))]
    for name in names[1:]:
        rename(piece, {"clay": name})
    more = sum(path.stat().st_size for path in piece.rglob("*") if path.is_file()) - size
    assert more < 100 * 20_000  # the swatches are shared
    for name in names[-2::-1]:
        undo(piece)
        assert prints_of(passalong, piece)["clay"]["name"] == name
    assert passalong("redo", piece)[0] == 0
    assert prints_of(passalong, piece)["clay"]["name"] == "dusk 0"
    code, out, _ = passalong("history", piece)
    assert code == 0
    assert "dusk 99" in out


def test_stopped_in_the_middle_true_words(
    piece: Path, tmp_path: Path, small_photos: Path, passalong: Command,
    monkeypatch: pytest.MonkeyPatch,
):
    """Ctrl-C after the piece was saved: not 'as it was before'. Before that: it is."""
    from sequencer import make as road

    def pressed(*given: Any, **how: Any) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr(road, "write_preview", pressed)
    raw = (piece / "piece.json").read_bytes()
    code, _, err = passalong("make", small_photos, "--out", piece, "--repeats", "3")
    assert code == 130
    changed = (piece / "piece.json").read_bytes() != raw
    assert changed
    assert "as it was" not in err
    assert "saved" in err


# ── corrections ───────────────────────────────────────────────────────────────────────────


def test_a_split_that_misses_is_refused(piece: Path, passalong: Command):
    raw = (piece / "piece.json").read_bytes()
    told = passalong("split", piece, "table-1", "--along", "300,10", "470,12")
    refused(told, "table-1", "30", "80")  # where the scrap lies
    assert (piece / "piece.json").read_bytes() == raw


def test_a_redraw_onto_another_scrap_is_refused(piece: Path, passalong: Command):
    raw = (piece / "piece.json").read_bytes()
    onto = ("182,82", "288,82", "288,278", "182,278")
    refused(passalong("redraw", piece, "table-1", "--outline", *onto), "table-2", "180", "80")
    assert (piece / "piece.json").read_bytes() == raw


def test_a_name_serves_as_an_id(piece: Path, passalong: Command):
    assert passalong("name", piece, "table-2=low sun")[0] == 0
    code, out, err = passalong("order", piece, "--without", "low sun", "--json")
    assert code == 0, err
    assert "table-2" not in json.loads(out)["order"]
    assert json.loads(out)["left_out"] == ["table-2"]
    assert passalong("size", piece, "low sun=9x3")[0] == 0
    assert prints_of(passalong, piece)["table-2"]["size_in"] == [9, 3]
    assert passalong("drop", piece, "low sun")[0] == 0
    assert "table-2" not in prints_of(passalong, piece)


def test_names_are_unique(piece: Path, passalong: Command):
    assert passalong("name", piece, "moss=low sun")[0] == 0
    refused(passalong("name", piece, "reed=low sun"), "low sun")
    refused(passalong("name", piece, "reed=moss"), "moss")


def test_swatches_hold_what_was_photographed(piece: Path):
    """The shared piece is what the tests above take it for."""
    for path in (piece / "swatches").glob("*.png"):
        with PIL.Image.open(path) as image:
            assert np.asarray(image.convert("RGB")).std() > 1
