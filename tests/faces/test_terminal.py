"""What the terminal is told: true words on Ctrl-C, control characters, files through pipes."""

import json
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from passalong.main import main
from PIL import Image

from sequencer import make as road
from sequencer import piece as pieces
from sequencer.files import shown, write_out
from sequencer.piece import load
from tests.made.pieces import old_piece

ESCAPE = "\x1b[31m"


@pytest.fixture
def box(tmp_path: Path) -> Path:
    folder = old_piece(tmp_path / "box")
    assert main(["name", str(folder), "reed=low sun"]) == 0
    return folder


def run(*arguments: object, **options) -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, "-m", "passalong", *map(str, arguments)],
                          capture_output=True, check=False, timeout=120, **options)


# ── undo, redo, history ───────────────────────────────────────────────────────────────────


def test_undo_redo_and_history(box: Path, capsys):
    assert main(["size", str(box), "low sun=9x3"]) == 0
    capsys.readouterr()
    assert main(["undo", str(box)]) == 0
    assert capsys.readouterr().out == (
        "taken back: size low sun\nundo would take back: name low sun\n"
        "redo would do again: size low sun\n")
    assert main(["history", str(box), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "passalong.history/1"
    assert [(one["step"], one["done"]) for one in told["steps"]] == [
        ("name low sun", True), ("size low sun", False)]
    assert main(["redo", str(box), "--json"]) == 0
    capsys.readouterr()
    assert main(["redo", str(box)]) == 1
    assert "nothing to take again" in capsys.readouterr().err


def test_her_own_order_can_be_taken_back(box: Path, capsys):
    """`order --sequence` only tells what it costs; --keep sews it; undo takes it back."""
    saved = load(box).sequence
    order = "table-1,table-2,table-3,moss-b,low sun"
    assert main(["order", str(box), "--sequence", order, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["order"][-1] == "reed"
    assert load(box).sequence == saved
    assert main(["order", str(box), "--sequence", order, "--keep", "--json"]) == 0
    assert load(box).sequence != saved
    assert main(["undo", str(box)]) == 0
    assert load(box).sequence == saved


@pytest.mark.parametrize("arguments", [
    ["--without", "low sun"], ["--first", "low sun"], ["--with", "Low Sun"],
    ["--together", "low sun,clay"], ["--apart", "clay,low sun"],
])
def test_names_serve_in_wishes(box: Path, arguments: list[str], capsys):
    assert main(["order", str(box), "--json", *arguments]) == 0
    wishes = json.dumps(load(box).order_wishes)
    assert "low sun" not in wishes.lower()
    assert "reed" in wishes


# ── Ctrl-C ────────────────────────────────────────────────────────────────────────────────


def test_stopped_before_anything_was_saved(box: Path, capsys, monkeypatch):
    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("sequencer.ordering.sequence.order", stop)
    assert main(["order", str(box)]) == 130
    assert "the piece is as it was before" in capsys.readouterr().err


def test_stopped_after_the_piece_was_saved(box: Path, capsys, monkeypatch):
    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(road, "write_preview", stop)
    photos = Path(__file__).parents[1] / "data" / "piece-1" / "photos"
    assert main(["make", str(photos / "reed.jpg"), str(photos / "table.jpg"), "--out",
                 str(box)]) == 130
    err = capsys.readouterr().err
    assert "as it was" not in err
    assert "'make' was saved before that, and can be taken back with: passalong undo" in err
    assert load(box).past[-1].name == "make"
    pieces.undo(box)
    assert load(box).past[-1].name == "name low sun"


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
def test_a_real_ctrl_c_while_photos_are_read(tmp_path: Path):
    script = ("import sequencer.reading.both_cores as b, time, sys\n"
              "def slow(*a, **k):\n    print('reading', flush=True); time.sleep(4)\n"
              "b.read_one = slow\nfrom passalong.main import main\nsys.exit(main(sys.argv[1:]))")
    photo = Path(__file__).parents[1] / "data" / "piece-1" / "photos" / "reed.jpg"
    with subprocess.Popen([sys.executable, "-c", script, "read", str(photo), "--out",
                           str(tmp_path / "box")], stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "reading\n"
        process.send_signal(signal.SIGINT)
        try:
            _, err = process.communicate(timeout=90)
        finally:
            process.kill()
    assert process.returncode == 130
    assert "no piece was saved" in err
    assert not (tmp_path / "box").exists()


# ── control characters ────────────────────────────────────────────────────────────────────


def test_what_steers_a_terminal_is_not_shown():
    assert shown(f"a{ESCAPE}b\x9bc\u2028d\u202ee\udce9") == "a�[31mb�c�d�e�"
    assert shown("Mühle 雪 שלום") == "Mühle 雪 שלום"


@pytest.mark.parametrize("arguments", [
    ["order", f"nowhere{ESCAPE}"], ["order", "BOX", "--first", f"x{ESCAPE}"],
    ["drop", "BOX", f"{ESCAPE}"], ["name", "BOX", f"moss={ESCAPE}"], [f"{ESCAPE}"],
    ["order", "BOX", f"--{ESCAPE}"], ["size", "BOX", f"moss={ESCAPE}x3"],
    ["read", f"{ESCAPE}.jpg", "--out", "BOX"], ["plan", "BOX", "--curve", f"{ESCAPE}"],
])
def test_control_characters_never_reach_the_terminal(box: Path, arguments: list[str]):
    done = run(*[str(box) if one == "BOX" else one for one in arguments])
    assert done.returncode in (1, 2)
    assert b"\x1b" not in done.stdout + done.stderr
    assert b"Traceback" not in done.stderr


# ── where files go ────────────────────────────────────────────────────────────────────────


def test_out_to_standard_output(box: Path):
    done = run("preview", box, "--out", "-", "--ppi", 20)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(b"\x89PNG")
    assert done.stdout.endswith(b"IEND\xaeB`\x82")
    both = run("preview", box, "--out", "-", "--json")
    assert both.returncode == 2
    assert b"leave one of them out" in both.stderr


def test_a_link_is_written_through_not_replaced(tmp_path: Path):
    target, link = tmp_path / "real.png", tmp_path / "link.png"
    target.write_bytes(b"old")
    target.chmod(0o640)
    link.symlink_to(target)
    write_out(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.png", "real.png"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_written_through(tmp_path: Path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()))
    reader.start()
    write_out(pipe, b"x" * 200_000)
    reader.join(timeout=90)
    assert read == [b"x" * 200_000]
    assert pipe.is_fifo()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_without_a_reader_is_refused_not_waited_for(box: Path, tmp_path: Path):
    os.mkfifo(tmp_path / "pipe")
    done = run("preview", box, "--out", tmp_path / "pipe", "--ppi", 10)
    assert done.returncode == 1
    assert b"cannot be written" in done.stderr


@pytest.mark.skipif(not Path("/dev/null").exists(), reason="no such device here")
def test_a_device_stays_a_device(box: Path):
    assert run("preview", box, "--out", "/dev/null", "--ppi", 10).returncode == 0
    assert Path("/dev/null").is_char_device()
    done = run("sheets", box, "--out", "/dev/full")
    assert done.returncode == 1
    assert b"No space left" in done.stderr


def test_a_folder_and_a_file_that_may_not_be_written_are_refused(tmp_path: Path):
    with pytest.raises(IsADirectoryError, match="directory"):
        write_out(tmp_path, b"x")
    image = tmp_path / "x.png"
    Image.new("RGB", (2, 2)).save(image)
    image.chmod(0o444)
    if os.access(image, os.W_OK):
        pytest.skip("whoever runs this may write everything")
    with pytest.raises(PermissionError, match="denied"):
        write_out(image, b"x")
