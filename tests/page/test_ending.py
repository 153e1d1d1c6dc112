"""A page test that stands still is ended, says where it stood, and leaves a browser to the next.

Whatever ends browsers and programs runs in a pytest of its own: this one's are shared by all tests.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.page.ending import in_time

NEVER = "new Promise(() => {})"
HUNG = f"""import pytest

from tests.page import conftest, ending

SHORT = ("test_hangs", "test_hides_it")
conftest.in_time = lambda what: ending.in_time(what, 5.0 if what in SHORT else 300.0)


def test_opens(browser):
    browser.new_context()


def test_hangs(browser):
    browser.new_context().new_page().evaluate("{NEVER}")


def test_opens_again(browser):
    browser.new_context()


def test_hides_it(browser):
    with pytest.raises(Exception, match="closed"):
        browser.new_context().new_page().evaluate("{NEVER}")
"""
ENDED = f"""import subprocess
import sys

import pytest

from tests.page.ending import in_time


def test_a_promise_that_is_never_kept_ends(browser):
    page = browser.new_context().new_page()
    with pytest.raises(Exception, match="closed"), in_time("this", seconds=1.0) as told:
        page.evaluate("{NEVER}")
    assert len(told) == 1
    assert "this stood still for 1 s" in told[0]
    assert "test_a_promise_that_is_never_kept_ends" in told[0], "not said where"
    assert browser.new_context().new_page().evaluate("1 + 1") == 2, "none is left for the next"


def test_what_no_browser_waits_for_ends_as_well():
    with in_time("this", seconds=0.2, grace=0.2) as told:
        done = subprocess.run([sys.executable, "-c", "import time; time.sleep(600)"], check=False)
    assert done.returncode < 0
    assert "all that it had started was ended" in told[-1]
"""


def run_of(tests: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A pytest of its own over these tests."""
    (folder / "test_alone.py").write_text(tests)
    root = str(Path(__file__).parents[2])
    return subprocess.run([sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider",
                           "-p", "tests.page.conftest", "--rootdir", root,
                           str(folder / "test_alone.py")],
                          cwd=root, capture_output=True, text=True, check=False, timeout=300)


def test_what_stands_still_is_ended_and_a_browser_is_left(tmp_path: Path) -> None:
    done = run_of(ENDED, tmp_path)
    assert "2 passed" in done.stdout, done.stdout + done.stderr


def test_what_is_in_time_is_left_alone() -> None:
    with in_time("this", seconds=60.0) as told:
        done = subprocess.run([sys.executable, "-c", "pass"], check=False)
    assert (done.returncode, told) == (0, [])


def test_a_whole_run_is_red_with_words_and_goes_on(tmp_path: Path) -> None:
    """Those that hung are red, also one that hides it; those between are not."""
    done = run_of(HUNG, tmp_path)
    assert "2 failed, 2 passed" in done.stdout, done.stdout + done.stderr
    assert "test_hangs stood still for 5 s; its browser was ended." in done.stdout
    assert "test_hides_it stood still for 5 s" in done.stdout
