"""One writer at a time: a lock on the piece folder that ends with the process that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sequencer.errors import PieceError, PieceInUseError

LOCK_FILE = ".piece.lock"
WAIT = 10.0
"""Seconds that a writer waits for another; a save takes far less."""


@contextmanager
def locked(folder: Path, wait: float = WAIT) -> Iterator[None]:
    """Hold the folder, made if it is not there, against other writers.

    Raises:
        PieceInUseError: another program did not let go within ``wait`` seconds.
        PieceError: the folder cannot be made or written.
    """
    from filelock import FileLock, Timeout

    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / LOCK_FILE)
        lock.acquire(timeout=wait, poll_interval=0.02)
    except Timeout:
        raise PieceInUseError(
            f"{folder} is in use by another passalong; nothing was changed. "
            "Try again when that is done."
        ) from None
    except (OSError, NotImplementedError) as error:
        raise PieceError(f"{folder} cannot be written: {_why(error)}.") from None
    try:
        yield
    finally:
        lock.release()


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__
