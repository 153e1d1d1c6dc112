"""No page test stands still for good: when its time is over, what it waits for is ended, it fails.

A browser's call that is never answered (a promise that nobody keeps, a key press whose answer is
lost, a context that does not close) has no end of its own in Playwright.
"""

from __future__ import annotations

import contextlib
import faulthandler
import os
import signal
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from greenlet import getcurrent  # Playwright's calls wait in one of their own

LONGEST = 600.0  # seconds for one test with what it sets up and takes down, on a loaded machine
GRACE = 30.0  # seconds until a further step is taken


@contextmanager
def in_time(what: str, seconds: float = LONGEST, grace: float = GRACE) -> Iterator[list[str]]:
    """Give something so many seconds; the list says what was done about it when they are over.

    First the browser is ended, so that the call that waits for it raises in its test; then whatever
    else this process started. Without /proc (not Linux) it is only said where it stands.
    """
    told: list[str] = []
    done = threading.Event()
    caller = getcurrent()
    watch = threading.Thread(daemon=True, target=lambda: _watch(
        what, seconds, grace, done, told, lambda: caller.gr_frame))  # fmt: skip
    watch.start()
    try:
        yield told
    finally:
        done.set()
        watch.join()


def _watch(what: str, seconds: float, grace: float, done: threading.Event,
           told: list[str], waits: Callable[[], FrameType | None]) -> None:
    if done.wait(seconds):
        return
    test = "".join(traceback.format_stack(waits()))  # where it waits for its browser
    told.append(f"{what} stood still for {seconds:g} s; its browser was ended.\n{test}{_stacks()}")
    own = started_by(os.getpid())
    _end([below for one in own for below in started_by(one)])
    if done.wait(grace):
        return
    told.append(f"It stood still for {grace:g} s more; all that it had started was ended.")
    _end(own)


def _stacks() -> str:
    """Where each thread is."""
    with tempfile.TemporaryFile("w+") as file:
        faulthandler.dump_traceback(file)
        file.seek(0)
        return file.read()


def started_by(pid: int) -> list[int]:
    """The processes that a process started and that are still there (Linux; else none)."""
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    found: list[int] = []
    for one in tasks:
        with contextlib.suppress(OSError):
            found += map(int, one.read_text().split())
    return found


def _end(pids: list[int]) -> None:
    for pid in pids:
        with contextlib.suppress(OSError):
            os.kill(pid, signal.SIGKILL)
