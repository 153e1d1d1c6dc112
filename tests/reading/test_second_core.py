"""A second Python reads photographs beside this one: same prints, no script run twice."""

import gc
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import sequencer.reading.both_cores as both_cores
from sequencer.reading.photos import read, wishes_from
from sequencer.second_core import SecondCore, SecondCoreLostError


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten small photos, one of them no photo at all."""
    where = tmp_path_factory.mktemp("photos")
    rng = np.random.default_rng(5)
    for k in range(9):
        colour = rng.integers(30, 220, 3) + rng.normal(0, 6, (120, 160, 3))
        Image.fromarray(colour.clip(0, 255).astype(np.uint8)).save(where / f"{k}.png")
    (where / "9.png").write_bytes(b"no picture")
    return where


def test_the_helper_reads_what_this_process_would(folder: Path, monkeypatch):
    asked = []
    monkeypatch.setattr(both_cores, "may_help", lambda: True)
    plain = SecondCore.do
    monkeypatch.setattr(SecondCore, "do", lambda *a: asked.append(a[2]) or plain(*a))
    steps = []
    helped = read([folder], progress=lambda done, total, what: steps.append((done, total)))
    monkeypatch.setattr(both_cores, "may_help", lambda: False)
    alone = read([folder])
    assert asked
    assert helped.to_json() == alone.to_json()
    assert len(helped.rejected) == 1
    assert steps == [(k, 10) for k in range(11)]
    for one, other in zip(helped.prints, alone.prints, strict=True):
        assert (one.swatch.pixels == other.swatch.pixels).all()


def test_a_helper_that_dies_loses_nothing(folder: Path, monkeypatch):
    monkeypatch.setattr(both_cores, "may_help", lambda: True)

    def lost(self, *given):
        self._process.kill()
        return plain(self, *given)

    plain = SecondCore.do
    monkeypatch.setattr(SecondCore, "do", lost)
    assert len(read([folder]).prints) == 9


def test_ctrl_c_ends_the_second(folder: Path, monkeypatch):
    monkeypatch.setattr(both_cores, "may_help", lambda: True)
    started = []
    plain = SecondCore.__init__
    monkeypatch.setattr(SecondCore, "__init__", lambda self: started.append(self) or plain(self))

    def interrupt(done, total, what):
        if done == 2:
            raise KeyboardInterrupt("pressed at the second photo")

    with pytest.raises(KeyboardInterrupt, match=r"^pressed at the second photo$"):
        read([folder], progress=interrupt)
    assert started[0]._process.returncode is not None


def test_a_script_without_a_guard_runs_once(folder: Path, tmp_path: Path):
    script = tmp_path / "mine.py"
    script.write_text(
        textwrap.dedent(f"""
        import sequencer, sequencer.reading.both_cores
        sequencer.reading.both_cores.may_help = lambda: True
        print("once", len(sequencer.read_photos([{str(folder)!r}])))
    """)
    )
    done = subprocess.run([sys.executable, script], capture_output=True, text=True, check=True)
    assert done.stdout == "once 9\n"
    assert done.stderr == ""


def test_what_fails_there_is_told_and_the_helper_lives_on():
    second = SecondCore()
    try:
        with pytest.raises(SecondCoreLostError, match=r"^the work failed there$"):
            second.do(os.path.getsize, "no such file")
        assert second.do(os.path.basename, "a/b") == "b"
        second.close()
        with pytest.raises(SecondCoreLostError, match=r"^the other process has ended$"):
            second.do(os.path.basename, "a/b")
    finally:
        second.close()


@pytest.mark.parametrize("name", ["3.png", "9.png"])
def test_garbage_is_looked_for_again_after_a_photo_and_none_was_made(folder: Path, name: str):
    job = both_cores.Job(folder / name, wishes_from({}), name)
    both_cores.read_job(job)
    gc.collect()
    both_cores.read_job(job)
    assert gc.isenabled()
    assert gc.collect() < 50


def test_where_no_garbage_was_looked_for_none_is_afterwards(folder: Path):
    gc.disable()
    try:
        both_cores.read_job(both_cores.Job(folder / "3.png", wishes_from({}), "3"))
        assert not gc.isenabled()
    finally:
        gc.enable()
