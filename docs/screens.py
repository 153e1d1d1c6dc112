"""Screenshots of the browser page for looking at: python docs/screens.py FOLDER-FOR-PICTURES

A piece is made of the sample box in a folder of its own, opened in Debian's Chromium at 360, 820,
1440 and 2560 pixels, and photographed as it opens, with a cloth chosen, with its photograph and
with one in the air; on a desk also squinted at, on a dark surround, in forced colours and enlarged
to 200 %.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
SIZES = {360: 740, 820: 1180, 1440: 900, 2560: 1440}
OTHERWISE: dict[str, Any] = {
    "forced-colours-1440": {
        "viewport": {"width": 1440, "height": 900}, "forced_colors": "active"},
    "enlarged-720": {"viewport": {"width": 720, "height": 450}, "device_scale_factor": 2},
}
REST = "document.querySelector('#piece')?.dataset.shows === 'rest'"


def main(out: Path) -> None:
    """Make the piece, open it, photograph it."""
    from playwright.sync_api import sync_playwright

    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as made, sync_playwright() as playwright:
        piece = Path(made) / "harbour"
        images = ROOT / "sample_images"
        samples = [*images.glob("*.jpg"), *images.glob("*.webp")]
        _passalong("make", *sorted(samples), "--out", piece).communicate()
        server = _passalong("page", piece, "--no-browser")
        link = _link(server)
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium",
                                             args=["--no-sandbox"])
        state = None
        for width, height in SIZES.items():
            context = browser.new_context(viewport={"width": width, "height": height},
                                          storage_state=state, has_touch=width < 1000)
            page = context.new_page()
            page.goto(link if state is None else re.match(r"https?://[^/]+", link)[0])
            state = context.storage_state()
            _look(page, out, width)
            context.close()
        for name, more in OTHERWISE.items():
            page = browser.new_context(storage_state=state, **more).new_page()
            page.goto(re.match(r"https?://[^/]+", link)[0])
            _rest(page)
            page.screenshot(path=out / f"{name}.png")
        browser.close()
        server.terminate()
        server.wait()


def _look(page: Any, out: Path, width: int) -> None:
    _rest(page)
    page.screenshot(path=out / f"opens-{width}.png")
    page.locator(".strip .lift").nth(4).click()
    page.wait_for_timeout(500)
    page.screenshot(path=out / f"chosen-{width}.png")
    page.locator("[data-key=scene]").click()
    page.wait_for_selector(".shot .over polygon")
    page.wait_for_timeout(1000)
    page.screenshot(path=out / f"photo-{width}.png")
    page.locator("[data-key=scene]").click()
    if width < 1000:
        return
    box = page.locator(".strip .cloth").nth(4).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y + 4.6 * box["height"], steps=12)
    page.wait_for_timeout(1500)
    page.screenshot(path=out / f"carried-{width}.png")
    page.keyboard.press("Escape")
    page.mouse.up()
    page.get_by_role("button", name="Squint").click()
    page.get_by_role("button", name="Dark surround").click()
    page.wait_for_timeout(2500)
    page.screenshot(path=out / f"squint-dark-{width}.png")
    page.get_by_role("button", name="Light surround").click()


def _rest(page: Any) -> None:
    for _ in range(200):
        if page.evaluate(REST):
            break
        page.wait_for_timeout(100)
    page.wait_for_timeout(800)


def _passalong(*arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-m", "passalong", *map(str, arguments)], text=True,
                            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=ROOT)


def _link(server: subprocess.Popen[str]) -> str:
    for line in server.stdout or ():
        if found := re.search(r"https?://\S+", line):
            return found[0]
    raise SystemExit("passalong page printed no link")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
