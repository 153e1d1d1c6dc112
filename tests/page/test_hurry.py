"""Gestures that come faster than answers: none is lost, none is done on what she did not see.

Answers are held back by the test, so that what is in a hurry does not hang on the machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.page.conftest import Served
from tests.page.waiting import asked, rested, routed, until

ORDER = "[...document.querySelectorAll('.strip')].map((one) => one.dataset.id)"
STEPS = "import('/static/store.js').then(({ store }) => store.piece.steps.map((one) => one.step))"
API = "import('/static/api.js').then((api) => %s)"
REPEATS = "api.change('POST', '/api/plan', { wishes: { repeats: %d } }, 'repeats')"
LARGEST = "api.job('POST', '/api/largest', {}, undefined, 'Trying').done"
ALONE = "Object.defineProperty(document, 'hidden', { value: true, configurable: true })"


@contextmanager
def held(page: Any, path: str) -> Iterator[list[Any]]:
    """What is asked of a path meanwhile, and not yet let through."""
    waiting: list[Any] = []
    over = False
    routed(page, path, lambda one: one.continue_() if over else waiting.append(one))
    yield waiting
    over = True
    for one in waiting:
        one.continue_()


def test_cloth_moved_three_times_before_the_first_is_answered(own: Served) -> None:
    page = rested(own.page())
    order = page.evaluate(ORDER)
    page.locator(".strip .lift").nth(2).focus()
    with held(page, "**/api/sequence") as waiting:
        page.keyboard.press("Alt+ArrowDown")
        page.keyboard.press("Alt+ArrowDown")
        asked(page, waiting)
        waiting.pop().continue_()
        asked(page, waiting)  # the first is answered, the second on its way
        page.keyboard.press("Alt+ArrowDown")
        waiting.pop().continue_()
    order.insert(5, order.pop(2))
    assert rested(page).evaluate(ORDER) == order
    told = page.evaluate("fetch('/api/piece').then((one) => one.json())")
    assert told["sequence"]["order"] == order


def test_what_was_said_with_a_gesture_stays_until_it_is_answered(own: Served) -> None:
    page = rested(own.page())
    page.locator(".strip .lift").nth(2).focus()
    with held(page, "**/api/sequence") as waiting:
        page.keyboard.press("Alt+ArrowDown")
        asked(page, waiting)
        page.evaluate("() => { const now = Date.now; Date.now = () => now() + 60000; }")
    assert "is now 4 of 13" in rested(page).inner_text("#status")


def test_taken_back_before_it_is_answered(own: Served) -> None:
    page = rested(own.page())
    order = page.evaluate(ORDER)
    page.locator(".strip .lift").nth(2).focus()
    with held(page, "**/api/sequence") as waiting:
        page.keyboard.press("Alt+ArrowDown")
        page.keyboard.press("Control+z")
        asked(page, waiting)
    until(page, "document.querySelector('#status').innerText.includes('Taken back: order by hand')")
    assert rested(page).evaluate(ORDER) == order


def test_what_is_done_as_long_work_ends_is_done_on_what_it_leaves(own: Served) -> None:
    page = rested(own.page())
    page.evaluate(ALONE)  # or it looks at the folder between
    before = page.evaluate(STEPS)
    with held(page, "**/api/piece") as waiting:
        page.evaluate(f"() => {{ {API % LARGEST}; }}")
        asked(page, waiting)  # the work is done; the page looks at what it left
        assert page.locator("#work progress").is_visible(), "said to be done too soon"
        page.evaluate(f"() => {{ {API % REPEATS % 2}; }}")
    assert rested(page).evaluate(STEPS)[len(before):] == ["largest piece", "plan repeats"]
    assert page.get_by_role("button", name="Do it again").count() == 0


def test_long_work_goes_one_after_the_other(own: Served) -> None:
    page = rested(own.page())
    before, seen = page.evaluate(STEPS), []
    page.on("request", lambda one: seen.append(one.url.rpartition("/")[2]))
    page.evaluate(API % f"Promise.all([{LARGEST}, {LARGEST.replace('largest', 'best')}])")
    assert rested(page).evaluate(STEPS)[len(before):] == ["largest piece", "best piece"]
    assert "piece" in seen[seen.index("largest"):seen.index("best")], seen


def test_what_follows_a_refused_gesture_is_refused_with_it(own: Served) -> None:
    page, other = own.page(), own.page()
    rested(page).evaluate(ALONE)
    before = page.evaluate(STEPS)
    rested(other).evaluate(API % REPEATS % 2)
    page.evaluate(API % f"Promise.all([{REPEATS % 3}, {REPEATS % 4}])")
    assert len(rested(page).evaluate(STEPS)) == len(before) + 1
    page.get_by_role("button", name="Do it again").click()
    assert len(rested(page).evaluate(STEPS)) == len(before) + 2
    told = page.evaluate("fetch('/api/piece').then((one) => one.json())")
    assert told["plan"]["repeats"] == 4
    own.faults[:] = [one for one in own.faults if "409" not in one]
