"""White sheet, grey card and bank card shown in the photograph."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest

from tests.page.conftest import Served
from tests.page.photo import (
    LONG,
    TRUTH,
    at,
    corners_of,
    done,
    hold,
    middle,
    table_of,
    to_the_table,
    until,
)
from tests.page.waiting import lies, routed


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
        routed(page, pattern, refused)
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


def test_how_light_the_grey_card_is_can_be_said(table: Any) -> None:
    """Whatever she marks as a card: its lightness decides how light every cloth of the photo is."""
    page = table
    lightness = page.get_by_label("How light the card is, L*")
    assert lightness.count() == 0  # of a white sheet nobody asks
    page.get_by_role("button", name="A grey card").click()
    page.mouse.click(*at(page, middle(TRUTH["sheet"]["corners"])))
    grey = until(page, lambda now: table_of(now)["reference"]["kind"] == "grey")
    assert lightness.input_value() == "50"
    lightness.fill("65")
    lightness.press("Enter")
    until(page, lambda now: table_of(now)["wishes"]["reference"] == "grey=65")
    light = done(page)
    assert table_of(light)["reference"]["corners"] == table_of(grey)["reference"]["corners"]
    for dark, same in zip(grey["prints"], light["prints"], strict=True):
        if dark["photo"] == table_of(grey)["id"]:
            assert same["value"] > dark["value"] + 3
    page.get_by_role("button", name="Look for it again").first.click()
    until(page, lambda now: table_of(now)["reference"]["kind"] == "sheet")


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
