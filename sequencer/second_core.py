"""A second Python that reads photographs beside this one, on a core of its own.

Threads of one Python wait for each other wherever arrays are small, and reading is full of those.
The other is a plain child process that talks through its pipes: unlike ``multiprocessing`` it
never imports the user's script again, so that a script without ``if __name__ == "__main__"`` works.
It starts while the first photos are read here, keeps still on Ctrl-C, and ends when this process
closes it or ends.
"""

from __future__ import annotations

import contextlib
import json
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "import sequencer.second_core as here; "
)
_NO_WINDOW = getattr(subprocess, "CREATE_NO_WINDOW", 0)


class SecondCoreLostError(Exception):
    """The other process could not do its part; what was asked is to be done here."""


class SecondCore:
    """One process beside this one; not for two threads at once."""

    def __init__(self) -> None:
        code = _START + "here.serve()"
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-c", code, json.dumps(sys.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            creationflags=_NO_WINDOW,
        )

    def do(self, work: Callable[..., Any], *given: Any) -> Any:
        """``work(*given)`` done there: a module's function, and what pickle can carry.

        Raises:
            SecondCoreLostError: the process has ended, or the work failed there.
        """
        asked, answers = self._process.stdin, self._process.stdout
        assert asked is not None
        assert answers is not None
        try:
            pickle.dump((work, given), asked, pickle.HIGHEST_PROTOCOL)
            asked.flush()
            done, answer = pickle.load(answers)
        except Exception as error:  # pickle raises nearly anything
            raise SecondCoreLostError("the other process has ended") from error
        if not done:
            raise SecondCoreLostError("the work failed there")
        return answer

    def close(self) -> None:
        """End the process at once, whatever it is doing."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        self._process.wait()


def may_help() -> bool:
    """Whether another process of this Python can be started and would have a core of its own."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    python = Path(sys.executable or "").stem.lower().startswith(("python", "pypy"))
    return (cores or 1) > 1 and python and not getattr(sys, "frozen", False)


def serve() -> None:
    """The other side: do what comes in until nothing does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked = sys.stdin.buffer
    with _own_output() as answers:
        while True:
            try:
                work, given = pickle.load(asked)
            except EOFError:
                return
            answer: tuple[bool, Any]
            try:
                answer = True, work(*given)
            except Exception:  # whatever it was, it will be raised where it can be seen
                answer = False, None
            pickle.dump(answer, answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()


def _own_output() -> IO[bytes]:
    """Standard output for answers alone: what a decoder prints must not come between them."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return answers
