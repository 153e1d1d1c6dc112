"""Pictures for the wall: what is sent are the very bytes that the room of pictures draws."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from sequencer.kept import Kept
from sequencer.plan import scale
from sequencer.planning import planned
from sequencer.rendering import bands, frame, geometry, page_ppi, render, sew
from sequencer.rendering.textures import Cloth

from .conftest import Browser


def unpacked(data: bytes) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """A packet by the words of its format alone."""
    size = int.from_bytes(data[:4], "little")
    head, at, images = json.loads(data[4 : 4 + size]), 4 + size, {}
    for one in head["images"]:
        count = one["width"] * one["height"] * 4
        pixels = np.frombuffer(data[at : at + count], np.uint8)
        images[one["name"]] = pixels.reshape(one["height"], one["width"], 4)
        at += count
    assert at == len(data)
    return head, images


def asked(browser: Browser, path: str) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    answer = browser.send("GET", path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/octet-stream"
    return unpacked(answer.content)


@pytest.mark.parametrize("view", ["colour", "tritan"])
def test_bands_and_frame_are_the_rooms_own(browser: Browser, view: str) -> None:
    piece, plan = planned(browser.opened.piece())
    prints, ppi = list(piece.prints), page_ppi(plan, 30)
    head, sent = asked(browser, f"/api/bands?ppi=30&view={view}")
    assert head["order"] == list(plan.prints)
    assert head["geometry"] == json.loads(json.dumps(geometry(plan, ppi).to_json()))
    for key, pixels in bands(plan, prints, ppi, view).items():
        assert np.array_equal(sent[f"band:{key}"], pixels)
    _, edge = asked(browser, f"/api/frame?ppi=30&view={view}")
    assert np.array_equal(edge["frame"], frame(plan, prints, ppi, view))


def test_across_the_room_is_the_picture_of_it(browser: Browser) -> None:
    piece, plan = planned(browser.opened.piece())
    _, sent = asked(browser, "/api/far?ppi=20")
    drawn = render(plan, list(piece.prints), ppi=page_ppi(plan, 20), view="across-room")
    assert np.array_equal(sent["far"][..., :3], np.asarray(drawn))
    assert (sent["far"][..., 3] == 255).all()


def test_from_afar_no_more_is_drawn_than_can_be_seen(browser: Browser) -> None:
    _, images = asked(browser, "/api/far?ppi=1200")
    height, width = images["far"].shape[:2]
    assert 1_500_000 < height * width <= 4_000_000  # a scale of whole pixels lies near


def test_cloth_that_is_kept_is_bounded_by_its_bytes(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked(browser, "/api/bands?ppi=60")
    one = browser.opened._wall._cloth.weight
    assert one > 0
    few: Kept[Cloth] = Kept(2 * one, lambda cloth: cloth.nbytes)
    monkeypatch.setattr(browser.opened._wall, "_cloth", few)
    first = asked(browser, "/api/bands?ppi=60")[1]
    for view in ("value", "protan", "deutan", "tritan"):
        asked(browser, f"/api/bands?ppi=60&view={view}")
        held = sum(cloth.nbytes for cloth in few._things.values())
        assert held == few.weight <= 2 * one
    again = asked(browser, "/api/bands?ppi=60")[1]
    assert all(np.array_equal(again[key], first[key]) for key in first)


def test_a_trial_is_what_is_kept_when_she_lets_go(browser: Browser) -> None:
    """A line drawn: the same columns and pixels in the trial and after it."""
    before = browser.look()
    line = before["plan"]["line"]
    rows = [row + (1.5 if 40 < k < 90 else 0) for k, row in enumerate(line["rows"])]
    body = {"rows": rows, "base": line["base"] + 1, "ppi": 30, "serial": 7, "frame": True}
    answer = browser.send("POST", "/api/trial", body)
    assert answer.status_code == 200, answer.text
    head, sent = unpacked(answer.content)
    assert head["serial"] == 7
    assert browser.look()["revision"] == before["revision"]
    after = browser.do("POST", "/api/plan", {"rows": rows, "base": line["base"] + 1})
    assert after["plan"]["columns"] == head["plan"]["columns"] != before["plan"]["columns"]
    assert after["plan"]["line"]["rows"] == pytest.approx(rows, abs=1e-3)
    piece, plan = planned(browser.opened.piece())
    ppi = page_ppi(plan, 30)
    whole = sent["frame"].copy()
    cut = {name.removeprefix("band:"): pixels for name, pixels in sent.items() if name != "frame"}
    x, y, wide, tall = head["geometry"]["centre"]
    whole[y : y + tall, x : x + wide] = sew(cut, geometry(plan, ppi), plan.prints)
    assert np.array_equal(whole[..., :3], np.asarray(render(plan, list(piece.prints), ppi=ppi)))


def test_the_same_design_at_another_size_is_the_one_that_scaling_answers(browser: Browser) -> None:
    head, sent = asked(browser, "/api/scaled?size=6x5&ppi=24")
    piece, plan = planned(browser.opened.piece())
    found = scale(plan, list(piece.prints), "6x5")
    assert head["plan"]["centre"] == ["6", "5"]
    assert [one["question"] for one in head["answers"]] == [one.question for one in found.answers]
    ppi = page_ppi(found.plan, 24)
    cut = bands(found.plan, list(piece.prints), ppi)
    assert all(np.array_equal(sent[f"band:{key}"], pixels) for key, pixels in cut.items())
    assert "frame" in sent
    assert browser.send("GET", "/api/scaled?size=&ppi=24").status_code == 400


def test_a_moved_cloth_keeps_widths_columns_and_bands(browser: Browser) -> None:
    before = browser.look()["plan"]
    _, cut = asked(browser, "/api/bands?ppi=30")
    _, edge = asked(browser, "/api/frame?ppi=30")
    order = [*before["prints"][3:], *before["prints"][:3][::-1]]
    after = browser.do("PUT", "/api/sequence", {"order": order})["plan"]
    assert after["prints"] == order
    assert after["strip"] == before["strip"]
    assert after["columns"] == before["columns"]
    _, again = asked(browser, "/api/bands?ppi=30")
    assert set(cut) == set(again)
    assert all(np.array_equal(cut[name], again[name]) for name in cut)
    assert np.array_equal(asked(browser, "/api/frame?ppi=30")[1]["frame"], edge["frame"])


@pytest.mark.parametrize(("path", "words"), [
    ("/api/bands?ppi=0", "Pixels an inch"), ("/api/bands?ppi=many", "Pixels an inch"),
    ("/api/bands", "Pixels an inch"), ("/api/frame?ppi=1e9", "Pixels an inch"),
    ("/api/bands?ppi=30&view=sepia", "no view 'sepia'"),
])  # fmt: skip
def test_pictures_that_make_no_sense_are_refused(browser: Browser, path: str, words: str) -> None:
    answer = browser.send("GET", path)
    assert answer.status_code == 400
    assert words in answer.json()["error"]


def test_a_trial_that_cannot_be_sewn_says_why(browser: Browser) -> None:
    answer = browser.send("POST", "/api/trial", {"wishes": {"size": "1/8x9"}})
    assert answer.status_code == 422
    assert "holds no column" in answer.json()["error"]
    answer = browser.send("POST", "/api/trial", {"rows": [1.0]})
    assert answer.status_code == 400
    assert "at 1 place" in answer.json()["error"]
