"""Photographs brought in: chosen, dropped, pasted, left out, told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.page.conftest import SAMPLES, passalong
from tests.page.photo import LONG, TABLE, document, done, until
from tests.page.waiting import asked, rested, routed
from tests.page.waiting import until as holds

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


def test_photographs_are_chosen_and_light_up_and_hang(serve: Any, tmp_path: Path, axe: Any) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    axe(page)
    heard: list[Any] = []
    routed(page, "**/api/jobs/*", lambda one: heard.append(one))  # told once it was looked at
    with page.expect_file_chooser() as chosen:
        page.get_by_role("button", name="Choose photographs").click()
    chosen.value.set_files([TABLE, *[one for one in SAMPLES if one.name.startswith("dusk")]])
    page.get_by_role("button", name="Leave out table-lowtide.jpg").wait_for()
    asked(page, heard)
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


def test_what_a_command_read_is_laid_out_when_she_says_so(serve: Any, tmp_path: Path) -> None:
    """Only then: a reading from the page brings its first picture along, a command's does not."""
    folder = tmp_path / "read"
    read = passalong("read", TABLE.parent / "kelp.jpg", TABLE.parent / "oilskin.jpg",
                      "--out", folder)
    assert read.returncode == 0, read.stderr
    served = serve(folder)
    page = rested(served.page())
    assert page.get_attribute("body", "data-scene") == "photo"
    assert document(page)["sequence"] is None
    page.get_by_role("button", name="These are my scraps").click()
    holds(page, "document.body.dataset.scene === 'piece'")
    assert sorted(done(page)["sequence"]["order"]) == ["kelp", "oilskin"]
    assert not served.faults, served.faults
