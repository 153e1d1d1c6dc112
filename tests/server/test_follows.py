"""How sure the order is follows its picture: saved beside it, no step, in nobody's way."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sequencer import piece as pieces
from sequencer.corrections import rename
from sequencer.models import Rejected, Sequence
from sequencer.opened import changes, working
from sequencer.opened.child import Child, HushedError
from sequencer.opened.jobs import Job, Jobs
from sequencer.opened.long import Long
from sequencer.opened.state import Opened
from sequencer.ordering import sequence as ordering
from sequencer.piece import load, redo, undo
from tests.server.conftest import Browser, entered
from tests.server.test_long import scraps

WAIT = 60
Command = Callable[..., tuple[int, str, str]]


def quiet(told: Any) -> None:
    """Nobody listens."""


def corrected(folder: Path) -> None:
    """A scrap taken out, and its picture: as it lies there before its doubt has come."""
    working.set_right(quiet, folder, "drop", {"ids": ["table-1"], "line": []})
    assert ordering.doubts_open(load(folder))


def comes(browser: Browser) -> dict[str, Any]:
    """The document once nothing follows any more, as a page sees it that looks again and again."""
    until = time.monotonic() + WAIT
    while browser.look()["sequence"]["following"]:
        assert time.monotonic() < until, "it never came"
        time.sleep(0.05)
    return browser.document


def test_the_doubt_follows_and_is_what_is_told_in_one_go(browser: Browser, piece: Path):
    scraps(browser, "drop", ids=["table-1"])
    first = browser.document
    assert first["sequence"]["following"]
    assert "Not yet tried" in first["sequence"]["sure"]
    last = comes(browser)
    assert "Not yet tried" not in last["sequence"]["sure"]
    assert last["steps"] == first["steps"]
    assert last["plan"] == first["plan"]
    kept = load(piece)
    wishes = {**kept.order_wishes, "alternatives": changes.OTHERS}
    whole = ordering.order(kept, wishes)[1]
    assert kept.sequence is not None
    assert {"exact": True, **kept.sequence.confidence} == whole.confidence
    assert certain(kept.sequence) == certain(whole)
    assert kept.sequence.notes == whole.notes
    assert not all(pair.certain for pair in whole.neighbours)  # else all of this says nothing


def certain(found: Sequence) -> list[tuple[str, str, bool]]:
    return [(one.a, one.b, one.certain) for one in found.neighbours]


def test_what_was_in_doubt_stays_so_until_it_is_tried_again(piece: Path):
    before = load(piece).sequence
    assert before is not None
    corrected(piece)
    now = load(piece).sequence
    assert now is not None
    pairs = {frozenset((one.a, one.b)) for one in before.neighbours if not one.certain}
    there = [one for one in now.neighbours if frozenset((one.a, one.b)) in pairs]
    assert there
    assert not any(one.certain for one in there)


def test_a_page_killed_between_leaves_a_whole_piece_and_the_next_one_goes_on(
    piece: Path, passalong: Command
):
    corrected(piece)
    code, _, _ = passalong("contrast", piece)
    assert code == 0
    told = passalong("sheets", piece, "--out", piece / "s.pdf")
    assert told[0] == 0
    assert ordering.doubts_open(load(piece))  # a command that only reads leaves it to the page
    browser = entered(piece)
    last = comes(browser)
    assert len(last["steps"]) == 1
    browser.do("POST", "/api/undo")
    assert len(browser.document["prints"]) == 7
    browser.do("POST", "/api/redo")
    assert len(browser.document["prints"]) == 6


def test_a_command_on_such_a_piece_works_the_doubt_out_itself(piece: Path, passalong: Command):
    corrected(piece)
    open_ = passalong("contrast", piece, "--json")[1]
    assert working.doubt(quiet, piece)
    assert open_ == passalong("contrast", piece, "--json")[1]
    assert '"certain": false' in open_


def once(do: Callable[[], object]) -> Callable[[Any], None]:
    """A listener that does something at the first trial."""
    left = [do]

    def line(told: Any) -> None:
        if left:
            left.pop()()

    return line


def test_a_step_taken_back_meanwhile_is_neither_brought_back_nor_lost(piece: Path):
    start = load(piece)
    corrected(piece)
    assert not working.doubt(once(lambda: undo(piece)), piece)
    back = load(piece)
    assert (back.prints, back.sequence, back.plan) == (start.prints, start.sequence, start.plan)
    assert [one.name for one in back.future] == ["drop table-1"]
    redo(piece)
    assert ordering.doubts_open(load(piece))
    assert working.doubt(quiet, piece)
    assert len(load(piece).prints) == 6
    undo(piece)
    assert load(piece).sequence == start.sequence


def test_the_doubt_of_a_piece_with_steps_to_take_again_keeps_them(piece: Path):
    corrected(piece)
    rename(piece, {"moss": "wet moss"})
    undo(piece)
    assert working.doubt(quiet, piece)
    assert [one.name for one in load(piece).future] == ["name wet moss"]
    redo(piece)
    assert load(piece).names == {"moss": "wet moss"}


def test_a_name_given_meanwhile_is_kept_with_the_doubt(piece: Path):
    corrected(piece)
    assert working.doubt(once(lambda: rename(piece, {"moss": "wet moss"})), piece)
    kept = load(piece)
    assert kept.names == {"moss": "wet moss"}
    assert not ordering.doubts_open(kept)
    assert len(kept.past) == 2


def test_another_order_meanwhile_is_not_overwritten(piece: Path):
    corrected(piece)
    mine = list(load(piece).sequence.order[::-1])  # type: ignore[union-attr]
    mine[0], mine[2] = mine[2], mine[0]

    def lay() -> None:
        kept = load(piece)
        pieces.save(changes.laid(kept, mine, ordering.graph_of(kept)), piece, "order by hand")

    assert not working.doubt(once(lay), piece)
    assert list(load(piece).sequence.order) == mine  # type: ignore[union-attr]


def test_her_own_order_laid_before_the_doubt_has_come_is_in_doubt_too(piece: Path):
    corrected(piece)
    kept = load(piece)
    bare = ordering.order(kept, {"loop": True}, doubts=False)[0]
    order = bare.sequence.order  # type: ignore[union-attr]
    doubtful = {frozenset((one.a, one.b)) for one in ordering.doubted(bare)[1].neighbours
                if not one.certain}  # fmt: skip
    laid = changes.laid(bare, [*order[1:], order[0]], ordering.graph_of(bare)).sequence
    assert laid is not None
    assert {frozenset((one.a, one.b)) for one in laid.neighbours if not one.certain} == doubtful
    assert doubtful


def test_a_gesture_holds_though_the_doubt_is_saved_in_its_midst(
    browser: Browser, piece: Path, monkeypatch: pytest.MonkeyPatch
):
    corrected(piece)
    monkeypatch.setattr(browser.long, "follow", lambda: None)
    browser.look()
    laid = changes.laid

    def slow(*given: Any) -> pieces.Piece:
        made = laid(*given)
        working.doubt(quiet, piece)
        return made

    monkeypatch.setattr(changes, "laid", slow)
    order = browser.document["sequence"]["order"]
    browser.do("PUT", "/api/sequence", {"order": [order[1], order[0], *order[2:]]})
    assert [one["step"] for one in browser.document["steps"]] == ["drop table-1", "order by hand"]


def test_ways_out_that_were_tried_outlive_the_doubt_and_no_step(browser: Browser, piece: Path):
    corrected(piece)
    offered = browser.look()["revision"]
    assert working.doubt(quiet, piece)
    now = browser.look()["revision"]
    assert now != offered
    assert browser.opened.stands(offered, now)
    step = replace(load(piece), rejected=(Rejected("fern.jpg", "not a picture"),))
    pieces.save(step, piece, "read")
    assert not browser.opened.stands(offered, browser.look()["revision"])


def test_work_that_is_hushed_leaves_all_as_it_was_and_the_child_goes_on(piece: Path):
    corrected(piece)
    before = load(piece).revision
    child = Child()
    try:
        with pytest.raises(HushedError, match="make way"):
            child.do(working.doubt, lambda told: child.hush(), piece)
        assert load(piece).revision == before
        assert child.do(working.doubt, quiet, piece)  # what comes after is done
    finally:
        child.close()


def test_what_nobody_waits_for_makes_way(monkeypatch: pytest.MonkeyPatch):
    hushed, begun = threading.Event(), threading.Event()
    monkeypatch.setattr(Jobs, "make_ready", lambda self: setattr(self, "_child", FakeChild(hushed)))
    jobs = Jobs()

    def waits(job: Job, child: Child) -> dict[str, Any]:
        begun.set()
        hushed.wait(5)
        raise HushedError

    assert jobs.quietly(waits)
    assert begun.wait(WAIT)
    assert not jobs.quietly(waits)  # something is being done
    assert jobs.start(lambda job, child: {"done": hushed.is_set()}).wait() == {"done": True}


def test_what_is_to_make_way_before_it_has_begun_does_so(
    piece: Path, monkeypatch: pytest.MonkeyPatch
):
    corrected(piece)
    begun, asked, do = threading.Event(), threading.Event(), Child.do

    def late(child: Child, work: Callable[..., Any], *given: Any) -> Any:
        begun.set()
        assert asked.wait(WAIT)
        return do(child, work, *given)

    monkeypatch.setattr(Child, "do", late)
    long = Long(Opened(piece))
    try:
        long.follow()
        assert begun.wait(WAIT)
        other = long.jobs.start(lambda job, child: {"open": ordering.doubts_open(load(piece))})
        asked.set()
        assert other.wait() == {"open": True}
    finally:
        long.close()


class FakeChild:
    """Only hears that it is to make way."""

    alive = True

    def __init__(self, hushed: threading.Event) -> None:
        self.hush = hushed.set

    def close(self) -> None:
        """Nothing to end."""

    kill = close
