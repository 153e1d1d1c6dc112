"""Files are replaced whole or not at all: write beside, fsync, rename."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def replace_file(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path`` so that a reader finds the old file or the new, never half.

    Raises:
        OSError: the folder does not exist or cannot be written; the old file is as it was.
    """
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, 0o644 & ~_umask())
        os.replace(beside, path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
