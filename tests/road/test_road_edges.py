"""Rare turns of the road: what is answered where the disk, a file or a wish is not as expected."""

import io
import os
import pickle
import sys
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sequencer import second_core
from sequencer.errors import PieceError, SequenceError
from sequencer.intake.settling import plan_without_ids, without_ids
from sequencer.keeping import history, originals
from sequencer.keeping.disk.blobs import Blobs, fingerprint_of
from sequencer.keeping.disk.readings import key_of, reading_bytes, reading_from
from sequencer.keeping.loading import piece_of
from sequencer.keeping.state import Step
from sequencer.ordering import sequence as ordering
from sequencer.piece import Piece, change, load
from tests.made.pieces import old_piece

# ── readings ──────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Gave:
    """All kinds of value that a reading may hold."""

    length: Fraction
    grid: np.ndarray
    count: int


def kept_at(path: Path, reading: Any, key: str = "k") -> Path:
    path.write_bytes(reading_bytes(key, reading, lambda swatch: ""))
    return path


def test_a_reading_comes_back_as_it_was(tmp_path: Path):
    grid = np.arange(12, dtype=np.float32).reshape(3, 4)
    path = kept_at(tmp_path / "r.json", Gave(Fraction(7, 8), grid, np.int64(5)))  # type: ignore[arg-type]
    back = reading_from(path, "k", Gave, tmp_path)
    assert back is not None
    assert (back.length, back.count, back.grid.dtype) == (Fraction(7, 8), 5, np.float32)
    assert np.array_equal(back.grid, grid)
    assert reading_from(path, "another key", Gave, tmp_path) is None


def test_a_reading_that_is_damaged_or_gone_is_none(tmp_path: Path):
    path = kept_at(tmp_path / "r.json", Gave(Fraction(1), np.zeros(2), 1))
    whole = path.read_bytes()
    for data in (b"", whole[:-9], b"x" + whole, kept_at(path, {"length": "1/0"}).read_bytes(),
                 kept_at(path, {"length": "1", "grid": 3, "count": 1}).read_bytes()):
        path.write_bytes(data)
        assert reading_from(path, "k", Gave, tmp_path) is None
    path.unlink()
    assert reading_from(path, "k", Gave, tmp_path) is None


def test_a_key_tells_what_decides_and_not_where_it_lies():
    assert key_of("a", Path("/one/photo.jpg")) == key_of("a", Path("/two/photo.jpg"))
    assert key_of(b"one") != key_of(b"two")
    assert key_of(np.zeros(3)) != key_of(np.zeros(3, np.float32))
    with pytest.raises(NotImplementedError, match=r"^complex cannot be kept$"):
        key_of(1j)


# ── the disk ──────────────────────────────────────────────────────────────────────────────


def test_a_lock_that_the_disk_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    folder = old_piece(tmp_path / "box")

    class Refusing:
        def __init__(self, path: Path) -> None:
            pass

        def acquire(self, **_: object) -> None:
            raise OSError(30, "Read-only file system")

    monkeypatch.setattr("filelock.FileLock", Refusing)
    with pytest.raises(PieceError) as refused:  # noqa: PT011 - compared whole below
        change(folder, "name", lambda piece: piece)
    assert str(refused.value) == f"{folder} cannot be written: Read-only file system."

    monkeypatch.setattr(Refusing, "acquire", lambda self, **_: (_ for _ in ()).throw(
        NotImplementedError()))
    with pytest.raises(PieceError, match="cannot be written: NotImplementedError"):
        change(folder, "name", lambda piece: piece)


def test_a_photo_that_changes_while_it_is_kept(tmp_path: Path):
    photo = tmp_path / "moss.jpg"
    photo.write_bytes(b"before")
    content = fingerprint_of(photo)
    photo.write_bytes(b"after")
    (tmp_path / "box").mkdir()
    with pytest.raises(OSError, match=r"moss\.jpg was changed while it was read"):
        originals.keep(photo, content, Blobs(tmp_path / "box"))
    assert list((tmp_path / "box" / "photos").iterdir()) == []


def test_a_photo_is_copied_where_a_second_name_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    photo = tmp_path / "moss.an-odd-ending"
    photo.write_bytes(b"cloth")

    def refuse(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    (tmp_path / "box").mkdir()
    place = originals.keep(photo, fingerprint_of(photo), Blobs(tmp_path / "box"))
    assert place == f"photos/{fingerprint_of(photo)}"
    assert (tmp_path / "box" / place).read_bytes() == b"cloth"
    assert not (tmp_path / "box" / place).samefile(photo)


def test_an_earlier_state_that_is_gone(tmp_path: Path):
    step = Step("name dusk", "2026-01-01T00:00:00Z", "0" * 32)
    with pytest.raises(PieceError, match="an earlier state of this piece, cannot be read") as said:
        history.state_of(step, tmp_path)
    assert str(said.value).startswith(str(tmp_path / "history" / f"{'0' * 32}.state"))


def test_a_file_of_another_kind_and_a_folder_in_its_place(tmp_path: Path):
    folder = tmp_path / "box"
    folder.mkdir()
    path = folder / "piece.json"
    path.write_text('{"schema": "passalong.piece/9"}')
    with pytest.raises(PieceError, match=r"is of kind 'passalong\.piece/9'; this version reads"):
        load(folder)
    path.write_text('{"schema": "passalong.piece/1", "prints": [')
    with pytest.raises(PieceError, match=r"is damaged: .*Put back a copy of it"):
        load(folder)
    path.unlink()
    path.mkdir()
    with pytest.raises(PieceError, match=r"piece\.json cannot be read: "):
        load(folder)


def test_what_lies_there_and_what_it_becomes(tmp_path: Path):
    """The record read is the piece loaded, whichever door is taken."""
    from sequencer.keeping.loading import held_of

    folder = old_piece(tmp_path / "box")
    assert piece_of(held_of(folder), folder).names == load(folder).names


# ── the other process ─────────────────────────────────────────────────────────────────────


def test_the_other_side_answers_what_worked_and_what_did_not(monkeypatch: pytest.MonkeyPatch):
    """``serve`` in this process: two jobs come in, then nothing more."""
    asked = pickle.dumps((pow, (2, 5))) + pickle.dumps((int, ("no number",)))
    answers = io.BytesIO()

    class Kept(io.BytesIO):
        def __exit__(self, *_: object) -> None:
            answers.write(self.getvalue())

    class Standard:
        buffer = io.BytesIO(asked)

    monkeypatch.setattr(sys, "stdin", Standard)
    monkeypatch.setattr(second_core, "_own_output", Kept)
    monkeypatch.setattr(second_core.signal, "signal", lambda *_: None)
    second_core.serve()
    answers.seek(0)
    assert pickle.load(answers) == (True, 32)
    assert pickle.load(answers) == (False, None)
    assert not answers.read()


# ── wishes ────────────────────────────────────────────────────────────────────────────────


def test_wishes_forget_prints_that_are_gone():
    """Every kind of wish that names a print, and none that does not."""
    wishes = {"first": "a", "last": "b", "include": ["a", "c"], "exclude": ["a"], "pick": 5,
              "together": [("a", "b"), ("b", "c")], "before": [("c", "a")],
              "sequence": ["b", "a", "c"]}
    assert without_ids(wishes, {"a"}) == {
        "last": "b", "include": ["c"], "exclude": [], "pick": 5, "together": [("b", "c")],
        "before": []}
    plan = {"border_print": "a", "binding_print": "b", "directional": ["a", "b"],
            "strip": {"a": "1", "b": "2"}, "size": "20x20"}
    assert plan_without_ids(plan, {"a"}) == {
        "binding_print": "b", "directional": ["b"], "strip": {"b": "2"}, "size": "20x20"}
    assert plan_without_ids({"strip": "1 1/2"}, {"a"}) == {"strip": "1 1/2"}


def test_an_order_takes_two_prints(tmp_path: Path):
    with pytest.raises(SequenceError, match=r"only one print \(none at all\): nothing to order"):
        ordering.order(Piece())
    piece = load(old_piece(tmp_path / "box"))
    with pytest.raises(SequenceError, match=rf"only one print \({piece.prints[0].id}\)"):
        ordering.order(Piece(prints=piece.prints[:1]))


def test_her_own_order_takes_no_wishes_beside_it(tmp_path: Path):
    piece = load(old_piece(tmp_path / "box"))
    own = [one.id for one in piece.prints]
    with pytest.raises(SequenceError, match="is scored as it lies; leave out exclude, pick, or"):
        ordering.order(piece, {"sequence": own, "pick": 3, "exclude": [own[0]]})
