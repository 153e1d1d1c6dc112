"""What is said stands where it is about, and each remedy that is offered works."""

from __future__ import annotations

import string
from pathlib import Path
from typing import Any

import pytest

from sequencer.corrections import resize
from sequencer.keeping.state import Piece
from sequencer.models import Neighbours
from sequencer.opened.shown.meetings import parting, runs_of
from sequencer.order import transition_graph
from tests.conftest import cloth
from tests.made.cloths import plain_cloth, sequence_of
from tests.server.conftest import Browser, entered
from tests.server.test_photos import lines_of, upload

LARGE = dict.fromkeys(("clay", "moss", "reed", "sand", "table-1", "table-2", "table-3"), "30x20")


@pytest.fixture
def roomy(piece: Path) -> Browser:
    """A piece whose scraps are large enough for anything."""
    resize(piece, LARGE)
    browser = entered(piece)
    lines_of(browser.send("POST", "/api/first"))
    browser.look()
    return browser


def of_kind(document: dict[str, Any], words: str) -> list[dict[str, Any]]:
    return [one for one in document["said"] if words in one["text"]]


def remedied(browser: Browser, words: str) -> dict[str, Any]:
    """The document after the first remedy of what is said in these words."""
    one = next(one for one in of_kind(browser.document, words) if one["remedy"])
    remedy = one["remedy"]
    return browser.do(remedy["method"], remedy["path"], remedy["body"])


def test_cloth_that_is_short_is_pinned_at_its_print_and_mended(roomy: Browser, piece: Path):
    roomy.do("POST", "/api/plan", {"wishes": {"size": "20x7"}})
    assert of_kind(roomy.document, "too short") == []
    told = roomy.do("PATCH", "/api/prints/moss", {"sizes": [["24", "3"]]})
    short = of_kind(told, "too short")
    assert [one["at"] for one in short] == [{"print": "moss"}]
    assert of_kind(remedied(roomy, "too short"), "too short") == []


def test_a_line_too_steep_is_pinned_where_it_climbs_and_flattened(roomy: Browser):
    rows = [0.0] * 64 + [6.0] * 65  # a cliff in the middle
    told = roomy.do("POST", "/api/plan", {"rows": rows, "base": 0, "wishes": {}})
    (steep,) = of_kind(told, "too steep")
    columns = told["plan"]["columns"]
    assert 0 <= steep["at"]["column"] < len(columns)
    smooth = [6 * (1 - abs(place - 64) / 64) for place in range(129)]
    told = roomy.do("POST", "/api/plan", {"rows": [3 * row for row in smooth], "wishes": {}})
    if of_kind(told, "too steep") and of_kind(told, "too steep")[0]["remedy"]:
        assert of_kind(remedied(roomy, "too steep"), "too steep") == []


def test_columns_of_her_own_that_stray_follow_again(roomy: Browser):
    width = float(roomy.document["plan"]["centre"][0].split()[0])
    halves = [str(width / 2)] * 2
    told = roomy.do("POST", "/api/plan", {"wishes": {"columns": halves, "curve_height": 6}})
    if of_kind(told, "stray"):
        assert of_kind(remedied(roomy, "stray"), "stray") == []


@pytest.mark.parametrize(("wishes", "words", "label"), [
    ({"strip": "1 1/16"}, "ruler", "Make the strips"),
    ({"press": "nested", "strip": {"moss": "1 1/2"}}, "cannot nest", "Press the seams open"),
    ({"columns": ["10"]}, "one column", "Let the columns follow the line"),
])  # fmt: skip
def test_what_is_about_the_whole_piece_has_a_remedy_that_was_tried(
    roomy: Browser, wishes: dict[str, Any], words: str, label: str
):
    roomy.do("POST", "/api/plan", {"wishes": {"size": "10x7", "repeats": 1}})
    told = roomy.do("POST", "/api/plan", {"wishes": wishes})
    (one,) = [one for one in of_kind(told, words) if "stray" not in one["text"]]
    assert one["remedy"]["label"].startswith(label)
    assert of_kind(remedied(roomy, words), words) == []


def test_twins_run_into_each_other_and_one_goes_into_the_box(roomy: Browser, tmp_path: Path):
    twin = cloth(tmp_path / "twin.jpg", (70, 95, 50), 99).read_bytes()
    lines_of(upload(roomy, twin, "twin.jpg"))
    told = roomy.look()
    blurs = of_kind(told, "run into each other")
    pair = next(one for one in blurs if set(one["at"]["pair"]) == {"moss", "twin"})
    assert pair["remedy"]["label"].startswith("Leave ")
    after = roomy.do(pair["remedy"]["method"], pair["remedy"]["path"], pair["remedy"]["body"])
    assert len(after["sequence"]["left_out"]) == 1
    assert all(set(one["at"]["pair"]) != {"moss", "twin"}
               for one in of_kind(after, "run into each other"))
    jumps = [[one for one in document["sequence"]["neighbours"] if one["verdict"] == "jumps"]
             for document in (told, after)]  # fmt: skip
    assert len(jumps[1]) <= len(jumps[0])


def chain(verdicts: str, loop: bool = True) -> list[Neighbours]:
    """Meetings of prints a, b, c … in order: j jumps, g is gentle."""
    names = string.ascii_lowercase
    last = len(verdicts) - 1
    return [
        Neighbours(names[at], names[0] if loop and at == last else names[at + 1], 10.0,
                   verdict={"j": "jumps", "g": "gentle"}[verdict])
        for at, verdict in enumerate(verdicts)
    ]  # fmt: skip


@pytest.mark.parametrize(("verdicts", "runs"), [
    ("ggg", []), ("gjg", ["bc"]), ("gjjg", ["bcd"]), ("jgj", ["cab"]), ("jgjg", ["ab", "cd"]),
])  # fmt: skip
def test_jumps_that_follow_one_another_are_one_sentence(verdicts: str, runs: list[str]):
    told = ["".join([run[0].a, *(one.b for one in run)]) for run in runs_of(chain(verdicts))]
    assert told == runs


GREYS = {"a": (60, 0, 0), "b": (66, 0, 0), "g": (78, 0, 0), "h": (84, 0, 0)}


@pytest.mark.parametrize(("changed", "button"), [
    ({}, "Leave acid cloth and violet cloth in the box"),  # b and g then meet gently
    ({"b": (77, 0, 0)}, None),  # b and g would blur
    ({"g": (90, 20, 90), "h": (90, 25, 85)}, None),  # b and g would jump
])  # fmt: skip
def test_strangers_are_left_out_where_the_rest_then_meets_well(
    changed: dict[str, tuple[int, int, int]], button: str | None
):
    greys = [plain_cloth(name, *lab) for name, lab in {**GREYS, **changed}.items()]
    strangers = [plain_cloth("acid", 88, -60, 85), plain_cloth("violet", 32, 70, -95)]
    prints = [*greys[:2], *strangers, *greys[2:]]
    graph = transition_graph(prints)
    found = sequence_of(graph, [one.id for one in prints])
    piece = Piece(prints=tuple(prints), sequence=found)
    run = next(one for one in runs_of(found.neighbours) if one[0].b == "acid")
    assert [one.b for one in run][:2] == ["acid", "violet"]
    remedy = parting(piece, run, graph, piece.labels)
    assert (remedy and remedy["label"]) == button
    if remedy:
        assert remedy["body"]["order"] == ["a", "b", "g", "h"]


def test_two_strangers_go_into_the_box_together(roomy: Browser, tmp_path: Path):
    """Two prints of colours that no other has: one sentence, and one remedy for both."""
    for name, colour in (("acid.jpg", (215, 235, 20)), ("violet.jpg", (110, 0, 200))):
        lines_of(upload(roomy, cloth(tmp_path / name, colour).read_bytes(), name))
    told = roomy.look()
    jumps = of_kind(told, "jump")
    assert len(jumps) < sum(one["verdict"] == "jumps" for one in told["sequence"]["neighbours"])
    for one in jumps:
        assert one["remedy"] or "sheets show its colours" in one["text"]
    for one in [one for one in jumps if one["remedy"]]:
        remedy = one["remedy"]
        after = roomy.do(remedy["method"], remedy["path"], remedy["body"])
        assert one["text"] not in [other["text"] for other in after["said"]]
        roomy.do("POST", "/api/undo")


def test_every_remedy_offered_is_taken(roomy: Browser):
    """Whatever is said of many a plan: its remedy is accepted, and the sentence is gone."""
    taken = 0
    for wishes in ({"curve_height": 5}, {"curve": "zigzag"}, {"press": "nested", "strip": "1/4"},
                   {"size": "30x7"}, {"smallest": "1/4", "curve_height": 2}, {"strip": "1/4"}):
        told = roomy.do("POST", "/api/plan", {"wishes": wishes})
        for one in [one for one in told["said"] if one["remedy"]]:
            remedy = one["remedy"]
            after = roomy.do(remedy["method"], remedy["path"], remedy["body"])
            assert one["text"] not in [other["text"] for other in after["said"]], one
            taken += 1
            roomy.do("POST", "/api/undo")
    assert taken


def test_what_blocks_is_one_sentence_and_the_picture_is_there(tmp_path: Path):
    browser = entered(tmp_path / "new")
    for name, colour in (("a.jpg", (70, 95, 50)), ("b.jpg", (200, 180, 130))):
        lines_of(upload(browser, cloth(tmp_path / name, colour).read_bytes(), name))
    told = browser.look()
    browser.long.close()
    assert told["plan"] is not None
    assert told["blocked"].startswith("No scrap's size is known")


def test_sentences_are_few_and_numbered(browser: Browser):
    told = browser.document["said"]
    assert [one["n"] for one in told] == list(range(1, len(told) + 1))
    assert len(told) <= 8
    prints = {one["id"] for one in browser.document["prints"]}
    for one in told:
        assert set(one["at"]) <= {"print", "pair", "column", "photo", "size"}
        assert {one["at"].get("print", "moss"), *one["at"].get("pair", [])} <= prints
