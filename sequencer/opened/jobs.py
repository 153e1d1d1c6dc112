"""Long work of an opened piece: one thing after the other in one child, told line by line.

A job's lines are kept, so that whoever looks later sees all of them. Photographs that come in
while others are read join the same job.
"""

from __future__ import annotations

import contextlib
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from sequencer.models import Json
from sequencer.opened.child import Child, ChildLostError, HushedError, RefusedError

IDLE = 600.0
"""Seconds after which a child that has nothing to do is ended, and forgets the photo it knows."""
QUIET = 0
"""The number of jobs that nobody waits for."""
AT_ONCE = 8
"""Photographs that are read before what they gave is saved."""
Tell = Callable[[Json | None], None]
"""Takes each line of a job, and None after the last."""
STOPPED = {"error": "Stopped; nothing was changed.", "code": "stopped"}


@dataclass(frozen=True)
class Upload:
    """A photograph that came in: its number, where it lies, and what it is called."""

    number: int
    path: Path
    name: str


class Job:
    """One piece of long work: ``run(job, child)`` gives its last line."""

    def __init__(self, number: int, run: Callable[[Job, Child], Json]) -> None:
        self.number, self.run = number, run
        self.stopped = False
        self.result: Any = None
        self._lines: list[Json] = [{"job": number}]
        self._ended = False
        self._listeners: list[Tell] = []
        self._lock = threading.Lock()

    @property
    def ended(self) -> bool:
        """Whether its last line is told."""
        return self._ended

    def tell(self, line: Json) -> None:
        """One line more."""
        with self._lock:
            self._lines.append(line)
            for listener in self._listeners:
                listener(line)

    def end(self, line: Json) -> None:
        """The last line."""
        self.tell(line)
        with self._lock:
            self._ended = True
            for listener in self._listeners:
                listener(None)

    def wait(self) -> Json:
        """The last line, once it is told."""
        over = threading.Event()
        leave = self.listen(lambda line: over.set() if line is None else None)
        over.wait()
        leave()
        return self._lines[-1]

    def listen(self, tell: Tell) -> Callable[[], None]:
        """Hear all lines from the first on; returns how to stop hearing."""
        with self._lock:
            for line in self._lines:
                tell(line)
            if self._ended:
                tell(None)
            self._listeners.append(tell)

        def leave() -> None:
            with self._lock:
                self._listeners.remove(tell)

        return leave


class Reading(Job):
    """The job that reads photographs; more may join it until it ends."""

    def __init__(self, number: int, run: Callable[[Job, Child], Json]) -> None:
        super().__init__(number, run)
        self.waiting: list[Upload] = []
        self.taken: list[Upload] = []
        self.total = 0
        self.closed = False

    def take(self) -> list[Upload]:
        """The next photographs to read at once, no two of one name."""
        taken: list[Upload] = []
        while self.waiting and len(taken) < AT_ONCE:
            if self.waiting[0].name in [one.name for one in taken]:
                break
            taken.append(self.waiting.pop(0))
        return taken


class Jobs:
    """The jobs of one opened piece, done in their order; a child for them that is kept a while."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._jobs: dict[int, Job] = {}
        self._queue: SimpleQueue[Job] = SimpleQueue()
        self._child: Child | None = None
        self._running: Job | None = None
        self._quiet: Job | None = None
        self._closed = False
        self._worker: threading.Thread | None = None
        self._idle: threading.Timer | None = None

    def start(self, run: Callable[[Job, Child], Json], kind: type[Job] = Job) -> Job:
        """Begin a job as soon as those before it are done; one that runs quietly makes way."""
        with self._lock:
            job = kind(len(self._jobs) + 1, run)
            self._jobs[job.number] = job
            self._begin(job)
            if self._quiet is not None:
                self._quiet.stopped = True
                if self._running is self._quiet and self._child is not None:
                    self._child.hush()
        return job

    def quietly(self, run: Callable[[Job, Child], Json]) -> bool:
        """Do what nobody waits for, if there is nothing else to do; it can be asked for by no
        number.
        """
        with self._lock:
            if not self.idle or self._closed:
                return False
            self._quiet = Job(QUIET, run)
            self._begin(self._quiet)
            return True

    def _begin(self, job: Job) -> None:
        with self._lock:
            self._queue.put(job)
            if self._worker is None:
                self._worker = threading.Thread(target=self._work, daemon=True)
                self._worker.start()

    def get(self, number: int) -> Job | None:
        """The job of this number."""
        return self._jobs.get(number)

    @property
    def idle(self) -> bool:
        """Whether nothing is being done or waits."""
        with self._lock:
            return self._running is None and self._queue.empty()

    @property
    def current(self) -> Job | None:
        """The job that is being done."""
        return self._running

    def cancel(self, job: Job) -> None:
        """End a job and its child at once; one that still waits is not begun."""
        with self._lock:
            job.stopped = True
            if self._running is job and self._child is not None:
                self._child.kill()

    def make_ready(self) -> None:
        """Start the child ahead of the work, where that is about to come."""
        with self._lock:
            if not self._closed and (self._child is None or not self._child.alive):
                with contextlib.suppress(OSError):
                    self._child = Child()

    def close(self) -> None:
        """End everything at once."""
        with self._lock:
            self._closed = True
            if self._idle is not None:
                self._idle.cancel()
            if self._child is not None:
                self._child.kill()

    def _work(self) -> None:
        while True:
            job = self._queue.get()
            with self._lock:
                if self._idle is not None:
                    self._idle.cancel()
                self.make_ready()
                self._running, child = job, self._child
            job.end(_done(job, child))
            with self._lock:
                self._running = None
                self._idle = threading.Timer(IDLE, self._rest)
                self._idle.daemon = True
                self._idle.start()

    def _rest(self) -> None:
        with self._lock:
            if self._running is None and self._child is not None:
                self._child.close()
                self._child = None


def code_of(kind: str) -> str:
    """An error's name as a word for the page: NoCornersError → no_corners."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", kind.removesuffix("Error")).lower()


def _done(job: Job, child: Child | None) -> Json:
    """Do the job; its last line."""
    if job.stopped:
        return STOPPED
    if child is None:
        return {"error": "No second process can be started on this machine.", "code": "fault"}
    try:
        return job.run(job, child)
    except HushedError:
        return STOPPED
    except RefusedError as error:
        return {"error": str(error), "code": code_of(error.kind)}
    except ChildLostError:
        if job.stopped:
            return STOPPED
        return {"error": "The work was lost before it was done; nothing was changed. Do it again.",
                "code": "lost"}  # fmt: skip
    except Exception as error:  # a fault of ours must not end the page
        return {"error": f"The program stumbled ({type(error).__name__}: {error}).",
                "code": "fault"}  # fmt: skip
