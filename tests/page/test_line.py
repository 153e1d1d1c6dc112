"""The line on the piece: mouse, finger, pen and keys; sliders and typed fields."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sequencer.piece import load
from sequencer.planning import planned
from tests.page.waiting import asked, passes, rested, routed, time_held

Served = Any
"""What `passalong page` is to a test: see conftest.py."""
NOW = """async () => { const { store } = await import('/static/store.js');
  const { plan, revision } = store.piece, { geometry, box } = store.shown;
  const wall = document.getElementById('wall').getBoundingClientRect();
  return { ...plan.line, columns: plan.columns, prints: plan.prints, revision, geometry,
    wishes: plan.wishes, centre: plan.centre, repeats: plan.repeats, undo: store.piece.undo,
    box: { x: wall.left + box.x, y: wall.top + box.y, width: box.width, height: box.height } }; }"""
HANGS = "() => document.getElementById('piece').dataset.shows === 'rest'"


def begun(served: Served, **more: Any) -> Any:
    page = served.page((1200, 850), **more)
    page.wait_for_function(HANGS)
    return rested(page)


def kept(page: Any, before: dict[str, Any]) -> dict[str, Any]:
    """The piece after the program has kept the change."""
    page.wait_for_function(
        "(old) => { const { dataset } = document.getElementById('piece');"
        " return dataset.revision !== old && dataset.shows === 'rest'; }",
        arg=before["revision"],
    )
    rested(page)
    told: dict[str, Any] = page.evaluate(NOW)
    return told


def stroke(start: tuple[float, float], end: tuple[float, float], box: dict[str, float],
           steps: int = 24) -> list[tuple[float, float]]:  # fmt: skip
    """Points on the screen from one place of the centre to another, both in shares of it."""
    return [(box["x"] + box["width"] * (start[0] + (end[0] - start[0]) * k / steps),
             box["y"] + box["height"] * (start[1] + (end[1] - start[1]) * k / steps))
            for k in range(steps + 1)]  # fmt: skip


def print_at(told: dict[str, Any], u: float, v: float) -> str:
    """The print that a point of the centre shows, worked out from columns and strips alone."""
    geometry, order = told["geometry"], told["prints"]
    x, y = u * geometry["centre"][2], v * geometry["centre"][3]
    column = sum(left <= x for left in geometry["lefts"][1:-1])
    row, top = told["columns"][column]["offset"], 0.0
    while True:
        top += geometry["strip"][order[row % len(order)]]
        if y < top:
            return str(order[row % len(order)])
        row += 1


def shown_along(told: dict[str, Any], start: tuple[float, float], end: tuple[float, float]
                ) -> list[str]:  # fmt: skip
    return [print_at(told, *(a + (b - a) * k / 20 for a, b in zip(start, end, strict=True)))
            for k in range(21)]  # fmt: skip


def by_mouse(page: Any, points: list[tuple[float, float]]) -> None:
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point)
    page.mouse.up()


def by_pen(page: Any, points: list[tuple[float, float]]) -> None:
    """A real pen, as the browser gets it from the screen."""
    session = page.context.new_cdp_session(page)
    kinds = ["mousePressed", *["mouseMoved"] * (len(points) - 1)]
    for kind, (x, y) in [("mouseMoved", points[0]), *zip(kinds, points, strict=True),
                         ("mouseReleased", points[-1])]:  # fmt: skip
        session.send("Input.dispatchMouseEvent", {
            "type": kind, "x": x, "y": y, "button": "left", "buttons": 1, "clickCount": 1,
            "pointerType": "pen", "force": 0.5})  # fmt: skip


def by_finger(page: Any, points: list[tuple[float, float]]) -> None:
    """A real touch, as the browser gets it from the screen."""
    session = page.context.new_cdp_session(page)

    def send(kind: str, *where: tuple[float, float]) -> None:
        session.send("Input.dispatchTouchEvent", {
            "type": kind, "touchPoints": [{"x": x, "y": y} for x, y in where]})  # fmt: skip

    send("touchStart", points[0])
    for point in points[1:]:
        send("touchMove", point)
    send("touchEnd")


def drawn(page: Any, how: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A gentle stroke: what it crosses follows it, the print under it stays, the rest stays."""
    before = page.evaluate(NOW)
    print_below = print_at(before, *start)
    how(page, stroke(start, end, before["box"]))
    after = kept(page, before)
    assert after["prints"][after["base"]] == print_below
    along = shown_along(after, start, end)
    held = sum(one == print_below for one in along)
    assert held >= 0.6 * len(along), along  # columns lag where the rest of the line is far off
    n, last = len(after["prints"]), len(after["rows"]) - 1
    for k, row in enumerate(after["rows"]):
        if not min(start[0], end[0]) - 0.02 <= k / last <= max(start[0], end[0]) + 0.02:
            off = (row + after["base"] - before["rows"][k] - before["base"]) % n
            assert min(off, n - off) < 0.01, f"place {k} was not crossed"


def test_the_line_by_mouse_pen_and_finger(own: Served) -> None:
    page = begun(own, has_touch=True)
    drawn(page, by_mouse, (0.31, 0.55), (0.81, 0.4))
    drawn(page, by_pen, (0.93, 0.5), (0.44, 0.62))
    drawn(page, by_finger, (0.19, 0.3), (0.56, 0.36))
    plan = planned(load(own.folder))[1]
    assert plan.options["curve"]["rows"] == page.evaluate(NOW)["rows"]


def test_a_finger_draws_upwards_too_and_strokes_may_begin_beside_the_centre(own: Served) -> None:
    """A hill begins upwards, which elsewhere scrolls the page; nobody begins just at the seam."""
    page = begun(own, has_touch=True)
    before = page.evaluate(NOW)
    by_finger(page, stroke((0.3, 0.75), (0.4, 0.35), before["box"]))
    after = kept(page, before)
    by_mouse(page, stroke((-0.08, 0.5), (0.3, 0.45), after["box"]))
    last = kept(page, after)
    assert last["base"] == last["prints"].index(print_at(after, 0.0, 0.5))
    assert abs(last["rows"][0] - last["rows"][3]) < 0.3, "the old line stands at the edge"


def test_while_she_draws_only_the_wall_and_the_line_move(own: Served) -> None:
    """What is left of the scraps is worked out when she lets go, and not drawn anew before."""
    page = begun(own)
    page.evaluate("window.shape = document.querySelector('.scrap')")
    before = page.evaluate(NOW)
    points = stroke((0.3, 0.5), (0.7, 0.42), before["box"])
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point)
    page.wait_for_function("() => document.getElementById('piece').dataset.shows === 'trial'")
    assert page.evaluate("window.shape.isConnected")
    away = "() => getComputedStyle(document.getElementById('pins')).visibility === 'hidden'"
    page.wait_for_function(away)
    page.mouse.up()
    kept(page, before)
    page.wait_for_function("() => !window.shape.isConnected")
    assert not page.evaluate(away)
    page.get_by_role("status").get_by_text("The line: ").wait_for()


def test_a_press_without_a_stroke_picks_the_cloth_and_changes_nothing(own: Served) -> None:
    page = begun(own)
    before = page.evaluate(NOW)
    (x, y), *_ = stroke((0.4, 0.3), (0.5, 0.3), before["box"])
    page.mouse.click(x, y)
    picked = page.evaluate("async () => (await import('/static/store.js')).store.hold.selected")
    assert picked == print_at(before, 0.4, 0.3)
    assert page.evaluate(NOW)["revision"] == before["revision"]


def test_the_line_by_keys(own: Served) -> None:
    page = begun(own)
    before = page.evaluate(NOW)
    middle = page.get_by_role("slider", name="Line half of the way across")
    page.get_by_role("slider", name="Line at the left edge").focus()
    for _ in range(page.locator(".grip").count() // 2):
        page.keyboard.press("Tab")
    assert middle.evaluate("(one) => one === document.activeElement")
    start = float(middle.get_attribute("aria-valuenow"))
    time_held(page, 700)
    for key in ("ArrowUp", "ArrowUp", "ArrowDown", "ArrowUp"):
        page.keyboard.press(key)
    assert float(middle.get_attribute("aria-valuenow")) == start + 2
    assert middle.get_attribute("aria-valuetext") == f"{start + 2:g} rows up"
    passes(page)
    after = kept(page, before)
    moved = np.array(after["rows"]) - before["rows"]
    moved -= np.rint(moved[0])
    assert moved[64] == math.floor(moved[64] + 0.5) == 2
    assert moved[0] == moved[128] == 0
    assert moved[56] > 0.5
    assert middle.evaluate("(one) => one === document.activeElement")
    page.keyboard.press("Control+z")
    assert kept(page, after)["rows"] == before["rows"]


def test_sliders_are_tried_while_they_move_and_kept_when_they_rest(own: Served) -> None:
    page = begun(own)
    before = page.evaluate(NOW)
    height = page.get_by_role("slider", name="Height of the line", exact=True)
    height.focus()
    time_held(page, 400)
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    passes(page)
    after = kept(page, before)
    assert after["wishes"]["curve_height"] == max(before["rows"]) - min(before["rows"]) - 2
    assert after["undo"]["step"] != (before["undo"] or {}).get("step")
    page.get_by_role("slider", name="Repeats of the set", exact=True).focus()
    page.keyboard.press("ArrowRight")
    passes(page)
    assert kept(page, after)["repeats"] == before["repeats"] + 1


def test_what_is_typed_and_chosen_is_asked_for(own: Served) -> None:
    page = begun(own)
    told = page.evaluate(NOW)
    page.get_by_label("Strips, finished, typed").fill("3/8")
    page.keyboard.press("Enter")
    told = kept(page, told)
    assert set(told["geometry"]["strip"].values()) == {
        round(told["geometry"]["ppi"] * 3 / 8)}  # fmt: skip
    page.get_by_role("button", name="hill").click()
    told = kept(page, told)
    assert told["named"] == "hill"
    page.get_by_text("Seams, border, units").click()
    page.get_by_label("Size of the centre").fill("7 x 6 1/2")
    page.keyboard.press("Enter")
    told = kept(page, told)
    assert told["centre"] == ["7", "6 1/2"]
    held: list[Any] = []
    routed(page, "**/api/plan", lambda one: held.append(one))
    flat = page.get_by_role("radio", name="left flat, segments stacked")
    flat.check()
    asked(page, held)
    assert flat.is_checked(), "what she chose springs back until it is answered"
    held.pop().continue_()
    page.unroute("**/api/plan")
    told = kept(page, told)
    assert told["wishes"]["method"] == "flat"
    page.get_by_role("radio", name="centimetres").check()
    told = kept(page, told)
    assert told["wishes"]["units"] == "cm"
    assert planned(load(own.folder))[1].options["units"] == "cm"
