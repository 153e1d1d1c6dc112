"""A Python of its own for long work: it tells how far it is, and can be ended at any moment.

A plain child process that talks through its pipes, as :mod:`sequencer.second_core`, in a session of
its own, so that Ctrl-C at the terminal does not reach it. It ends with all that it started when it
is killed, and by itself when the process that started it is gone.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from functools import partial
from queue import SimpleQueue
from typing import IO, Any

from sequencer.errors import PassalongError
from sequencer.models import Json

Line = Callable[[Json], None]
"""Takes one line of what long work tells."""
_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "import sequencer.opened.child as here; here.serve()"
)
FULL = "The disk is full. Nothing is lost; free some space and do it again."
_NO_WINDOW = getattr(subprocess, "CREATE_NO_WINDOW", 0)


class ChildLostError(Exception):
    """The child ended before its work did."""


class RefusedError(PassalongError):
    """What the child said no to; ``kind``: the name of the error there."""

    def __init__(self, message: str, kind: str) -> None:
        super().__init__(message)
        self.kind = kind


class HushedError(Exception):
    """Work that was asked to make way for other work did so."""


class Child:
    """One child process; one piece of work at a time."""

    def __init__(self) -> None:
        self._asking = threading.Lock()
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-c", _START, json.dumps(sys.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            creationflags=_NO_WINDOW,
        )

    @property
    def pid(self) -> int:
        """Its number."""
        return self._process.pid

    @property
    def alive(self) -> bool:
        """Whether it still runs."""
        return self._process.poll() is None

    def do(self, work: Callable[..., Any], line: Line, *given: Any) -> Any:
        """``work(line, *given)`` done there; what it gives must go through pickle.

        Raises:
            RefusedError: the work said no.
            HushedError: it was asked to make way.
            ChildLostError: the child was killed or died.
        """
        answers = self._process.stdout
        assert answers is not None
        try:
            self._ask((work, given))
            while True:
                kind, told = pickle.load(answers)
                if kind == "line":
                    line(told)
                elif kind == "done":
                    return told
                elif kind == "hushed":
                    raise HushedError("It was asked to make way.")
                else:
                    raise RefusedError(*told)
        except (OSError, EOFError, ValueError, pickle.PickleError) as error:
            raise ChildLostError from error

    def _ask(self, what: Any) -> None:
        asked = self._process.stdin
        assert asked is not None
        with self._asking:
            pickle.dump(what, asked, pickle.HIGHEST_PROTOCOL)
            asked.flush()

    def hush(self) -> None:
        """What is being done there ends at its next line, and nothing comes of it."""
        with contextlib.suppress(OSError, ValueError):
            self._ask(None)

    def kill(self) -> None:
        """End it and all that it started, at once."""
        if os.name == "posix":
            with contextlib.suppress(OSError):
                os.killpg(self._process.pid, signal.SIGKILL)
        with contextlib.suppress(OSError):
            self._process.kill()
        self._process.wait()

    def close(self) -> None:
        """End it and close its pipes."""
        self.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()


# ── the other side ────────────────────────────────────────────────────────────────────────


def serve() -> None:
    """Do what comes in until nothing does; then end at once, whatever is being done."""
    with contextlib.suppress(OSError, ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked = _Asked()
    threading.Thread(target=asked.listen, args=(sys.stdin.buffer,), daemon=True).start()
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a decoder prints must not come between the answers
    while True:
        number, (work, given) = asked.queue.get()
        _do(work, given, answers, partial(asked.makes_way, number))


class _Asked:
    """What comes in: work, numbered, and how much of it is to make way."""

    def __init__(self) -> None:
        self.queue: SimpleQueue[tuple[int, Any]] = SimpleQueue()
        self.hushed = 0

    def makes_way(self, number: int) -> bool:
        """Whether the work of this number is to end."""
        return self.hushed >= number

    def listen(self, asked: IO[bytes]) -> None:
        """Take it until the other side is gone; then end the process."""
        count = 0
        while True:
            try:
                what = pickle.load(asked)
            except Exception:  # the other side is gone, however it went
                os._exit(0)
            if what is None:
                self.hushed = count
            else:
                count += 1
                self.queue.put((count, what))


def _never() -> bool:
    return False


def _do(
    work: Callable[..., Any], given: tuple[Any, ...], answers: IO[bytes],
    hushed: Callable[[], bool] = _never,
) -> None:
    lock = threading.Lock()

    def tell(kind: str, told: Any) -> None:
        with lock:
            pickle.dump((kind, told), answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()

    def line(told: Json) -> None:
        if hushed():
            raise HushedError
        tell("line", told)

    try:
        tell("done", work(line, *given))
    except HushedError:
        tell("hushed", None)
    except PassalongError as error:
        tell("refused", (str(error), type(error).__name__))
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        told = FULL if full else f"{error.filename or 'a file'}: {error.strerror or error}."
        tell("refused", (told, "DiskError"))
    except MemoryError:
        tell("refused", ("There is not enough memory for this.", "MemoryError"))
    except Exception as error:  # a fault of ours must not end the page
        tell("refused", (f"The program stumbled ({type(error).__name__}: {error}).", "Fault"))
