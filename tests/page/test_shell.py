"""The shell: where things are, undo and redo, two hands on one folder, a lost connection."""

from __future__ import annotations

import gzip
import re
from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import SIZES, Served, passalong
from tests.page.waiting import WAIT, lies, rested, routed, until

STATIC = Path(__file__).parents[2] / "sequencer" / "web" / "static"
MOST = 120_000  # bytes of page code as they are sent, compressed one by one


def test_page_code_is_small_and_has_no_inline_script() -> None:
    files = [one for one in STATIC.rglob("*") if one.is_file()]
    assert sum(len(gzip.compress(one.read_bytes())) for one in files) <= MOST
    for one in files:
        text = one.read_text("utf-8")
        if one.suffix == ".html":
            assert not [one for one in ("<style", " style=", "onclick=") if one in text]
            assert text.count("<script") == text.count("<script type=\"module\" src=")
        for needed in re.findall(r"""from '\./([\w-]+\.js)'""", text):
            assert (STATIC / needed).is_file(), f"{one.name} needs {needed}"


def test_a_made_piece_opens_with_its_name_and_its_cloth(page: Any) -> None:
    assert page.inner_text("#folder") == "harbour"
    assert page.get_attribute("body", "data-scene") == "piece"
    until(page, "[...document.querySelectorAll('.strip img')].every((one) => one.naturalWidth > 0)")
    assert page.locator(".strip").count() == 13


def test_the_sample_box_is_one_tap_away(serve: Any, tmp_path: Path) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    page.get_by_role("button", name="Look round with the sample box").click()
    until(page, "document.body.dataset.scene === 'piece'", 300)
    until(page, "document.querySelectorAll('.strip').length === 13")
    page.get_by_role("status").get_by_text("The sample box: 13 prints.").wait_for()
    assert not served.faults, served.faults


@pytest.mark.parametrize("size", SIZES)
def test_no_state_breaks_wcag_or_overflows(shared: Served, axe: Any, size: str) -> None:
    shared.faults.clear()
    page = shared.page(size, has_touch=size in ("phone", "tablet"))
    axe(page)
    page.locator(".strip .lift").nth(3).click()
    page.wait_for_selector(".held")
    axe(page)
    page.get_by_role("button", name="Dark surround").click()
    axe(page)
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, f"{size}: {wide} px are cut off at the right"
    page.context.close()
    assert not shared.faults


@pytest.mark.parametrize("more", [{"forced_colors": "active"}, {"reduced_motion": "reduce"},
                                  {"color_scheme": "dark"}])
def test_other_eyes(shared: Served, axe: Any, more: dict[str, str]) -> None:
    shared.faults.clear()
    page = shared.page(**more)
    axe(page)
    page.context.close()
    assert not shared.faults


def test_enlarged_to_200_percent_everything_is_within_reach(shared: Served, axe: Any) -> None:
    """1440 × 900 at 200 % is 720 × 450 in CSS pixels."""
    page = shared.page((720, 450))
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = lies(page.locator("#wall"))
    assert box["width"] >= 250
    assert box["height"] >= 250
    page.context.close()


def test_two_tabs_see_each_other_and_neither_overwrites(own: Served) -> None:
    one, two = own.page(), own.page()
    first = one.locator(".strip").first.get_attribute("data-id")
    # The second tab does not yet know what the first did: its gesture is refused and kept.
    two.evaluate("Object.defineProperty(document, 'hidden', {value: true, configurable: true})")
    one.locator(".strip .lift").first.focus()
    one.keyboard.press("Alt+ArrowDown")
    until(one, f"document.querySelectorAll('.strip')[1].dataset.id === '{first}'")
    rested(one)
    two.locator(".strip .lift").nth(4).focus()
    fifth = two.locator(".strip").nth(4).get_attribute("data-id")
    two.keyboard.press("Alt+ArrowDown")
    again = two.get_by_role("button", name=re.compile("Do it again"))
    again.wait_for()
    assert two.locator(".strip").nth(1).get_attribute("data-id") == first
    again.click()
    until(two, f"document.querySelectorAll('.strip')[5].dataset.id === '{fifth}'")
    until(one, f"document.querySelectorAll('.strip')[5].dataset.id === '{fifth}'")
    own.faults[:] = [one for one in own.faults if "409" not in one]


def test_terminal_and_page_work_on_one_folder(own: Served) -> None:
    page = own.page()
    done = passalong("plan", own.folder, "--seam", "3/16")
    assert done.returncode == 0, done.stderr
    until(page, "document.querySelector('#status').innerText.includes('Changed elsewhere')")
    page.locator(".strip .lift").first.focus()
    page.keyboard.press("Alt+ArrowDown")
    until(page, "document.querySelector('#orderwords').innerText.includes('Your order')")
    rested(page)
    order = page.evaluate("[...document.querySelectorAll('.strip')].map((one) => one.dataset.id)")
    told = passalong("history", own.folder)
    assert "order by hand" in told.stdout
    assert passalong("undo", own.folder).returncode == 0
    until(page, f"document.querySelector('.strip').dataset.id !== '{order[0]}'")


def test_undo_and_redo_go_all_the_way_also_after_a_restart(own: Served, serve: Any) -> None:
    page = own.page()
    order = "[...document.querySelectorAll('.strip')].map((one) => one.dataset.id).join(' ')"
    seen = [page.evaluate(order)]
    for step in range(3):
        page.locator(".strip .lift").nth(step).focus()
        page.keyboard.press("Alt+ArrowDown")
        until(page, f"{order} !== '{seen[-1]}'")
        rested(page)
        seen.append(page.evaluate(order))
    page.context.close()
    own.stop()
    again = serve(own.folder)
    page = again.page()
    for before in reversed(seen[:-1]):
        page.keyboard.press("Control+z")
        until(page, f"{order} === '{before}'")
        rested(page)
    page.get_by_role("button", name="Redo").click()
    until(page, f"{order} === '{seen[1]}'")


def test_a_lost_connection_is_told_and_a_stale_page_says_what_to_do(own: Served) -> None:
    page = own.page()
    routed(page, "**/api/**", lambda route: route.abort())
    until(page, "document.querySelector('#status').textContent.includes('does not answer')")
    page.unroute("**/api/**")
    until(page, "!document.querySelector('#status').textContent.includes('does not answer')")
    own.faults[:] = [one for one in own.faults if "ERR_FAILED" not in one]
    own.process.kill()
    own.process.wait(WAIT)
    until(page, "document.querySelector('#status').textContent.includes('does not answer')")
    own.faults[:] = [one for one in own.faults if "net::ERR_" not in one]
