"""Scraps put right in the photograph: corners, sizes, names, join, part, draw, not a scrap."""

from __future__ import annotations

import math
from typing import Any

from tests.page.conftest import Served
from tests.page.photo import (
    TRUTH,
    at,
    corners_of,
    document,
    done,
    hold,
    middle,
    print_of,
    step,
    to_the_table,
    until,
)
from tests.page.waiting import lies, time_held


def test_a_corner_is_dragged_by_mouse(table: Any) -> None:
    page = table
    hold(page, "table-lowtide-1")
    before = print_of(document(page), "table-lowtide-1")
    knob = corners_of(page).first
    box = lies(knob)
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + 50, steps=4)
    assert page.locator(".loupe").is_visible()
    page.mouse.up()
    piece = until(page, lambda now: step(now) == "redraw table-lowtide-1")
    assert print_of(piece, "table-lowtide-1")["outline"] != before["outline"]
    done(page)
    page.get_by_role("button", name="Undo").click()
    piece = until(page, lambda now: now["redo"])
    assert print_of(piece, "table-lowtide-1")["outline"] == before["outline"]


def test_a_corner_is_dragged_by_a_finger_on_a_small_screen(shared: Served) -> None:
    page = shared.page("phone", has_touch=True)
    to_the_table(page)
    page.locator('polygon[data-print="table-lowtide-3"]').tap()
    knob = corners_of(page).first
    box = lies(knob)
    assert box["width"] >= 44
    assert box["height"] >= 44
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch = page.context.new_cdp_session(page)

    def send(kind: str, points: list[dict[str, float]]) -> None:
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    send("touchStart", [{"x": x, "y": y}])
    for n in range(1, 5):
        send("touchMove", [{"x": x + 3 * n, "y": y + 2 * n}])
    send("touchEnd", [])
    until(page, lambda now: step(now) == "redraw table-lowtide-3")
    page.context.close()


def test_everything_by_keyboard_alone(table: Any) -> None:
    """A scrap is held, a corner moved by arrows, its size typed, and it is let go."""
    page = table
    page.locator('[data-key="on-table-lowtide-4"]').focus()
    page.keyboard.press("Enter")
    page.locator(".corners .corner").first.wait_for()
    assert page.evaluate("() => document.activeElement.dataset.key") == "on-table-lowtide-4"
    corner = page.locator('[data-key="corner-table-lowtide-4-0"]')
    corner.focus()
    time_held(page, 900)  # four presses are one move, however slowly they come here
    for _ in range(4):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    until(page, lambda now: step(now) == "redraw table-lowtide-4")
    assert corner.evaluate("(one) => one === document.activeElement")
    page.locator('[data-key="long-table-lowtide-4"]').focus()
    page.keyboard.type("9 1/4")
    page.keyboard.press("Enter")
    page.keyboard.type("2 1/2")
    page.keyboard.press("Enter")
    piece = until(page, lambda now: print_of(now, "table-lowtide-4")["sizes"])
    assert print_of(piece, "table-lowtide-4")["sizes"] == [["9 1/4", "2 1/2"]]
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    page.locator(".corners .corner").first.wait_for(state="detached")


def test_one_side_typed_takes_the_measured_other_and_nonsense_is_told(table: Any) -> None:
    page = table
    hold(page, "table-lowtide-6")
    long = page.locator('[data-key="long-table-lowtide-6"]')
    short = page.locator('[data-key="short-table-lowtide-6"]')
    top, right = lies(long), lies(short)
    assert top["y"] < right["y"]  # 8 × 3 in, lying flat: the long side's field stands above it
    assert top["x"] < right["x"]
    long.fill("eight")
    page.get_by_role("button", name="Done with this one").click()
    page.get_by_role("status").get_by_text("type it like 9 1/2").wait_for()
    hold(page, "table-lowtide-6")
    assert long.input_value() == "eight"  # nothing that was typed is thrown away
    long.fill("8 1/4")
    page.get_by_role("button", name="Done with this one").click()
    piece = until(page, lambda now: print_of(now, "table-lowtide-6")["sizes"])
    assert print_of(piece, "table-lowtide-6")["sizes"][0][0] == "8 1/4"


def dragged(page: Any, points: list[tuple[float, float]]) -> None:
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point, steps=8)
    page.mouse.up()


def drawn(page: Any) -> list[list[list[float]]]:
    """The corners of what she draws, in pixels of the photograph."""
    told = page.locator("polygon.draft").evaluate_all(
        "(all) => all.map((one) => one.getAttribute('points'))")
    return [[[float(part) for part in point.split(",")] for point in one.split()] for one in told]


def test_join_part_draw_and_not_a_scrap(table: Any) -> None:
    page = table
    count = lambda: page.locator("polygon.scrap").count()  # noqa: E731
    hold(page, "table-lowtide-6")
    page.get_by_role("button", name="Part in two").click()
    page.get_by_role("button", name="Part it here").click()
    done(page)
    page.wait_for_function("() => document.querySelectorAll('polygon.scrap').length === 9")
    page.get_by_role("button", name="Join with another").click()
    page.locator('polygon[data-print="table-lowtide-9"]').click()
    done(page)
    page.wait_for_function("() => document.querySelectorAll('polygon.scrap').length === 8")
    page.get_by_role("button", name="Not a scrap").click()
    done(page)
    page.wait_for_function("() => document.querySelectorAll('polygon.scrap').length === 7")
    page.get_by_role("button", name="Draw one that was missed").click()
    corners = min((one["corners"] for one in TRUTH["scraps"]),
                  key=lambda one: abs(middle(one)[0] - 3265) + abs(middle(one)[1] - 1340))
    (x, y), (u, v) = at(page, corners[0]), at(page, corners[2])
    dragged(page, [(x, y), (u, v)])
    assert [len(one) for one in drawn(page)] == [4]
    page.get_by_role("button", name="Leave it as it was").click()
    page.get_by_role("button", name="Draw one that was missed").click()
    dragged(page, [at(page, one) for one in [*corners, corners[0]]])  # led round it by hand
    assert 12 >= len(drawn(page)[0]) == corners_of(page).count() >= 4
    assert all(min(math.dist(one, each) for each in drawn(page)[0]) < 60 for one in corners)
    page.get_by_role("button", name="Leave it as it was").click()
    page.get_by_role("button", name="Draw one that was missed").click()
    for place in (0, 2, 1, 3):  # four taps, in whatever order
        page.mouse.click(*at(page, corners[place]))
    assert all(math.dist(one, min(corners, key=lambda each, one=one: math.dist(one, each))) < 9
               for one in drawn(page)[0])  # fmt: skip
    page.get_by_role("button", name="This is a scrap").click()
    piece = done(page)
    page.wait_for_function("() => document.querySelectorAll('polygon.scrap').length === 8")
    assert count() == 8
    assert piece["undo"]["step"].startswith("add to")


def test_a_name_is_given_and_taken_back(table: Any) -> None:
    page = table
    hold(page, "table-lowtide-2")
    name = page.get_by_label("Name", exact=True)
    for typed, named in (("sandbar", True), ("", False)):
        name.fill(typed)
        name.press("Enter")
        until(page, lambda now, named=named: print_of(now, "table-lowtide-2")["named"] is named)
    name.fill("table-lowtide-3")
    name.press("Enter")
    page.get_by_role("status").get_by_text("is what").wait_for()
