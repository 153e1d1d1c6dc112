"""Many photographs read at once: this process and, from a few photos on, a second one beside it."""

from __future__ import annotations

import os
import warnings
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from queue import SimpleQueue

from sequencer.models import Progress, Rejected
from sequencer.photograph import ReadPhoto, Wishes, read_one
from sequencer.second_core import SecondCore, SecondCoreLostError, may_help

_WORKERS = 2
_ENOUGH = 8
"""Photos from which starting a second process, about a second's work, is worth it."""


def read_each(
    photos: list[Path], wishes: Wishes, progress: Progress | None
) -> list[ReadPhoto | Rejected]:
    """Work through the photos on both cores; results in the photos' order.

    ``progress`` is called in this thread after each photo.
    """
    say = progress or (lambda done, total, what: None)
    total = len(photos)
    say(0, total, "reading photographs")
    readers = _Readers(wishes, total)
    pool = ThreadPoolExecutor(readers.count)
    with warnings.catch_warnings():
        # What a decoder has to say about a damaged file ends up in `rejected`.
        warnings.filterwarnings("ignore", module="PIL")
        try:
            running = {pool.submit(readers.read, path): path for path in photos}
            for done, future in enumerate(as_completed(running), 1):
                future.result()
                say(done, total, f"read {running[future].name}")
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

    def __init__(self, wishes: Wishes, photos: int) -> None:
        self._wishes = wishes
        self.count = min(_WORKERS, os.cpu_count() or 1, photos)
        self._closed = False
        self._free: SimpleQueue[SecondCore | None] = SimpleQueue()
        self._second = _second_core() if photos >= _ENOUGH else None
        for second in [None] * (self.count - 1) + [self._second]:
            self._free.put(second)

    def read(self, path: Path) -> ReadPhoto | Rejected:
        second = self._free.get()
        try:
            if second is not None:
                return self._asked(second, path)
            return read_one(path, self._wishes)
        except SecondCoreLostError:
            second = None
            if self._closed:
                raise
            return read_one(path, self._wishes)
        finally:
            self._free.put(second)

    def _asked(self, second: SecondCore, path: Path) -> ReadPhoto | Rejected:
        answer = second.do(read_one, path, self._wishes)
        if not isinstance(answer, ReadPhoto | Rejected):
            raise SecondCoreLostError
        return answer

    def close(self) -> None:
        self._closed = True
        if self._second is not None:
            self._second.close()
