"""Long work of an opened piece as jobs: what is asked, checked here, and done in the child."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from sequencer.errors import PieceError, WorkError
from sequencer.models import Json
from sequencer.opened.child import Child, ChildLostError, HushedError, Line
from sequencer.opened.jobs import Job, Jobs, Reading, Upload
from sequencer.opened.state import Opened
from sequencer.ordering.sequence import doubts_open

MOST_PHOTOS = 300
"""Photographs a piece may hold that are taken from a page (no box of scraps needs more)."""
PARTS = ("photos", "prints", "sequence", "plan")
_INCOMING = ".incoming-"


class TooManyError(WorkError):
    """The piece holds as many photographs as it may."""


class Long:
    """The long work of one opened piece."""

    def __init__(self, opened: Opened) -> None:
        self.opened, self.jobs = opened, Jobs()
        self._lock = threading.Lock()
        self._reading: Reading | None = None
        self._incoming: Path | None = None
        self._count = 0
        self._ways: tuple[str, list[Json]] = ("", [])
        self._doubted = self._looked_at = ""

    # ── photographs ───────────────────────────────────────────────────────────────────────

    def place_for(self) -> Path:
        """Where a photograph that comes in may be written: on the piece's own disk.

        Raises:
            TooManyError: the piece is full.
            PieceError: the folder cannot be made or written.
        """
        waiting = len(self._reading.waiting) if self._reading else 0
        if len(self.opened.piece().photos) + waiting >= MOST_PHOTOS:
            raise TooManyError(
                f"A piece holds {MOST_PHOTOS} photographs at most, and this one is full. Take some "
                "out first."
            )
        self.jobs.make_ready()
        with self._lock:
            self._count += 1
            if self._incoming is None or not self._incoming.is_dir():
                self._incoming = _made(self.opened.folder)
            return self._incoming / str(self._count)

    def take_in(self, path: Path, name: str) -> tuple[Reading, Upload]:
        """A photograph that has come in whole: it is read with those that wait."""
        with self._lock:
            upload = Upload(int(path.stem), path, name)
            if self._reading is None or self._reading.closed or self._reading.stopped:
                job = self.jobs.start(self._read, Reading)
                assert isinstance(job, Reading)
                self._reading = job
            self._reading.waiting.append(upload)
            self._reading.total += 1
            return self._reading, upload

    def give_up(self, job: Reading, number: int) -> None:
        """A photograph that still waits is not read; the only one ends its job."""
        with self._lock:
            alone = job.total == 1
            for upload in [one for one in job.waiting if one.number == number]:
                job.waiting.remove(upload)
                job.total -= 1
                upload.path.unlink(missing_ok=True)
        if alone:
            self.stop(job)

    def ready_for(self, photo: str) -> None:
        """She looks at this photograph: the child gets it ready to be set right."""
        self._looked_at = photo
        self.follow()

    def follow(self) -> None:
        """What follows by itself is begun, where nothing else is to be done: how sure the order is
        that hangs there, then the photograph that she looks at.
        """
        piece = self.opened.piece()
        if piece.revision != self._doubted and doubts_open(piece):
            self.jobs.quietly(partial(self._doubt, piece.revision))
        elif self._looked_at and self.jobs.quietly(partial(self._get_ready, self._looked_at)):
            self._looked_at = ""

    def _doubt(self, revision: str, job: Job, child: Child) -> Json:
        from sequencer.opened import working

        self._doubted = revision  # where nothing comes of it, not again and again
        try:
            child.do(working.doubt, _hushing(job, child), self.opened.folder)
        except (HushedError, ChildLostError):
            self._doubted = ""
            raise
        return {}

    def _get_ready(self, photo: str, job: Job, child: Child) -> Json:
        from sequencer.opened import working

        child.do(working.ready, _hushing(job, child), self.opened.folder, photo)
        return {}

    def _read(self, job: Job, child: Child) -> Json:
        """Read what waits, batch by batch, then lay out the picture; whatever comes joins."""
        from sequencer.opened import working

        assert isinstance(job, Reading)
        folder, done = self.opened.folder, 0
        joins = ""
        try:
            while not job.closed:
                if batch := self._batch(job):
                    joins = child.do(
                        working.read_batch, job.tell, folder, batch, joins, done, job.total)
                    done += len(batch)
                    job.tell({"revision": self.opened.revision})
                    continue
                joins = child.do(working.picture, job.tell, folder, joins)
                with self._lock:
                    job.closed = not job.waiting
            return self._last(joins)
        finally:
            self._clear(job)

    def _batch(self, job: Reading) -> list[Upload]:
        """The next photographs to read at once; those of the last batch are thrown away."""
        with self._lock:
            for upload in job.taken:
                upload.path.unlink(missing_ok=True)
            job.taken = job.take()
            return job.taken

    def _clear(self, job: Reading) -> None:
        """Nothing joins any more; what came in and is not read is thrown away."""
        with self._lock:
            job.closed = True
            for upload in (*job.taken, *job.waiting):
                upload.path.unlink(missing_ok=True)
            job.taken, job.waiting = [], []

    def stop(self, job: Job) -> None:
        """End a job at once; what it has saved by then stays."""
        self.jobs.cancel(job)
        if isinstance(job, Reading):
            self._clear(job)

    # ── the rest ──────────────────────────────────────────────────────────────────────────

    def start(self, revision: str | None, name: str, *given: Any) -> Job:
        """A job of :mod:`sequencer.opened.working` that leaves a new revision.

        Raises:
            PieceChangedError: another piece lies there than that of the revision.
        """
        if revision is not None:
            self.opened.expect(revision)
        return self._start(name, given, self._last)

    def unsize(self, revision: str, id_: str) -> Json:
        """A print as large as it was measured again; waits for it. Answers the document.

        Raises:
            PieceChangedError, PieceError: as for a change.
        """
        given = {"ids": [id_], "line": [], "photo": None}
        last = self.start(revision, "set_right", "unsize", given).wait()
        if "error" in last:
            raise PieceError(last["error"])
        return self.opened.document()

    def ways_out(self, revision: str) -> Job:
        """Ways out of a shortage: each tried, with what to send to take it."""
        self.opened.expect(revision)
        return self._start("ways", (), lambda found: self._offered(revision, found))

    def _offered(self, revision: str, found: list[Json]) -> Json:
        self._ways = (revision, found)
        shown = ("label", "costs", "lacks", "enough")
        return {"ways": [
            {"n": n, **{key: way[key] for key in shown}, "method": "POST", "path": "/api/way-out",
             "body": {"n": n}} for n, way in enumerate(found, 1)
        ]}  # fmt: skip

    def take_way_out(self, revision: str, number: int) -> Json:
        """Take a way out that was offered for this revision.

        Raises:
            PieceError: it was not.
        """
        offered, ways = self._ways
        if not self.opened.stands(offered, revision) or not 1 <= number <= len(ways):
            raise PieceError("These ways out were for the piece as it was before; ask again.")
        return self.opened.take(revision, ways[number - 1])

    def made(self, name: str, *given: Any) -> Job:
        """A job that leaves a file at the path that is its first argument."""
        return self._start(name, given, lambda _: {"file": True})

    def _start(self, name: str, given: tuple[Any, ...], last: Callable[[Any], Json]) -> Job:
        def run(job: Job, child: Child) -> Json:
            from sequencer.opened import working

            return last(child.do(getattr(working, name), job.tell, self.opened.folder, *given))

        return self.jobs.start(run)

    def _last(self, _: Any) -> Json:
        return {"revision": self.opened.revision, "parts": list(PARTS)}

    def close(self) -> None:
        """End all work at once; what came in and was not read is thrown away."""
        self.jobs.close()
        if self._incoming is not None:
            shutil.rmtree(self._incoming, ignore_errors=True)


def _hushing(job: Job, child: Child) -> Line:
    """What a quiet job tells. To make way is asked again at each line: the first word is not heard
    where it comes before the work does.
    """
    def line(told: Json) -> None:
        if job.stopped:
            child.hush()
        job.tell(told)

    return line


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=_INCOMING, dir=folder))
    except OSError as error:
        raise PieceError(f"{folder} cannot be written: {error.strerror or error}.") from None


def sweep_incoming(folder: Path) -> None:
    """Throw away what a page that was killed left unread; only while no other page is open."""
    for left in folder.glob(f"{_INCOMING}*") if folder.is_dir() else ():
        shutil.rmtree(left, ignore_errors=True)

