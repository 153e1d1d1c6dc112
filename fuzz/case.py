"""One command in a process of its own: what it said, how it ended, what it cost."""

from __future__ import annotations

import contextlib
import os
import resource
import select
import signal
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass

WORK = 10.0
"""Seconds of processor time after which a case hangs; other programs may hold the processor."""
WAIT = 120.0
"""Seconds on the clock after which it hangs."""
MEMORY = 10**9
_SAFETY = 6 * 2**30  # bytes of address space after which a case gets no more
_CRASHED = 70


@dataclass(frozen=True)
class Outcome:
    """``code``: what it exited with, negative the signal that ended it. Memory in bytes."""

    code: int
    out: str
    err: str
    work: float
    wait: float
    memory: int

    def troubles(self, killed: bool = False) -> list[str]:
        """What may never happen, one word and a line each; ``killed``: the signal was ours."""
        found = []
        if self.work > WORK or self.wait > WAIT:
            found.append(f"hang: {self.work:.0f} s of work, {self.wait:.0f} s on the clock")
        elif self.code < 0 and not killed:
            found.append(f"traceback: ended by signal {-self.code}")
        if "Traceback (most recent call last)" in self.err:
            found.append("traceback: " + self.err.strip().splitlines()[-1][:200])
        elif self.code not in (0, 1, 2, 130) and self.code >= 0:
            found.append(f"traceback: exit code {self.code}")
        if self.code in (1, 2) and not _last_line(self.err).strip():
            found.append("traceback: refused without a word")
        if self.memory > MEMORY:
            found.append(f"memory: {self.memory / 1e6:.0f} MB")
        return found

    @property
    def message(self) -> str:
        """What the program says in the end."""
        return self.err[self.err.rfind("passalong: "):].strip()


@dataclass
class Running:
    """A forked command; ``wait_for`` reads all it says until it ends."""

    pid: int
    out: int
    err: int
    started: float

    def wait_for(self, kill_after: float | None = None, with_signal: int = signal.SIGKILL
                 ) -> Outcome:
        """Its outcome; after ``kill_after`` seconds it gets ``with_signal``, unless it is done."""
        said: dict[int, bytearray] = {self.out: bytearray(), self.err: bytearray()}
        struck = False
        while said.keys() & (waiting := self._open):
            now = time.monotonic() - self.started
            if kill_after is not None and not struck and now >= kill_after:
                self._strike(with_signal)
                struck = True
            if now > WAIT + 1:
                self._strike(signal.SIGKILL)
            due = WAIT + 1 - now
            if kill_after is not None and not struck:
                due = min(due, kill_after - now)
            for pipe in select.select(list(waiting), [], [], max(0.0, min(due, 1.0)))[0]:
                data = os.read(pipe, 65536)
                if data:
                    said[pipe] += data
                else:
                    os.close(pipe)
                    waiting.discard(pipe)
        _, status, used = os.wait4(self.pid, 0)
        scale = 1 if os.uname().sysname == "Darwin" else 1024
        return Outcome(
            os.waitstatus_to_exitcode(status),
            said[self.out].decode("utf-8", "replace"), said[self.err].decode("utf-8", "replace"),
            used.ru_utime + used.ru_stime, time.monotonic() - self.started,
            used.ru_maxrss * scale,
        )  # fmt: skip

    def __post_init__(self) -> None:
        self._open = {self.out, self.err}

    def _strike(self, number: int) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, number)


def start(arguments: Sequence[object], prepare: Callable[[], None] | None = None) -> Running:
    """Fork and run one command there, after ``prepare``."""
    out, out_end = os.pipe()
    err, err_end = os.pipe()
    started = time.monotonic()
    pid = os.fork()
    if pid == 0:
        os.dup2(out_end, 1)
        os.dup2(err_end, 2)
        os.closerange(3, 64)
        os._exit(_done([str(one) for one in arguments], prepare))
    os.close(out_end)
    os.close(err_end)
    return Running(pid, out, err, started)


def run(arguments: Sequence[object], prepare: Callable[[], None] | None = None) -> Outcome:
    """One command from start to end."""
    return start(arguments, prepare).wait_for()


def _done(arguments: list[str], prepare: Callable[[], None] | None) -> int:
    """The exit code; everything that a face would leave to Python ends up on standard error."""
    import sys

    from passalong.main import main

    sys.stdout = os.fdopen(1, "w", encoding="utf-8", errors="replace")
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", errors="replace")
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        resource.setrlimit(resource.RLIMIT_AS, (_SAFETY, _SAFETY))
        if prepare:
            prepare()
        code = main(arguments)
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else 0
    except BaseException:
        traceback.print_exc()
        code = _CRASHED
    with contextlib.suppress(Exception):
        sys.stdout.flush()
        sys.stderr.flush()
    return code


def _last_line(text: str) -> str:
    return text.strip().rpartition("\n")[2]
