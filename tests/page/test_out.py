"""Out of the page: sheets, pictures, one zip, paper; help beside it; a door for a phone."""

from __future__ import annotations

import io
import socket
import zipfile
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.page.conftest import SAMPLES, Served
from tests.page.waiting import lies, routed, until

LONG = 120_000  # ms for sheets on a loaded machine


def taken(page: Any, what: str) -> bytes:
    """What is downloaded by a press."""
    with page.expect_download(timeout=LONG) as download:
        page.get_by_role("link", name=what).click()
    return Path(download.value.path()).read_bytes()


def test_sheets_pictures_and_everything_are_taken_along(page: Any, axe: Any) -> None:
    sheets = PdfReader(io.BytesIO(taken(page, "Cutting and sewing sheets")))
    assert len(sheets.pages) >= 5
    letter = sheets.pages[0].mediabox
    page.locator("[data-key=out-more]").click()
    axe(page)
    for paper in ("letter", "a4"):  # as chosen last, whatever the browser's language is
        page.locator("select[data-key=paper]").select_option(paper)
        for what in ("Cutting and sewing sheets", "Everything as one zip"):
            link = page.get_by_role("link", name=what)
            assert f"paper={paper}&" in link.get_attribute("href")
    page.locator("#out select[data-key=units]").select_option("cm")
    sheets = PdfReader(io.BytesIO(taken(page, "Cutting and sewing sheets")))
    a4 = sheets.pages[0].mediabox
    assert {round(float(side)) for side in (a4.width, a4.height)} == {595, 842}  # ISO 216
    assert a4.height != letter.height or a4.width != letter.width or page.evaluate(
        "() => !/-(US|CA)/.test(navigator.language)")
    assert "cm" in "".join(one.extract_text() for one in sheets.pages[:3])
    picture = Image.open(io.BytesIO(taken(page, "The picture")))
    assert min(picture.size) > 300
    with zipfile.ZipFile(io.BytesIO(taken(page, "Everything as one zip"))) as whole:
        names = whole.namelist()
    assert any(name.endswith(".pdf") for name in names)
    assert any(name.endswith("piece.json") for name in names)
    page.evaluate("() => localStorage.clear()")


def test_taking_along_can_be_stopped(page: Any) -> None:
    routed(page, "**/api/sheets.pdf*", lambda one: None)  # or it may be there before it is stopped
    page.get_by_role("link", name="Cutting and sewing sheets").click()
    page.get_by_role("button", name="Stop", exact=True).click()
    page.get_by_role("status").get_by_text("Stopped").wait_for()


def test_cautions_stand_where_the_sheets_are_offered(page: Any) -> None:
    told = page.locator("#out").inner_text()
    for word in ("blades", "irons", "needles", "makers’ instructions"):
        assert word in told.casefold()


def test_the_page_on_paper(page: Any) -> None:
    page.locator("#hang canvas").first.wait_for()
    paper = PdfReader(io.BytesIO(page.pdf(format="A4")))
    told = " ".join(one.extract_text() for one in paper.pages)
    assert len(paper.pages) <= 3
    for words in ("The piece", "Strip set, top to bottom", "What is left", "Blades, irons"):
        assert words in told
    assert "Undo" not in told
    until(page, "!document.querySelector('#paper').innerText")  # gone, for eyes and screen readers


def test_help_is_the_docs_without_a_network(shared: Served, page: Any, axe: Any) -> None:
    for name, heading in (("photographing", "Photographing"), ("sewing", "Sewing")):
        page.goto(f"{shared.url}/help/{name}")
        assert heading in page.locator("h1").first.inner_text()
        axe(page)
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("link", name="Photographing").first.click()
    assert page.url.endswith("/help/photographing")
    page.goto(shared.url)


# ── a phone ───────────────────────────────────────────────────────────────────────────────


def on_a_network() -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return not str(probe.getsockname()[0]).startswith(("0.", "127.", "169.254."))
        except OSError:
            return False


@pytest.mark.skipif(not on_a_network(), reason="this machine is on no network")
def test_a_phone_comes_in_once_and_sends(serve: Any, browser: Any, tmp_path: Path,
                                         axe: Any) -> None:
    served = serve(tmp_path / "new")
    page = served.page()
    page.get_by_role("button", name="Send them from a phone").click()
    page.get_by_role("dialog").get_by_text("not encrypted").wait_for()  # she reads it first
    assert page.locator(".address").count() == 0  # nothing is open before she says so
    page.get_by_role("button", name="Open the door for my phone").click()
    address = page.locator(".address").inner_text()
    assert page.locator("svg.qr path").get_attribute("d")
    axe(page)
    faults: list[str] = []
    phone = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    here = phone.new_page()
    here.on("pageerror", lambda fault: faults.append(str(fault)))
    here.goto(address)
    here.get_by_text("You are in").wait_for()
    assert "#" not in here.url  # the secret is not left in the history
    axe(here)
    for label in here.locator("label").all():
        assert lies(label)["height"] >= 44
    here.locator("#many").set_input_files(next(one for one in SAMPLES if "kelp" in one.name))
    here.get_by_text("kelp.jpg: arrived").wait_for()
    page.get_by_text("1 photograph has come").wait_for()
    page.get_by_role("button", name="Leave it open").click()
    page.get_by_text("The door for a phone is open.").wait_for()  # said as long as it is
    blank = tmp_path / "blank.png"
    Image.new("RGB", (1600, 1200), "white").save(blank)
    here.locator("#many").set_input_files(blank)
    region = page.get_by_role("region", name="Could not be used")
    region.get_by_text("blank.png").wait_for(timeout=LONG)  # also what this window did not send
    page.get_by_role("button", name="Show it").click()
    other = browser.new_context()
    late = other.new_page()
    late.goto(address)
    late.locator("#ways").wait_for(state="hidden")
    assert "You are in" not in late.locator("#told").inner_text()
    page.get_by_role("button", name="Shut the door").click()
    page.get_by_role("button", name="Open the door for my phone").wait_for()
    here.locator("#many").set_input_files(next(one for one in SAMPLES if "oilskin" in one.name))
    here.get_by_role("button", name="Send again").wait_for()
    assert not faults
    assert not served.faults, served.faults
    phone.close()
    other.close()
