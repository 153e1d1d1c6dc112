"""Photographs by hand: brought in, scraps put right, sheet and card shown, sizes and names."""

from __future__ import annotations

import json
import math
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import SAMPLES, Served, lies, rested, time_held

TABLE = next(path for path in SAMPLES if path.name == "table-lowtide.jpg")
TRUTH = json.loads((TABLE.parent / "truth.json").read_text("utf-8"))["table"]
WIDE, HIGH = 4000, 3000
LAID = """([way, name, bytes]) => {
    const held = new DataTransfer();
    held.items.add(new File([new Uint8Array(bytes)], name, { type: 'image/jpeg' }));
    const more = { bubbles: true, cancelable: true };
    document.body.dispatchEvent(way === 'drop'
        ? new DragEvent('drop', { dataTransfer: held, ...more })
        : new ClipboardEvent('paste', { clipboardData: held, ...more }));
}"""
SHOWN = """async (name) => (await import('/static/store.js')).store.piece.photos
    .some((one) => one.name === name)"""
LONG = 90_000  # ms for a reading on a loaded machine


def at(page: Any, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of the table's photograph lies on the screen."""
    box = lies(page.locator(".shot .over"))
    return box["x"] + point[0] / WIDE * box["width"], box["y"] + point[1] / HIGH * box["height"]


def middle(corners: list[list[float]]) -> tuple[float, float]:
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def document(page: Any) -> dict[str, Any]:
    """The document that the page shows; it comes from the program alone."""
    return page.evaluate("import('/static/store.js').then(({ store }) => store.piece)")


def until(page: Any, true: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
    """The document as soon as something is true of it and nothing is under way."""
    end = time.monotonic() + LONG / 1000
    while not true(piece := document(rested(page))):
        assert time.monotonic() < end, f"not yet: {json.dumps(piece)[:600]}"
        page.wait_for_timeout(100)
    return piece


def step(piece: dict[str, Any]) -> str:
    return (piece["undo"] or {"step": ""})["step"]


def print_of(piece: dict[str, Any], id_: str) -> dict[str, Any]:
    return next(one for one in piece["prints"] if one["id"] == id_)


def table_of(piece: dict[str, Any]) -> dict[str, Any]:
    return next(one for one in piece["photos"] if one["name"] == TABLE.name)


def done(page: Any) -> dict[str, Any]:
    """The document once no work is under way."""
    return document(rested(page))


def to_the_table(page: Any) -> None:
    rested(page)
    if page.locator("body").get_attribute("data-scene") != "photo":
        page.locator("[data-key=scene]").click()
    page.wait_for_selector(".shot .over polygon")
    rested(page)


def hold(page: Any, id_: str) -> None:
    page.locator(f'polygon[data-print="{id_}"]').click()
    page.locator(".corners .corner").first.wait_for()


def corners_of(page: Any) -> Any:
    return page.locator(".corners .corner")


# ── brought in ────────────────────────────────────────────────────────────────────────────


def test_photographs_are_chosen_and_light_up_and_hang(serve: Any, tmp_path: Path, axe: Any) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    axe(page)
    heard: list[Any] = []
    page.route("**/api/jobs/*", lambda one: heard.append(one))  # told once it was looked at
    with page.expect_file_chooser() as chosen:
        page.get_by_role("button", name="Choose photographs").click()
    chosen.value.set_files([TABLE, *[one for one in SAMPLES if one.name.startswith("dusk")]])
    page.get_by_role("button", name="Leave out table-lowtide.jpg").wait_for()
    while not heard:
        page.wait_for_timeout(40)
    heard.pop().continue_()
    page.unroute("**/api/jobs/*")
    page.get_by_role("button", name="These are my scraps").wait_for(timeout=LONG)
    piece = done(page)
    assert sorted(one["name"] for one in piece["photos"]) == ["dusk.webp", "table-lowtide.jpg"]
    page.get_by_role("button", name="table-lowtide.jpg 8 scraps").click()
    assert page.locator("polygon.scrap").count() == 8
    assert page.locator("polygon.other").count() == 2
    axe(page)
    page.get_by_role("button", name="These are my scraps").click()
    page.wait_for_selector("body[data-scene=piece]", timeout=LONG)
    assert not served.faults, served.faults


def test_dropped_and_pasted_photographs_come_in_too(serve: Any, tmp_path: Path) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    for way, name in (("drop", "kelp.jpg"), ("paste", "oilskin.jpg")):
        data = (TABLE.parent / name).read_bytes()
        page.evaluate(LAID, [way, name, list(data)])
        page.wait_for_function(SHOWN, arg=name, timeout=LONG)  # the next may come while it is laid
    done(page)
    assert not served.faults, served.faults


def test_a_photograph_is_left_out_at_once_and_a_bad_one_is_told(serve: Any, tmp_path: Path) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    bad = tmp_path / "letter.jpg"
    bad.write_bytes(b"no picture at all")
    with page.expect_file_chooser() as chosen:
        page.get_by_role("button", name="Choose photographs").click()
    chosen.value.set_files([TABLE, bad, TABLE.parent / "kelp.jpg"])
    page.get_by_role("button", name="Leave out table-lowtide.jpg").click()
    assert page.get_by_role("button", name="Leave out table-lowtide.jpg").count() == 0
    refused = page.get_by_role("region", name="Could not be used")
    refused.get_by_text("letter.jpg").wait_for(timeout=LONG)
    until(page, lambda piece: "kelp.jpg" in [one["name"] for one in piece["photos"]])
    page.locator("[data-key=stop-reading]").wait_for(state="detached", timeout=LONG)
    piece = done(page)
    assert [one["name"] for one in piece["photos"] if one["status"] == "read"] == ["kelp.jpg"]
    page.get_by_role("button", name="Put away letter.jpg").first.click()


@pytest.fixture
def table(shared: Served) -> Iterator[Any]:
    """The table's photograph on the wall of the module's server; only refusals are no faults."""
    shared.faults.clear()
    page = shared.page()
    to_the_table(page)
    yield page
    rested(page).context.close()
    faults = [one for one in shared.faults if "422" not in one]
    assert not faults, faults


# ── put right ─────────────────────────────────────────────────────────────────────────────


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


# ── sheet and card ────────────────────────────────────────────────────────────────────────


def test_sheet_and_card_are_shown_and_moved(table: Any) -> None:
    page = table
    page.get_by_role("button", name="white sheet, found").click()
    assert corners_of(page).count() == 4
    box = lies(corners_of(page).first)
    page.mouse.move(box["x"] + 22, box["y"] + 22)
    page.mouse.down()
    page.mouse.move(box["x"] + 30, box["y"] + 28, steps=3)
    page.mouse.up()
    until(page, lambda now: table_of(now)["reference"]["said"])
    done(page)
    page.get_by_role("button", name="Look for it again").first.click()
    until(page, lambda now: not table_of(now)["reference"]["said"])
    done(page)


def test_this_is_my_white_sheet_by_a_tap(shared: Served) -> None:
    page = shared.page("tablet", has_touch=True)
    to_the_table(page)
    page.get_by_role("button", name="There is none").click()
    until(page, lambda now: table_of(now)["reference"] is None)
    done(page)
    page.get_by_role("button", name="Show the white sheet").click()
    page.touchscreen.tap(*at(page, middle(TRUTH["sheet"]["corners"])))
    table = table_of(until(page, lambda now: table_of(now)["reference"]))
    assert table["reference"]["kind"] == "sheet"
    for corner in table["reference"]["corners"]:
        truth = TRUTH["sheet"]["corners"]
        assert min(abs(corner[0] - x) + abs(corner[1] - y) for x, y in truth) < 30
    page.context.close()


def test_grey_card_bank_card_and_join_by_a_finger(shared: Served) -> None:
    """What a tap sends; what the program makes of it is tested where it is made."""
    page = shared.page("tablet", has_touch=True)
    to_the_table(page)
    sent: list[Any] = []

    def refused(route: Any) -> None:
        sent.append(route.request.post_data_json)
        route.fulfill(status=422, json={"error": "Only looked at.", "code": "test"})

    for pattern in ("**/api/photos/*/marks", "**/api/scraps"):
        page.route(pattern, refused)
    spots = {"grey": ("A grey card", TRUTH["sheet"]["corners"]),
             "card": ("The bank card lies elsewhere", TRUTH["card"]["corners"])}
    for kind, (button, corners) in spots.items():
        page.get_by_role("button", name=button).tap()
        page.touchscreen.tap(*at(page, middle(corners)))
        page.get_by_role("button", name="It lies there").wait_for()  # by hand, where none is seen
        assert sent[-1]["point"] == kind
        assert math.dist(sent[-1]["at"], middle(corners)) < 12  # a CSS pixel is five of the photo's
        page.get_by_role("button", name="Leave it as it was").tap()
    page.locator('polygon[data-print="table-lowtide-1"]').tap()
    page.get_by_role("button", name="Join with another").tap()
    page.locator('polygon[data-print="table-lowtide-2"]').tap()
    page.get_by_role("status").get_by_text("Only looked at.").wait_for()
    assert sent[-1]["op"] == "merge"
    assert sent[-1]["ids"] == ["table-lowtide-1", "table-lowtide-2"]
    page.context.close()


def test_where_nothing_is_seen_corners_are_laid_by_hand(table: Any) -> None:
    page = table
    page.get_by_role("button", name="The bank card lies elsewhere").click()
    page.mouse.click(*at(page, (3400, 2800)))
    page.get_by_role("button", name="It lies there").wait_for(timeout=LONG)
    assert corners_of(page).count() == 4
    page.get_by_role("button", name="Leave it as it was").click()
    done(page)
    assert re.search("bank card: found", page.locator("#photoside").inner_text(), re.I)


@pytest.mark.parametrize("size", ["phone", "tablet", "desk", "wide"])
def test_no_violation_while_a_scrap_is_held(shared: Served, size: str, axe: Any) -> None:
    page = shared.page(size)
    to_the_table(page)
    axe(page)
    hold(page, "table-lowtide-5")
    axe(page)
    page.get_by_role("button", name="Part in two").click()
    axe(page)
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    page.context.close()
