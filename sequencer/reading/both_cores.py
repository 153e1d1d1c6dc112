"""Many photographs read at once: this process and, from a few photos on, a second one beside it."""

from __future__ import annotations

import gc
import os
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from queue import SimpleQueue

from sequencer.files import shown
from sequencer.models import Progress, Rejected
from sequencer.reading.photograph import ReadPhoto, read_one
from sequencer.reading.seen import Wishes
from sequencer.second_core import SecondCore, SecondCoreLostError, may_help

_WORKERS = 2
_ENOUGH = 8
"""Photos from which starting a second process, about a second's work, is worth it."""


@dataclass(frozen=True)
class Job:
    """One photograph to read: where it lies, what was asked of it, and its name for people."""

    path: Path
    wishes: Wishes
    name: str


Told = Callable[[str, ReadPhoto | Rejected], None]
"""Called with a photo's name and what it gave as soon as that is known, before anything is kept."""


def read_job(job: Job) -> ReadPhoto | Rejected:
    """One photo read, its swatches packed."""
    with _nothing_collected():
        read = read_one(job.path, job.wishes, job.name)
        if isinstance(read, Rejected):
            return Rejected(shown(read.photo), shown(read.why))
        prints = tuple(
            (number, replace(one, swatch=one.swatch and one.swatch.packed()))
            for number, one in read.prints
        )
        return replace(read, prints=prints)


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Python looks for no circles of garbage meanwhile: a reading makes next to none, and looking
    takes a twentieth of its time."""
    looked = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looked:
            gc.enable()


def read_each(
    jobs: list[Job], progress: Progress | None, told: Told | None = None
) -> list[ReadPhoto | Rejected]:
    """Work through the photos on both cores; results in the jobs' order.

    ``progress`` and ``told`` are called in this thread after each photo.
    """
    say = progress or (lambda done, total, what: None)
    total = len(jobs)
    say(0, total, "reading photographs")
    readers = _Readers(total)
    pool = ThreadPoolExecutor(readers.count)
    with warnings.catch_warnings():
        # What a decoder has to say about a damaged file ends up in `rejected`.
        warnings.filterwarnings("ignore", module="PIL")
        try:
            running = {pool.submit(readers.read, job): job for job in jobs}
            for done, future in enumerate(as_completed(running), 1):
                result, name = future.result(), running[future].name
                if told is not None:
                    told(name, result)
                say(done, total, f"read {name}")
            return [future.result() for future in running]
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
            readers.close()
            pool.shutdown(wait=True)


def _second_core() -> SecondCore | None:
    """A process beside this one, where the machine has room for it."""
    try:
        return SecondCore() if may_help() else None
    except OSError:
        return None


class _Readers:
    """One reader for each core: this process, and a second one where there is enough to do.

    Whatever that cannot do is done here.
    """

    def __init__(self, photos: int) -> None:
        self.count = min(_WORKERS, os.cpu_count() or 1, photos)
        self._closed = False
        self._free: SimpleQueue[SecondCore | None] = SimpleQueue()
        self._second = _second_core() if photos >= _ENOUGH else None
        for second in [None] * (self.count - 1) + [self._second]:
            self._free.put(second)

    def read(self, job: Job) -> ReadPhoto | Rejected:
        second = self._free.get()
        try:
            if second is not None:
                return self._asked(second, job)
            return read_job(job)
        except SecondCoreLostError:
            second = None
            if self._closed:
                raise
            return read_job(job)
        finally:
            self._free.put(second)

    def _asked(self, second: SecondCore, job: Job) -> ReadPhoto | Rejected:
        answer = second.do(read_job, job)
        if not isinstance(answer, ReadPhoto | Rejected):
            raise SecondCoreLostError
        return answer

    def close(self) -> None:
        self._closed = True
        if self._second is not None:
            self._second.close()
