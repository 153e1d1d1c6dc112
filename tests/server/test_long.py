"""Long work by its routes: what is set right, what scraps can give, each one step to take back."""

from __future__ import annotations

import io
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sequencer.corrections import drop, rename, resize
from sequencer.intake import agreeing
from sequencer.opened import child, code_of, working
from sequencer.opened.child import Child
from sequencer.opened.working import picture
from sequencer.photo.agreement import texture, ties
from sequencer.piece import load
from sequencer.reading import seen
from tests.server.conftest import Browser, entered
from tests.server.test_photos import lines_of


def job(browser: Browser, method: str, path: str, body: Any = None) -> dict[str, Any]:
    """A job's last line, which says no error; the document after it is loaded."""
    told = lines_of(browser.send(method, path, body))
    assert "error" not in told[-1], told[-1]
    browser.look()
    if "revision" in told[-1]:
        assert told[-1]["revision"] == browser.document["revision"]
    return told[-1]


def table_of(browser: Browser) -> dict[str, Any]:
    return next(one for one in browser.document["photos"] if one["name"] == "table.jpg")


def scraps(browser: Browser, op: str, **more: Any) -> None:
    job(browser, "POST", "/api/scraps", {"op": op, **more})


def middle(outline: list[list[float]]) -> tuple[float, float]:
    xs, ys = zip(*outline, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def test_finds_are_set_right_one_by_one_and_all_taken_back(browser: Browser):
    start = browser.document
    _, y = middle(next(one for one in start["prints"] if one["id"] == "table-2")["outline"])
    photo = table_of(browser)["id"]
    for op, more, prints in (
        ("drop", {"ids": ["table-1"]}, 6),
        ("split", {"ids": ["table-2"], "line": [[0, y], [480, y]]}, 7),
        ("redraw", {"ids": ["table-3"], "line": [[340, 100], [430, 100], [430, 260], [340, 260]]},
         7),
        ("add", {"photo": photo, "line": [[35, 90], [135, 90], [135, 270], [35, 270]]}, 8),
        ("same", {"ids": ["clay", "moss"]}, 8),
        ("different", {"ids": ["clay", "moss"]}, 8),
    ):
        scraps(browser, op, **more)
        assert len(browser.document["prints"]) == prints, op
        assert browser.document["moment"] == "piece", op
        assert browser.document["plan"]["prints"], op
    assert len(browser.document["steps"]) == 6  # each with its picture is one step
    for _ in range(6):
        browser.do("POST", "/api/undo")
    for key in ("prints", "sequence", "plan"):
        assert browser.document[key] == start[key]


def test_what_cannot_be_set_right_is_told(browser: Browser):
    for body, words in (({"op": "split", "ids": ["moss"], "line": [[-9, -9], [-8, -9]]}, "not cut"),
                        ({"op": "drop", "ids": ["fern"]}, "no print"),
                        ({"op": "fold", "ids": ["moss"]}, "no correction")):  # fmt: skip
        told = lines_of(browser.send("POST", "/api/scraps", body))
        assert words in told[-1]["error"]
    assert browser.look()["steps"] == []


def test_long_work_on_an_older_piece_is_refused(browser: Browser, piece: Path):
    rename(piece, {"moss": "wet moss"})
    for path, body in (("/api/scraps", {"op": "drop", "ids": ["moss"]}), ("/api/largest", {}),
                       ("/api/best", {}), ("/api/ways-out", None), ("/api/first", None),
                       ("/api/sample", None)):  # fmt: skip
        answer = browser.send("POST", path, body)
        assert answer.status_code == 409, path
        assert answer.json()["schema"] == "passalong.page/1"


def test_what_is_done_before_the_picture_follows_holds(browser: Browser, piece: Path):
    """A correction is saved before its picture: what is done on it meanwhile is not refused."""
    drop(piece, ["table-1"])
    between = browser.look()
    assert between["sequence"] is None
    picture(lambda line: None, piece, between["revision"])
    assert load(piece).revision != between["revision"]
    scraps(browser, "drop", ids=["table-2"])
    assert [one["step"] for one in browser.document["steps"]] == ["drop table-1", "drop table-2"]


def test_what_another_did_on_a_correction_is_no_picture_that_follows(browser: Browser, piece: Path):
    drop(piece, ["table-1"])
    browser.look()
    drop(piece, ["table-2"])
    answer = browser.send("POST", "/api/scraps", {"op": "drop", "ids": ["table-3"]})
    assert answer.status_code == 409


def test_whoever_looks_at_a_photo_finds_it_ready_to_be_set_right(
    browser: Browser, piece: Path, monkeypatch: pytest.MonkeyPatch
):
    asked: list[Any] = []
    monkeypatch.setattr(Child, "do", lambda self, work, line, *given: asked.append((work, given)))
    photo = table_of(browser)
    assert browser.client.get(photo["screen"]).status_code == 200
    job(browser, "POST", "/api/first")  # what comes after it has waited for it
    assert asked[0] == (working.ready, (piece, photo["id"]))
    monkeypatch.setattr(seen, "LAST", seen.Last())
    working.ready(print, piece, photo["id"])
    monkeypatch.setattr(seen, "load", None)  # the file cannot be decoded once more
    line = [(340, 100), (430, 100), (430, 260), (340, 260)]
    before = {one.id: one for one in load(piece).prints}
    working.set_right(print, piece, "redraw", {"ids": ["table-3"], "line": line})
    after = {one.id: one for one in load(piece).prints}
    assert after["table-3"].outline != before["table-3"].outline
    assert after["table-2"].palette == before["table-2"].palette


def test_cloth_that_stays_is_not_compared_again(piece: Path, monkeypatch: pytest.MonkeyPatch):
    """She looks at a photograph and sets one scrap right: that scrap alone is compared."""
    monkeypatch.setattr(seen, "LAST", seen.Last())
    monkeypatch.setattr(agreeing, "_textures", {})
    monkeypatch.setattr(ties, "_ALIKE", 1e9)  # each may be each: all must be compared
    monkeypatch.setattr(ties, "_plausible", lambda gains: np.ones(gains.shape[:-1], bool))
    made, compared = [], []
    cloth, kinds = agreeing.texture, texture.kinds
    monkeypatch.setattr(agreeing, "texture", lambda pixels: made.append(1) or cloth(pixels))
    monkeypatch.setattr(texture, "kinds", lambda one: compared.append(1) or kinds(one))
    table = next(photo for photo in load(piece).photos if photo.name == "table.jpg")
    working.ready(print, piece, table.id)
    assert (len(made), len(compared)) == (7, 2 * 3 * 4)  # three scraps with four prints, two each
    line = [(340, 100), (430, 100), (430, 260), (340, 260)]
    working.set_right(print, piece, "redraw", {"ids": ["table-3"], "line": line})
    assert (len(made), len(compared)) == (7 + 1, 2 * 3 * 4 + 2 * 4)


def test_marks_of_a_photo(browser: Browser):
    photo = table_of(browser)["id"]
    corners = [[5, 300], [60, 300], [60, 355], [5, 355]]
    job(browser, "PUT", f"/api/photos/{photo}/marks", {"reference": "sheet", "marked": corners})
    told = table_of(browser)["reference"]
    assert told["said"] is True
    assert told["kind"] == "sheet"
    assert len(told["corners"]) == 4
    job(browser, "PUT", f"/api/photos/{photo}/marks", {"reference": "none", "marked": None})
    assert table_of(browser)["reference"] is None
    before = browser.document["prints"]
    job(browser, "PUT", f"/api/photos/{photo}/marks", {"scale": "1in=30"})
    size = {one["id"]: one["measured"] for one in browser.document["prints"]}
    assert size["table-1"] != {one["id"]: one["measured"] for one in before}["table-1"]


def test_pointing_where_nothing_has_corners_is_told(browser: Browser):
    photo = table_of(browser)["id"]
    told = lines_of(browser.send("PUT", f"/api/photos/{photo}/marks",
                                 {"point": "sheet", "at": [10, 10]}))  # fmt: skip
    assert told[-1]["code"] == "no_corners"


def test_a_photo_is_taken_out_and_comes_back(browser: Browser):
    photo = table_of(browser)
    job(browser, "DELETE", f"/api/photos/{photo['id']}")
    assert {one["id"] for one in browser.document["prints"]} == {"clay", "moss", "reed", "sand"}
    assert browser.document["plan"] is not None
    assert len(browser.do("POST", "/api/undo")["prints"]) == 7
    assert browser.client.get(photo["screen"]).status_code == 200


def test_a_size_is_forgotten_and_the_measured_one_is_back(browser: Browser):
    before = {one["id"]: one["measured"] for one in browser.document["prints"]}
    browser.do("PATCH", "/api/prints/table-1", {"sizes": [["9", "4"]]})
    told = browser.do("PATCH", "/api/prints/table-1", {"sizes": []})
    assert {one["id"]: one["measured"] for one in told["prints"]} == before


def test_largest_and_best_of_what_there_is(browser: Browser, piece: Path):
    resize(piece, dict.fromkeys(("clay", "moss", "reed", "sand", "table-1", "table-2", "table-3"),
                                "12x8"))
    browser.look()
    job(browser, "POST", "/api/best", {})
    best = browser.document["plan"]
    job(browser, "POST", "/api/best", {"size": "6x7"})
    assert browser.document["plan"]["centre"] == ["6", "7"]
    job(browser, "POST", "/api/largest", {})
    assert browser.document["plan"]["search"]["goal"] == "largest"
    assert area(browser.document["plan"]) >= area(best)
    assert [one["step"] for one in browser.document["steps"]][-3:] == [
        "best piece", "best piece 6x7", "largest piece"]


def area(plan: dict[str, Any]) -> float:
    from sequencer.inches import parse_length

    return float(parse_length(plan["centre"][0]) * parse_length(plan["centre"][1]))


def test_a_way_out_that_is_taken_is_the_plan_that_was_tried(browser: Browser):
    lacking = [one for one in browser.document["plan"]["fabric"] if one["short_by"] != "0"]
    assert lacking
    ways = job(browser, "POST", "/api/ways-out")["ways"]
    assert ways
    enough = next(way for way in ways if way["enough"])
    taken = browser.do(enough["method"], enough["path"], enough["body"])
    assert all(one["short_by"] == "0" for one in taken["plan"]["fabric"])
    old = browser.send(enough["method"], enough["path"], enough["body"])
    assert old.status_code == 422
    assert "ask again" in old.json()["error"]


def test_the_sample_box_one_tap_away(tmp_path: Path):
    browser = entered(tmp_path / "look round")
    told = lines_of(browser.send("POST", "/api/sample"))
    browser.long.close()
    assert len([line for line in told if "scraps" in line]) == 6
    document = browser.look()
    assert len(document["prints"]) == 13
    assert document["plan"] is not None
    assert document["sequence"]["others"]
    assert load(browser.opened.folder).photos[0].file is not None


def full(line: Any) -> None:
    raise OSError(28, "No space left on device")


def test_a_full_disk_in_the_child_is_told():
    told = io.BytesIO()
    child._do(full, (), told)
    kind, (text, name) = pickle.loads(told.getvalue())
    assert kind == "refused"
    assert "disk is full" in text
    assert code_of(name) == "disk"


def test_a_fault_in_the_child_is_told_and_the_page_goes_on(browser: Browser, piece: Path):
    job(browser, "POST", "/api/first")
    before = (piece / "piece.json").read_bytes()
    (piece / "piece.json").write_bytes(before[:100])
    answer = browser.client.get("/api/piece")
    assert answer.status_code == 422
    assert "damaged" in answer.json()["error"]
    (piece / "piece.json").write_bytes(before)
    assert browser.look()["moment"] == "piece"
