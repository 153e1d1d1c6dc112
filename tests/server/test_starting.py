"""The page while its program is still being loaded, and what is made ready meanwhile."""

from __future__ import annotations

import re
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from sequencer.kept import Kept
from sequencer.models import Swatch, cloth
from sequencer.opened import Opened
from sequencer.web.pages import STATIC
from sequencer.web.soon import Soon
from tests.server.conftest import Browser


def _python(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Python on this checkout, with a folder as its argument."""
    paths = [str(Path(__file__).parents[2]), str(Path(__file__).parents[2] / "cli")]
    code = f"import sys; sys.path[:0] = {paths}\n{code}"
    return subprocess.run([sys.executable, "-c", code, str(folder)], capture_output=True, text=True,
                          check=False, timeout=300)  # fmt: skip


def test_its_own_files_are_answered_before_it_is_loaded_and_the_rest_after():
    loaded = threading.Event()

    def make() -> Any:
        assert loaded.wait(60)
        return PlainTextResponse("the program's")

    soon = Soon(make)
    soon.begin(lambda: None)
    client = TestClient(soon)
    with ThreadPoolExecutor() as beside:
        later = beside.submit(client.get, "/api/piece")
        assert "<!doctype html>" in client.get("/").text
        assert "import" in client.get("/static/main.js").text
        assert client.get("/static/nothing.js").status_code == 404
        assert not later.done()
        loaded.set()
        assert later.result().text == "the program's"


def test_what_cannot_be_loaded_ends_it_and_is_raised(tmp_path: Path):
    """In a process of its own: a browser's test may hold this thread's event loop."""
    code = """if True:
        from pathlib import Path
        from sequencer.web import serve
        def load(self):
            raise ImportError("no numpy here")
        serve._Program.load = load
        serve.serve(Path(sys.argv[1]), 0, lambda link, alone: None)
    """
    done = _python(code, tmp_path)
    assert done.returncode == 1
    assert done.stderr.rstrip().endswith("ImportError: no numpy here")


@pytest.mark.parametrize(("does", "not_loaded"), [
    ("import passalong.opening", {"numpy", "sequencer.piece", "sequencer.opened"}),
    ("from pathlib import Path; from sequencer.opened import Opened; "
     "assert Opened(Path(sys.argv[1])).document()['plan']", {"scipy", "skimage", "highspy"}),
])  # fmt: skip
def test_the_first_answers_load_no_more_than_they_need(
    piece: Path, does: str, not_loaded: set[str]
):
    done = _python(f"{does}; print(*sys.modules)", piece)
    assert done.returncode == 0, done.stderr
    assert not_loaded.isdisjoint(done.stdout.split())


def test_all_modules_of_the_page_are_announced_with_it(browser: Browser):
    told = browser.client.get("/").headers["link"]
    announced = re.findall(r"</static/([\w-]+\.js)>; rel=modulepreload", told)
    assert set(announced) == {one.name for one in STATIC.glob("*.js")} - {"phone.js"}
    assert len(announced) == len(set(announced))


def test_the_light_picture_is_cut_of_cloth_that_is_ready(
    piece: Path, monkeypatch: pytest.MonkeyPatch
):
    """The scale is the page's own: wall.js, ``motion``, on a screen that holds it."""
    opened = Opened(piece)
    opened.warm_cloth()
    wide, high = (float(side) for side in opened.plan(opened.piece()).bordered)
    monkeypatch.setattr("sequencer.opened.hanging.cloth_seen", None)  # none can be made any more
    ppi = 32 * max(1, 12 / max(wide, high))
    assert opened.hung(lambda wall, one, plan: wall.bands(one, plan, ppi, "colour")).images


def test_what_many_ask_for_at_once_is_made_once():
    kept: Kept[int] = Kept(2)
    made, go = [], threading.Event()

    def make() -> int:
        go.wait()
        made.append(1)
        return 7

    with ThreadPoolExecutor(4) as four:
        asked = [four.submit(kept.get, "x", make) for _ in range(4)]
        go.set()
        assert [one.result() for one in asked] == [7] * 4
    assert made == [1]


def test_what_is_kept_weighs_no_more_than_it_may_and_what_was_used_stays():
    random, kept = np.random.default_rng(4), Kept[bytes](100, len)
    used: dict[int, None] = {}
    for key in random.integers(0, 40, 2000).tolist():
        kept.get(key, lambda key=key: bytes(key))
        used.pop(key, None)
        used[key] = None
        held = list(kept._things)
        assert kept.weight == sum(map(len, kept._things.values())) <= 100
        assert held == list(used)[-len(held):]  # the last used, in their order


def test_swatches_are_kept_by_their_bytes(tmp_path: Path):
    swatches = []
    for shade in range(12):
        path = tmp_path / f"{shade}.png"
        Image.fromarray(np.full((1000, 1000, 3), shade, np.uint8)).save(path)
        swatches.append(Swatch(path))
    for swatch, shade in [*zip(swatches, range(12), strict=True)] * 2:
        assert (swatch.pixels == shade).all()
        held = sum(pixels.nbytes for pixels in cloth._SEEN._things.values())
        assert 3_000_000 <= held == cloth._SEEN.weight <= 24_000_000
    assert swatches[-1].pixels is swatches[-1].pixels


def test_what_could_not_be_made_is_tried_again():
    kept: Kept[int] = Kept(2)
    with pytest.raises(ZeroDivisionError, match="division"):
        kept.get("x", lambda: 1 // 0)
    assert kept.get("x", lambda: 3) == 3
