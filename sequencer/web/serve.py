"""The page's server: one address on this machine, gone at Ctrl-C with all it started."""

from __future__ import annotations

import contextlib
import signal
import socket
import threading
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import anyio.to_thread
import uvicorn
from filelock import FileLock, Timeout

from sequencer.errors import UsageError
from sequencer.opened import Long, Opened, sweep_incoming
from sequencer.web.app import application
from sequencer.web.guard import Guard

HOST = "127.0.0.1"
THREADS = 4
"""Requests that are worked on at once; others wait."""
Ready = Callable[[str, bool], None]
"""Called with the link once the server listens, and whether another page has the folder open."""


def serve(folder: Path, port: int, ready: Ready) -> None:
    """Serve the page of a folder until the program is told to stop (Ctrl-C).

    Raises:
        UsageError: the port is taken.
    """
    with _listening(port) as listening, page_lock(folder) as alone:
        opened = Opened(folder)
        if alone:
            sweep_incoming(folder)
        long = Long(opened)
        guard = Guard(application(opened, long), f"{HOST}:{listening.getsockname()[1]}")
        config = uvicorn.Config(
            guard, log_level="critical", access_log=False, server_header=False, lifespan="off",
            timeout_graceful_shutdown=0, ws="none",
        )  # fmt: skip
        server = _Quick(config)
        threading.Thread(target=_warm, args=(opened,), daemon=True).start()
        ready(guard.link, alone)
        try:
            server.run(sockets=[listening])
        finally:
            long.close()


def _warm(opened: Opened) -> None:
    """Have the document ready before the browser asks."""
    with contextlib.suppress(Exception):  # whoever asks for it is told what is wrong
        opened.document()


@contextlib.contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    with socket.socket() as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, port))
        except OSError as error:
            raise UsageError(
                f"port {port} cannot be used ({error.strerror}); leave --port out and one that is "
                "free is taken."
            ) from None
        listening.listen(128)
        yield listening


@contextlib.contextmanager
def page_lock(folder: Path) -> Iterator[bool]:
    """Whether this is the only page that has the folder open, for as long as it is open."""
    lock = None
    alone = True
    try:
        if folder.is_dir():
            lock = FileLock(folder / ".page.lock")
            with warnings.catch_warnings():
                lock.acquire(timeout=0)
    except Timeout:
        lock, alone = None, False
    except (OSError, NotImplementedError):
        lock = None  # a folder that cannot be written can still be looked at
    try:
        yield alone
    finally:
        if lock is not None:
            lock.release()


class _Quick(uvicorn.Server):
    """Ends at the first signal, at once, and quietly."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Few threads beside the event loop: each keeps memory, and there are few cores."""
        anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
        await super().startup(sockets)

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop serving at Ctrl-C or when the system asks for it."""

        def stop(number: int, frame: FrameType | None) -> None:
            self.should_exit = self.force_exit = True

        before = {one: signal.signal(one, stop) for one in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
