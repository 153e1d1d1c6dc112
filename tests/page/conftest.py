"""The page as a person meets it: the program in a process of its own, Debian's Chromium before it.

Without a browser these tests are skipped and say so, unless CI is set: there they fail.
Every test fails on a request that leaves the machine and on an error in the browser's console.
"""

from __future__ import annotations

import contextlib
import os
import queue
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.page.ending import in_time
from tests.page.photo import to_the_table
from tests.page.waiting import STANDS, WAIT, rested, until

ROOT = Path(__file__).parents[2]
SAMPLES = sorted(one for one in (ROOT / "sample_images").iterdir()
                 if one.suffix in {".jpg", ".webp"})
SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desk": (1440, 900), "wide": (2560, 1440)}

STOOD = pytest.StashKey[list[str]]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[Any]:
    """Each test has an end, with what it sets up and takes down."""
    with in_time(item.name) as item.stash[STOOD]:
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[Any]:
    """A test that had to be ended is red and says so, whatever it made of that."""
    report, told = (yield), item.stash.get(STOOD, [])
    if told:
        report.sections.append(("stood still", "\n".join(told)))
        if report.passed:
            report.outcome, report.longrepr = "failed", "\n".join(told)
        told.clear()  # said once
    return report


def passalong(*arguments: object, **more: Any) -> subprocess.CompletedProcess[str]:
    """One command in a terminal beside the page."""
    return subprocess.run([sys.executable, "-m", "passalong", *map(str, arguments)], text=True,
                          capture_output=True, env=_environment(), check=False,
                          **{"timeout": 4 * WAIT, **more})


def _environment() -> dict[str, str]:
    paths = [str(ROOT), str(ROOT / "cli"), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths))}


@dataclass
class Browser:
    """Chromium; one that was ended, since a test stood still, is started anew for the next."""

    chromium: Any
    path: str
    made: Any = None

    def new_context(self, **more: Any) -> Any:
        """As Playwright's own."""
        if self.made is None or not self.made.is_connected():
            self.made = self.chromium.launch(executable_path=self.path, args=["--no-sandbox"])
        return self.made.new_context(**more)

    def close(self) -> None:
        """End it."""
        if self.made is not None:
            self.made.close()


@dataclass
class Served:
    """`passalong page` on one folder, and who may enter."""

    folder: Path
    link: str
    process: subprocess.Popen[str]
    browser: Any
    state: Any = None
    faults: list[str] = field(default_factory=list)
    contexts: list[Any] = field(default_factory=list)

    @property
    def url(self) -> str:
        return re.match(r"https?://[^/]+", self.link)[0]  # type: ignore[index]

    def page(self, size: str | tuple[int, int] = "desk", **more: Any) -> Any:
        """A page in a context of its own; the link works once, so its cookie is shared."""
        width, height = SIZES[size] if isinstance(size, str) else size
        context = self.browser.new_context(viewport={"width": width, "height": height},
                                           storage_state=self.state, **more)
        self.contexts.append(context)
        context.set_default_timeout(WAIT * 1000)
        page = context.new_page()
        self._watch(page)
        page.goto(self.link if self.state is None else self.url)
        if self.state is None:
            self.state = context.storage_state()
        page.wait_for_selector("body:not([data-scene=starting])")
        return page

    def _watch(self, page: Any) -> None:
        page.on("console", lambda line: line.type == "error" and self.faults.append(line.text))
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("request", lambda one: self._inside(one.url))

    def _inside(self, url: str) -> None:
        if not url.startswith((self.url, "blob:", "data:")):
            self.faults.append(f"a request left the machine: {url}")

    def stop(self) -> int:
        """End it and its pages: what nobody looks at any more takes no time from the next test."""
        try:
            for context in self.contexts:
                context.close()
            self.contexts.clear()
            self.process.terminate()
            return self.process.wait(WAIT)
        finally:
            self.process.kill()  # nothing where it has ended


def _start(folder: Path, browser: Any) -> Served:
    process = subprocess.Popen(
        [sys.executable, "-m", "passalong", "page", str(folder), "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=_environment(),
    )  # fmt: skip
    said: queue.Queue[str] = queue.Queue()
    threading.Thread(target=_listen, args=(process, said), daemon=True).start()
    heard = ""
    with contextlib.suppress(queue.Empty):
        while not (link := re.search(r"https?://\S+", heard)):
            heard += said.get(timeout=WAIT)
        return Served(folder, link[0], process, browser)
    process.kill()
    raise AssertionError(f"passalong page printed no link in {WAIT} s: {heard}")


def _listen(process: subprocess.Popen[str], said: queue.Queue[str]) -> None:
    for line in process.stdout or ():
        said.put(line)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium, headless."""
    where = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        where = None
    if where is None:
        why = "no browser here: apt-get install chromium, pip install playwright"
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(why)
    with sync_playwright() as playwright:
        made = Browser(playwright.chromium, where)
        yield made
        made.close()


@pytest.fixture(scope="session")
def box(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A piece made of the sample box; copy it before you change it."""
    folder = tmp_path_factory.mktemp("box") / "harbour"
    done = passalong("make", *SAMPLES, "--out", folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def serve(browser: Any) -> Iterator[Callable[[Path], Served]]:
    """Start `passalong page` on a folder; all are stopped at the end of the module."""
    started: list[Served] = []

    def start(folder: Path) -> Served:
        started.append(_start(folder, browser))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture(scope="module")
def shared(serve: Callable[[Path], Served], box: Path,
           tmp_path_factory: pytest.TempPathFactory) -> Served:
    """One server for a module, on its own copy of the made sample box."""
    return serve(Path(shutil.copytree(box, tmp_path_factory.mktemp("shared") / "harbour")))


@pytest.fixture
def own(serve: Callable[[Path], Served], box: Path, tmp_path: Path) -> Iterator[Served]:
    """A server of the test's own, on its own copy: for what cannot share."""
    served = serve(Path(shutil.copytree(box, tmp_path / "harbour")))
    yield served
    faults = list(served.faults)
    served.stop()
    assert not faults, faults


@pytest.fixture
def page(shared: Served) -> Iterator[Any]:
    """The page at 1440 × 900 on the module's server; faults of this test fail it."""
    shared.faults.clear()
    made = shared.page()
    yield made
    rested(made).context.close()  # nothing is left under way for the next test
    assert not shared.faults, shared.faults


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


@pytest.fixture(scope="session")
def axe() -> Callable[[Any], None]:
    """No violation of WCAG 2.2 AA that axe-core knows, in the state that the page is in."""
    from axe_playwright_python.sync_playwright import Axe

    def look(page: Any) -> None:
        until(page, STANDS)  # colours in mid-change are nobody's contrast
        rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        found = Axe().run(page, options={"runOnly": rules, "resultTypes": ["violations"]})
        told = [(one["id"], [node["html"][:160] for node in one["nodes"]])
                for one in found.response["violations"]]
        assert not told, told

    return look
