"""The page's server: one address on this machine, gone at Ctrl-C with all it started."""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import signal
import socket
import sys
import threading
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import anyio.to_thread
import uvicorn
from filelock import FileLock, Timeout

from sequencer.errors import UsageError
from sequencer.web.guard import Guard
from sequencer.web.soon import Soon

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from sequencer.opened import Long

HOST = "127.0.0.1"
THREADS = 4
"""Requests that are worked on at once; others wait."""
PATIENCE = 0.25
"""Seconds after Ctrl-C until what is still being computed in a thread is no longer waited for."""
_M_ARENA_MAX = -8
"""From glibc's malloc.h."""
_ARENAS = 2
"""Heaps that the C library keeps for threads: each holds on to what was freed in it, and pictures
are large (60 prints in all views: 300 MB instead of 460, at the same processor time)."""
_PORTS = range(20_000, 32_000)
"""Ports that folders have for their own: below those that systems hand out by themselves."""
TURN = 0.001
"""Seconds after which a thread that computes lets the others have a turn."""
Ready = Callable[[str, bool], None]
"""Called with the link once the server listens, and whether another page has the folder open."""


def serve(folder: Path, port: int | None, ready: Ready, at_once: bool = False) -> None:
    """Serve the page of a folder until the program is told to stop (Ctrl-C).

    ``port``: None for the folder's own (:func:`port_of`) or, where that is taken, any; 0 for any.
    ``at_once``: end the process soon after it is told to stop, whatever a thread computes then:
    what is being saved is saved whole or not at all.

    Raises:
        UsageError: the port is taken.
    """
    _few_heaps()
    with _listening(folder, port) as listening, page_lock(folder) as alone:
        program = _Program(folder, alone)
        soon = Soon(program.load)
        guard = Guard(soon, f"{HOST}:{listening.getsockname()[1]}")
        config = uvicorn.Config(
            guard, log_level="critical", access_log=False, server_header=False, lifespan="off",
            timeout_graceful_shutdown=0, ws="none",
        )  # fmt: skip
        server = _Quick(config, soon, program.close if at_once else None)
        ready(guard.link, alone)
        try:
            server.run(sockets=[listening])
        finally:
            program.close()
        soon.check()


class _Program:
    """What computes, loaded while the browser loads the page."""

    def __init__(self, folder: Path, alone: bool) -> None:
        self._folder, self._alone = folder, alone
        self._long: Long | None = None

    def load(self) -> ASGIApp:
        """The application; document and cloth are made ready before the browser asks."""
        from sequencer.opened import Long, Opened, sweep_incoming
        from sequencer.web.app import application

        if self._alone:
            sweep_incoming(self._folder)
        opened = Opened(self._folder)
        self._long = Long(opened)
        for warm in (opened.document, opened.warm_cloth):
            threading.Thread(target=_quietly, args=(warm,), daemon=True).start()
        return application(opened, self._long)

    def close(self) -> None:
        """End all work."""
        if self._long is not None:
            self._long.close()


def _quietly(warm: Callable[[], object]) -> None:
    with contextlib.suppress(Exception):  # whoever asks for it is told what is wrong
        warm()


def _few_heaps() -> None:
    """Where the C library is one that can be told (glibc's ``mallopt``; else nothing happens)."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).mallopt(_M_ARENA_MAX, _ARENAS)


def port_of(folder: Path) -> int:
    """The folder's own port, the same at each start: so a tab of an earlier start is of the same
    origin, and once the new link is opened beside it, it is let in again too.
    """
    told = hashlib.sha256(os.fsencode(folder.resolve())).digest()
    return _PORTS.start + int.from_bytes(told[:4], "big") % len(_PORTS)


@contextlib.contextmanager
def _listening(folder: Path, port: int | None) -> Iterator[socket.socket]:
    with socket.socket() as listening:
        if os.name == "posix":  # elsewhere it would let two programs share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if port is not None or not _bound(listening, port_of(folder)):
            try:
                listening.bind((HOST, port or 0))
            except OSError as error:
                raise UsageError(
                    f"port {port} cannot be used ({error.strerror}); leave --port out and one that "
                    "is free is taken."
                ) from None
        listening.listen(128)
        yield listening


def _bound(listening: socket.socket, port: int) -> bool:
    try:
        listening.bind((HOST, port))
    except OSError:
        return False
    return True


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


def _leave(close: Callable[[], None]) -> None:
    """End the process without waiting for its threads."""
    try:
        close()
    finally:
        os._exit(0)


class _Quick(uvicorn.Server):
    """Ends at the first signal, at once, and quietly."""

    def __init__(
        self, config: uvicorn.Config, soon: Soon, at_once: Callable[[], None] | None
    ) -> None:
        super().__init__(config)
        self._soon, self._at_once = soon, at_once

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Few threads beside the event loop: each keeps memory, and there are few cores. Where one
        of them computes or loads, the loop has its turn after a millisecond instead of five.
        """
        anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
        sys.setswitchinterval(TURN)
        await super().startup(sockets)
        self._soon.begin(self._fail)

    def _fail(self) -> None:
        self.should_exit = self.force_exit = True

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop serving at Ctrl-C or when the system asks for it."""

        def stop(number: int, frame: FrameType | None) -> None:
            self.should_exit = self.force_exit = True
            if self._at_once is not None:
                leaving = threading.Timer(PATIENCE, _leave, (self._at_once,))
                leaving.daemon = True
                leaving.start()

        before = {one: signal.signal(one, stop) for one in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)
