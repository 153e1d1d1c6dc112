"""Files named by their content: written once, never changed, swept when nothing needs them.

::

    photos/F.jpg      the photographs themselves
    swatches/F.png    the photographed cloth of the prints
    readings/F.json   what one photograph gave
    plans/F.json      plans
    history/F.state   earlier states

F is the fingerprint of the bytes. Before a file is swept its bytes are read and its name compared:
a file of the maker's own, whatever it is called, is never touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import blake2b
from pathlib import Path

from sequencer.files import fingerprint, open_ordinary, replace_file, sync_folder

FOLDERS = ("photos", "swatches", "readings", "plans", "history")
_NAME = re.compile("[0-9a-f]{32}")
_BLOCK = 1 << 20


def is_fingerprint(name: str) -> bool:
    """Whether a file is named like one of ours."""
    return _NAME.fullmatch(name) is not None


def fingerprint_of(path: Path) -> str:
    """The fingerprint of a file's bytes, read in blocks.

    Raises:
        OSError: it cannot be read.
    """
    running = blake2b(digest_size=16)
    with open_ordinary(path) as file:
        while block := file.read(_BLOCK):
            running.update(block)
    return running.hexdigest()


class Blobs:
    """The content-named files of one piece folder; ``settle`` syncs their folders' entries."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._touched: set[Path] = set()

    def path(self, kind: str, name: str, ending: str) -> Path:
        """Where the file with this fingerprint lies, or would."""
        return self._folder / kind / f"{name}{ending}"

    def put(self, kind: str, data: bytes, ending: str) -> str:
        """Keep these bytes; returns their fingerprint.

        Raises:
            OSError: they cannot be written.
        """
        name = fingerprint(data)
        path = self.path(kind, name, ending)
        if not holds(path, name):
            self.make(kind)
            replace_file(path, data)
        return name

    def make(self, kind: str) -> Path:
        """The folder for this kind of file, made if need be; its entries are to be synced."""
        inside = self._folder / kind
        if not inside.is_dir():
            inside.mkdir()
            self._touched.add(self._folder)
        self._touched.add(inside)
        return inside

    def settle(self) -> None:
        """See to it that the new names survive a power cut."""
        for folder in sorted(self._touched):
            sync_folder(folder)
        self._touched.clear()

    def sweep(self, needed: Iterable[str]) -> None:
        """Delete content-named files that nothing needs; what cannot be deleted stays."""
        keep = set(needed)
        for kind in FOLDERS:
            inside = self._folder / kind
            for path in inside.iterdir() if inside.is_dir() else ():
                name = path.stem
                if is_fingerprint(name) and name not in keep and holds(path, name):
                    try:
                        path.unlink()
                    except OSError:
                        continue


def holds(path: Path, name: str) -> bool:
    """Whether an ordinary file lies there whose bytes have this fingerprint."""
    try:
        return not path.is_symlink() and path.is_file() and fingerprint_of(path) == name
    except OSError:
        return False
