"""The photographs themselves, kept in the piece folder under the name of their content."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
from pathlib import Path

from sequencer.files import PART, open_ordinary
from sequencer.keeping.disk.blobs import Blobs, fingerprint_of
from sequencer.keeping.state import KeptPhoto

_INSIDE = re.compile(r"photos/[^/\\\x00-\x1f\x7f]{1,200}")


def inside(file: str) -> bool:
    """Whether a photo's ``file`` is one that lies among the piece's own: under the name of its
    content, or as a zip calls it.
    """
    return _INSIDE.fullmatch(file) is not None and file not in ("photos/.", "photos/..")


def place_of(photo: KeptPhoto, folder: Path) -> Path | None:
    """Where the photo's file lies, if it is there with the content that was read; else None."""
    if photo.file is None:
        return None
    path = folder / photo.file
    try:
        there = path.is_file() and fingerprint_of(path) == photo.content
    except (OSError, ValueError):
        return None
    return path if there else None


def keep(source: Path, content: str, blobs: Blobs) -> str:
    """Bring a photograph into the folder: as a second name of the same file where the disk allows
    it, else as a copy. Returns its place, relative to the folder.

    Raises:
        OSError: it cannot be read or written, or is no longer what was read.
    """
    ending = source.suffix.lower()
    ending = ending if re.fullmatch(r"\.[a-z0-9]{1,6}", ending) else ""
    target = blobs.path("photos", content, ending)
    if not (target.is_file() and fingerprint_of(target) == content):
        part = blobs.make("photos") / f"{PART}{os.urandom(8).hex()}.part"
        try:
            _same_file(source, part)
            if fingerprint_of(part) != content:
                raise OSError(0, f"{source.name} was changed while it was read")
            os.replace(part, target)
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
    return f"photos/{target.name}"


def _same_file(source: Path, target: Path) -> None:
    try:
        os.link(os.path.realpath(source), target)
    except OSError:
        with open_ordinary(source) as read, target.open("xb") as written:
            shutil.copyfileobj(read, written, 1 << 20)
            written.flush()
            os.fsync(written.fileno())
