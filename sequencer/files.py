"""Files are replaced whole or not at all: write beside, fsync, rename, fsync the folder's entry."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
import time
import unicodedata
from hashlib import blake2b
from pathlib import Path
from typing import BinaryIO

PART = ".passalong-"
"""What the names of unfinished files begin with."""
_READER = 3.0  # seconds that a pipe may take to find its reader
_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_STALE = 3600.0  # seconds after which an unfinished file has no writer any more


def fingerprint(data: bytes) -> str:
    """BLAKE2b of the bytes, 128 bits, in hexadecimal."""
    return blake2b(data, digest_size=16).hexdigest()


def write_out(path: Path, data: bytes) -> None:
    """Write a result where the maker asked for it.

    An ordinary file is replaced whole; a link is followed, not replaced; into a device or a pipe
    the bytes are written through; ``-`` is standard output.

    Raises:
        OSError: it cannot be written; an ordinary file is as it was.
    """
    if str(path) == "-":
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    if _is_channel(path):
        _write_through(path, data)
        return
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    replace_file(target, data)
    sync_folder(target.parent)


def read_ordinary(path: Path, most: int) -> bytes:
    """An ordinary file's bytes; never waits for a pipe and never swallows a disk.

    Raises:
        OSError: it cannot be read, is no ordinary file, or has more than ``most`` bytes.
    """
    with open_ordinary(path) as file:
        size = os.fstat(file.fileno()).st_size
        if size > most:
            raise OSError(0, f"{size:,} bytes, far more than it can have")
        return file.read()


def open_ordinary(path: Path) -> BinaryIO:
    """An ordinary file opened for reading; never waits for a pipe.

    Raises:
        OSError: it cannot be opened, or is no ordinary file.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise OSError(0, "not an ordinary file")
    return os.fdopen(handle, "rb")


def replace_file(path: Path, data: bytes, beside: Path | None = None) -> None:
    """Write ``data`` to ``path`` so that a reader finds the old file or the new, never half.

    Its permissions stay; a new file gets what the umask leaves. The unfinished file lies in the
    folder ``beside``, on the same disk; by default in that of ``path``.

    Raises:
        OSError: the folder does not exist or cannot be written; the old file is as it was.
    """
    part = (beside or path.parent) / f"{PART}{os.urandom(8).hex()}.part"
    handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o666)
    try:
        try:
            _write_all(handle, data)
            os.fsync(handle)
        finally:
            os.close(handle)
        with contextlib.suppress(FileNotFoundError):
            os.chmod(part, stat.S_IMODE(path.stat().st_mode))
        os.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise


def sync_folder(folder: Path) -> None:
    """Bring a folder's entries to the disk, where the system can."""
    if os.name == "nt":
        return
    with contextlib.suppress(OSError):  # some file systems cannot; nothing is lost but certainty
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def sweep_parts(folder: Path, all_of_them: bool = False) -> None:
    """Delete what writers left unfinished; the younger ones only if no writer can be at work."""
    old = time.time() - _STALE
    for path in folder.glob(f"{PART}*.part"):
        with contextlib.suppress(OSError):
            if all_of_them or path.stat().st_mtime < old:
                path.unlink()


def _is_channel(path: Path) -> bool:
    """Whether bytes go through it: a device, a pipe, one of this process's own streams."""
    if str(path).startswith(("/dev/", "/proc/")):
        return True
    try:
        kind = path.stat().st_mode
    except OSError:
        return False
    return not (stat.S_ISREG(kind) or stat.S_ISDIR(kind))


def _write_through(path: Path, data: bytes) -> None:
    """A pipe that nobody reads from is given up after a while instead of waited for."""
    until = time.monotonic() + _READER
    while True:
        try:
            handle = os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
            break
        except OSError as error:
            if error.errno != errno.ENXIO or time.monotonic() > until:
                raise
            time.sleep(0.05)
    try:
        if hasattr(os, "set_blocking"):
            os.set_blocking(handle, True)
        _write_all(handle, data)
    finally:
        os.close(handle)


def _write_all(handle: int, data: bytes) -> None:
    left = memoryview(data)
    while left:
        left = left[os.write(handle, left):]


def shown(text: str) -> str:
    """A name or a message fit for people and terminals: what steers instead of shows is �."""
    told = text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    return "".join("�" if _steers(one) else one for one in told)


def _steers(one: str) -> bool:
    """Whether a character is a control, a line's end, half of one, or turns the writing round."""
    return unicodedata.category(one) in ("Cc", "Cs", "Zl", "Zp") or one in _TURNS
