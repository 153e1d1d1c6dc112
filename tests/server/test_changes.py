"""Changes by hand on the page: each on the revision it saw, each taken back, none overwritten."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sequencer.corrections import rename, resize
from sequencer.errors import PieceChangedError
from sequencer.opened import changes
from sequencer.piece import load, undo
from tests.conftest import cloth
from tests.server.conftest import Browser, entered
from tests.server.test_photos import lines_of, upload

Command = Callable[..., tuple[int, str, str]]


def swapped(order: list[str]) -> list[str]:
    """Two neighbours changed over."""
    return [order[1], order[0], *order[2:]]


def test_the_document_is_the_piece(browser: Browser, piece: Path):
    kept, told = load(piece), browser.document
    assert told["schema"] == "passalong.page/1"
    assert told["moment"] == "piece"
    assert told["revision"] == kept.revision
    assert [one["id"] for one in told["prints"]] == [one.id for one in kept.prints]
    assert kept.sequence is not None
    assert told["sequence"]["order"] == list(kept.sequence.order)
    assert told["plan"]["prints"] == list(kept.sequence.order)
    assert {one["id"] for one in told["photos"]} == {photo.id for photo in kept.photos}


def test_her_order_keeps_each_strip_with_its_print(browser: Browser):
    before = browser.document["plan"]
    order = swapped(browser.document["sequence"]["order"])
    after = browser.do("PUT", "/api/sequence", {"order": order})
    assert after["plan"]["prints"] == order
    assert after["plan"]["strip"] == before["strip"]
    assert after["plan"]["columns"] == before["columns"]
    assert after["sequence"]["own"] is True
    assert after["sequence"]["percent"] > 0


def test_moving_cloth_asks_for_no_other_piece(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
):
    asked: list[object] = []
    monkeypatch.setattr(changes, "planned_anyhow", asked.append)
    browser.do("PUT", "/api/sequence", {"order": swapped(browser.document["sequence"]["order"])})
    assert asked == []


def test_a_price_is_that_of_the_order_laid(browser: Browser):
    order = swapped(browser.document["sequence"]["order"])
    price = browser.do("POST", "/api/price", {"order": order})
    laid = browser.do("PUT", "/api/sequence", {"order": order})
    assert round(laid["sequence"]["percent"], 2) == price["percent"]
    assert price["price"] == laid["sequence"]["price"]
    said = [(one["verdict"], one["certain"], one["words"]) for one in price["neighbours"]]
    assert said == [(one["verdict"], one["certain"], one["words"])
                    for one in laid["sequence"]["neighbours"]]  # fmt: skip
    assert "perhaps" in "".join(words for _, _, words in said)  # what was in doubt stays so


def test_an_order_that_cannot_be_is_told(browser: Browser):
    order = browser.document["sequence"]["order"]
    answer = browser.send("PUT", "/api/sequence", {"order": [order[0], *order]})
    assert answer.status_code == 422
    assert "more than once" in answer.json()["error"]
    assert browser.look()["sequence"]["order"] == order


def test_a_print_left_in_the_box_stays_there_until_it_is_taken(browser: Browser):
    order = browser.document["sequence"]["order"]
    left = browser.do("PUT", "/api/sequence", {"order": order[1:]})
    assert left["sequence"]["left_out"] == [order[0]]
    best = browser.do("POST", "/api/order", {"wishes": {}})
    assert order[0] in best["sequence"]["left_out"]
    assert best["sequence"]["own"] is False
    back = browser.do("POST", "/api/order", {"wishes": {"exclude": None}})
    assert sorted(back["sequence"]["order"]) == sorted(order)


def test_the_first_order_closes_its_ring(tmp_path: Path):
    """Nothing was wished: the set repeats, so the last print meets the first, as the price says."""
    browser = entered(tmp_path / "new")
    for name, colour in (("a.jpg", (70, 95, 50)), ("b.jpg", (200, 180, 130)),
                         ("c.jpg", (40, 60, 120))):  # fmt: skip
        lines_of(upload(browser, cloth(tmp_path / name, colour).read_bytes(), name))
    told = browser.look()["sequence"]
    browser.long.close()
    assert told["loop"] is True
    assert len(told["neighbours"]) == 3
    price = browser.do("POST", "/api/price", {"order": told["order"]})
    assert price["percent"] == 0


def test_her_order_stays_when_a_photograph_is_added(browser: Browser, tmp_path: Path):
    order = browser.document["sequence"]["order"]
    mine = [order[3], order[0], order[4], order[1], order[5], order[2]]  # one stays in the box
    browser.do("PUT", "/api/sequence", {"order": mine})
    lines_of(upload(browser, cloth(tmp_path / "fern.jpg", (60, 110, 60), 11).read_bytes(),
                    "fern.jpg"))  # fmt: skip
    told = browser.look()["sequence"]
    assert [one for one in told["order"] if one != "fern"] == mine
    assert "fern" in told["order"]
    assert told["left_out"] == [order[6]]
    assert told["own"] is True
    prices = {}
    for place in range(1, len(mine) + 1):
        laid = [*mine[:place], "fern", *mine[place:]]
        prices[tuple(laid)] = browser.do("POST", "/api/price", {"order": laid})["percent"]
    assert prices[tuple(told["order"])] == min(prices.values())


def test_wishes_wait_beside_her_own_order(
    browser: Browser, piece: Path, passalong: Command, tmp_path: Path
):
    first = browser.document["sequence"]["order"][2]
    pinned = browser.do("POST", "/api/order", {"wishes": {"first": first}})
    assert pinned["sequence"]["order"][0] == first
    own = browser.do("PUT", "/api/sequence", {"order": swapped(pinned["sequence"]["order"])})
    assert own["sequence"]["wishes"]["first"] == first
    fern = cloth(tmp_path / "fern.jpg", (60, 110, 60), 11)
    assert passalong("read", fern, "--out", piece)[0] == 0
    assert passalong("plan", piece)[0] == 0  # the terminal takes both as they are kept
    told = browser.look()["sequence"]
    assert told["order"] == own["sequence"]["order"]
    assert told["left_out"] == ["fern"]
    assert browser.do("POST", "/api/order", {"wishes": {}})["sequence"]["order"][0] == first


def test_other_good_orders_lie_beside_the_best(browser: Browser):
    told = browser.do("POST", "/api/order", {"wishes": {}})["sequence"]
    assert told["others"]
    for other in told["others"]:
        assert sorted(other["order"]) == sorted(told["order"])
        assert other["order"] != told["order"]
        assert other["note"]


def test_a_strip_is_moved_and_the_rest_stays(browser: Browser):
    before = browser.document["plan"]
    after = browser.do("POST", "/api/plan", {"wishes": {"strip": "3/8"}})["plan"]
    assert set(after["strip"].values()) == {"3/8"}
    assert after["repeats"] == before["repeats"]
    assert after["centre"][0] == before["centre"][0]
    again = browser.do("POST", "/api/plan", {"wishes": {"repeats": 3}})["plan"]
    assert again["repeats"] == 3
    assert again["strip"] == after["strip"]


def test_a_size_is_filled(browser: Browser):
    after = browser.do("POST", "/api/plan", {"wishes": {"size": "8x7"}})["plan"]
    assert after["centre"] == ["8", "7"]
    wider = browser.do("POST", "/api/plan", {"wishes": {"size": "9x7"}})["plan"]
    assert wider["centre"] == ["9", "7"]
    assert wider["strip"] == after["strip"]


def test_units_change_and_all_lengths_with_them(browser: Browser):
    told = browser.do("POST", "/api/plan", {"wishes": {"units": "cm"}})
    assert told["units"] == told["plan"]["units"] == "cm"
    for width in told["plan"]["strip"].values():
        assert round(10 * float(width), 6).is_integer()  # whole millimetres


def test_what_cannot_be_sewn_is_told_and_changes_nothing(browser: Browser):
    answer = browser.send("POST", "/api/plan", {"wishes": {"size": "8x1/4"}})
    assert answer.status_code == 422
    assert "cannot fill" in answer.json()["error"]
    assert browser.look()["plan"]["centre"] != ["8", "1/4"]


def test_what_is_no_wish_is_refused(browser: Browser):
    for path, body in (("/api/plan", {"wishes": {"colour": "red"}}),
                       ("/api/order", {"wishes": {"sequence": ["a"]}}),
                       ("/api/plan", {"wish": {}}), ("/api/price", {"order": "abc"}),
                       ("/api/price", [])):  # fmt: skip
        answer = browser.send("POST", path, body)
        assert answer.status_code == 400, path
        assert answer.json()["code"] == "usage"


def test_every_change_is_taken_back_and_again_also_after_a_restart(browser: Browser, piece: Path):
    seen = [browser.document]
    for method, path, body in (
        ("PUT", "/api/sequence", {"order": swapped(seen[0]["sequence"]["order"])}),
        ("POST", "/api/plan", {"wishes": {"repeats": 1}}),
        ("PATCH", "/api/prints/moss", {"name": "wet moss"}),
        ("PATCH", "/api/prints/reed", {"sizes": [["9 1/2", "6"]]}),
        ("POST", "/api/order", {"wishes": {"first": "sand"}}),
    ):
        seen.append(browser.do(method, path, body))
    again = entered(piece)  # the program was started anew
    for earlier in seen[-2::-1]:
        assert unlike(again.do("POST", "/api/undo"), earlier) == []
    for later in seen[1:]:
        assert unlike(again.do("POST", "/api/redo"), later) == []
    assert again.send("POST", "/api/redo").status_code == 422


def unlike(one: dict[str, Any], other: dict[str, Any]) -> list[str]:
    """Parts of two documents that differ, but for what tells the way back."""
    ways = ("revision", "undo", "redo", "steps")
    return [key for key in one if key not in ways and one[key] != other[key]]


def test_a_name_keeps_the_picture(browser: Browser):
    before = browser.document["plan"]
    after = browser.do("PATCH", "/api/prints/moss", {"name": "wet moss"})
    assert next(one for one in after["prints"] if one["id"] == "moss")["name"] == "wet moss"
    for key in ("prints", "strip", "columns", "centre", "search"):
        assert after["plan"][key] == before[key]
    assert any("wet moss" in line for line in after["summary"]["piece"])


def test_a_size_is_typed_in_the_pieces_units(browser: Browser):
    browser.do("POST", "/api/plan", {"wishes": {"units": "cm"}})
    after = browser.do("PATCH", "/api/prints/moss", {"sizes": [["24", "15.5"], ["10", "8"]]})
    moss = next(one for one in after["prints"] if one["id"] == "moss")
    assert moss["sizes"] == [["24", "15.5"], ["10", "8"]]
    assert after["plan"] is not None


# ── two at once ───────────────────────────────────────────────────────────────────────────


def test_a_change_on_an_older_piece_is_refused_with_the_newer(browser: Browser, piece: Path):
    other = entered(piece)
    order = other.document["sequence"]["order"]
    newer = other.do("PUT", "/api/sequence", {"order": swapped(order)})
    answer = browser.send("POST", "/api/plan", {"wishes": {"repeats": 1}})
    assert answer.status_code == 409
    told = answer.json()
    assert told["code"] == "changed"
    assert told["revision"] == newer["revision"] == answer.headers["etag"].strip('"')
    assert told["sequence"]["order"] == swapped(order)
    assert load(piece).revision == newer["revision"]


def test_undo_of_an_older_piece_is_refused_too(browser: Browser, piece: Path):
    entered(piece).do("PATCH", "/api/prints/moss", {"name": "wet moss"})
    assert browser.send("POST", "/api/undo").status_code == 409
    assert load(piece).names == {"moss": "wet moss"}


def test_undo_looks_again_once_it_holds_the_folder(piece: Path):
    before = load(piece).revision
    rename(piece, {"moss": "wet moss"})
    with pytest.raises(PieceChangedError, match="changed by another program"):
        undo(piece, expecting=before)
    assert load(piece).names == {"moss": "wet moss"}


def test_the_terminal_and_the_page_see_each_other(
    browser: Browser, piece: Path, passalong: Command
):
    assert passalong("name", piece, "moss=wet moss")[0] == 0
    tag = f'"{browser.document["revision"]}"'
    seen = browser.client.get("/api/piece", headers={"if-none-match": tag})
    assert seen.status_code == 200
    assert "wet moss" in [one["name"] for one in seen.json()["prints"]]
    browser.look()
    browser.do("PATCH", "/api/prints/reed", {"name": "dry reed"})
    assert {one.name for one in load(piece).prints} >= {"wet moss", "dry reed"}


def test_a_size_typed_in_the_terminal_keeps_the_picture(
    browser: Browser, piece: Path, passalong: Command
):
    assert passalong("size", piece, "moss=9x4")[0] == 0
    told = browser.look()
    assert told["moment"] == "piece"
    assert browser.client.get("/api/bands?ppi=16&view=colour").status_code == 200
    assert load(piece).plan is None  # looking changes nothing
    assert browser.do("POST", "/api/plan", {"wishes": {"repeats": 1}})["plan"]["repeats"] == 1


def test_names_typed_while_others_work_are_joined(browser: Browser, piece: Path):
    rename(piece, {"reed": "dry reed"})
    resize(piece, {"sand": "9x4"})
    told = browser.do("PATCH", "/api/prints/moss", {"name": "wet moss"})
    assert {one["name"] for one in told["prints"]} >= {"dry reed", "wet moss"}


def test_two_names_for_one_print_are_not_joined(browser: Browser, piece: Path):
    rename(piece, {"moss": "dark moss"})
    answer = browser.send("PATCH", "/api/prints/moss", {"name": "wet moss"})
    assert answer.status_code == 409
    assert load(piece).names == {"moss": "dark moss"}


def test_nothing_is_loaded_again_that_is_known(browser: Browser):
    tag = f'"{browser.document["revision"]}"'
    assert browser.client.get("/api/piece", headers={"if-none-match": tag}).status_code == 304


def test_a_change_says_what_it_was_made_on(browser: Browser):
    answer = browser.send("POST", "/api/undo", headers={"if-match": ""})
    assert answer.status_code == 400
    assert "If-Match" in answer.json()["error"]
