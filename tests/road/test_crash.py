"""Killed at any moment, the piece is the old one or the new one, with everything it needs."""

import json
import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sequencer.errors import PieceError
from sequencer.keeping.disk.blobs import FOLDERS, fingerprint_of
from sequencer.models import Swatch
from sequencer.piece import change, load, redo, undo
from tests.made.pieces import PHOTOS, old_piece

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a fork")

CALLS = ("open", "write", "fsync", "replace", "unlink", "link", "mkdir", "chmod")
KILLED = 9
CHEAPEST = 10  # files that a change of seven swatches, a plan and the state before writes


def killed_at(nth: int, work: Callable[[Path], object], folder: Path) -> bool:
    """Do the work in a process that ends, without any tidying, at its nth call of the system."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == KILLED
    left = [nth]

    def counted(real):
        def call(*args, **kwargs):
            left[0] -= 1
            if left[0] == 0:
                os._exit(KILLED)
            return real(*args, **kwargs)
        return call

    for name in CALLS:
        setattr(os, name, counted(getattr(os, name)))
    try:
        work(folder)
    except BaseException:
        os._exit(1)
    os._exit(0)


def seen(folder: Path) -> str:
    """All of a piece that can be looked at, pictures, plan and original photos included."""
    piece = load(folder)
    pictures = [one.swatch.pixels.tobytes() for one in piece.prints if one.swatch]
    for photo in piece.photos:
        if photo.file and photo.file.startswith("photos/"):
            assert fingerprint_of(folder / photo.file) == photo.content
    steps = [step.name for step in (*piece.past, *piece.future)]
    prints = [one.to_json() for one in piece.prints]
    return json.dumps([prints, dict(piece.names), piece.plan, steps]) + str(
        [hash(picture) for picture in pictures])


def new_cloth(folder: Path) -> None:
    """A change of everything: every print's picture, a name, a plan."""
    def changed(piece):
        prints = tuple(
            replace(one, swatch=Swatch(np.full((50, 60, 3), 20 + k, np.uint8), None))
            for k, one in enumerate(piece.prints)
        )
        return replace(piece, prints=prints, cameras={"x": {}}, plan={"columns": [1]})

    change(folder, "read", changed)


def renamed(folder: Path) -> None:
    change(folder, "name", lambda piece: replace(piece, rejected=(), names={"reed": "dune"}))


@pytest.mark.parametrize("work", [new_cloth, renamed, undo, redo])
def test_killed_at_every_call_it_is_one_or_the_other(tmp_path: Path, work):
    """Every call that touches the disk, one after the other, for each kind of change."""
    start = old_piece(tmp_path / "start")
    change(start, "name", lambda piece: replace(piece, names={"moss": "dusk"}))
    new_cloth(start)
    if work is redo:
        undo(start)
    if work is new_cloth:
        undo(start)
    shutil.copytree(start, tmp_path / "done")
    work(tmp_path / "done")
    before, after = seen(start), seen(tmp_path / "done")
    assert before != after
    outcomes, nth = set(), 0
    while True:
        nth += 1
        folder = tmp_path / f"{nth}"
        shutil.copytree(start, folder)
        was_killed = killed_at(nth, work, folder)
        now = seen(folder)
        assert now in (before, after), f"killed at call {nth}: neither old nor new"
        outcomes.add(now)
        if not was_killed:
            assert now == after
            break
        # The next save goes through and sweeps what the killed one left.
        change(folder, "tidy", lambda piece: replace(piece, cameras={"tidy": {}}))
        left = [path.name for kind in FOLDERS for path in (folder / kind).glob("*.part")]
        assert not left
        shutil.rmtree(folder)
    assert nth > 10
    assert outcomes == {before, after}


def test_killed_while_version_1_is_brought_over(tmp_path: Path):
    shutil.copytree(PHOTOS, tmp_path / "photos")
    start = old_piece(tmp_path / "start", tmp_path / "photos")
    pictures = seen(start).rpartition("[")[2]
    for nth in range(1, 400, 3):
        folder = tmp_path / f"{nth}"
        shutil.copytree(start, folder)
        was_killed = killed_at(nth, renamed, folder)
        assert seen(folder).rpartition("[")[2] == pictures
        shutil.rmtree(folder)
        if not was_killed:
            return
    raise AssertionError("never done")


def test_a_full_disk_leaves_the_piece_as_it_was(tmp_path: Path, monkeypatch):
    """The nth write fails with 'no space'; the piece is the old one and the words say so."""
    start = old_piece(tmp_path / "start")
    before = seen(start)
    real = os.write
    for nth in range(1, CHEAPEST + 1):
        left = [nth]

        def write(handle, data, left=left):
            left[0] -= 1
            if left[0] == 0:
                raise OSError(28, "No space left on device")
            return real(handle, data)

        monkeypatch.setattr(os, "write", write)
        folder = tmp_path / f"{nth}"
        shutil.copytree(start, folder)
        with pytest.raises(PieceError, match="cannot be written: No space left on device"):
            new_cloth(folder)
        assert seen(folder) == before
        assert not list(folder.rglob("*.part"))
