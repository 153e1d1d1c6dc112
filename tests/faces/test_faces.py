"""The terminal face all round: every command, as text and as JSON, and what is said on a stop."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from passalong import commands
from passalong.progress import Display

from sequencer.piece import load
from tests.conftest import cloth

Command = Callable[..., tuple[int, str, str]]
FERN = ("180,80", "290,80", "290,280", "180,280")


def told(passalong: Command, *arguments: object) -> str:
    """What a command that works prints."""
    code, out, err = passalong(*arguments)
    assert code == 0, err
    return out


def refused(passalong: Command, code: int, *arguments: object) -> str:
    got, out, err = passalong(*arguments)
    assert (got, out) == (code, ""), err
    return err


# ── corrections, one after the other ──────────────────────────────────────────────────────


def test_merge_split_redraw_and_add(piece: Path, passalong: Command):
    first = json.loads(told(passalong, "merge", piece, "table-1", "table-2", "--json"))
    assert {one["id"] for one in first["prints"]} == {"clay", "moss", "reed", "sand", "table-1",
                                                      "table-3"}  # fmt: skip
    parts = json.loads(told(passalong, "split", piece, "table-1", "--along", "160,60", "160,300",
                            "--json"))  # fmt: skip
    assert len(parts["prints"]) == 7
    assert passalong("undo", piece)[0] == passalong("undo", piece)[0] == 0
    text = told(passalong, "redraw", piece, "table-2", "--outline", "190,90", "280,90", "280,270",
                "190,270")  # fmt: skip
    assert "table-2" in text
    assert told(passalong, "drop", piece, "table-2").count("table-2") == 0
    again = json.loads(told(passalong, "add", piece, "table", "--outline", *FERN, "--json"))
    assert len(again["prints"]) == 7
    (new,) = [one for one in again["prints"] if one["id"] not in {"table-1", "table-3"}
              and one["photo"] == "table.jpg"]  # fmt: skip
    assert min(x for x, _ in new["outline"]) == pytest.approx(180, abs=2)


@pytest.mark.parametrize(("arguments", "says"), [
    (["merge", "BOX", "moss"], "at least two"),
    (["merge", "BOX", "moss", "reed"], "different photos"),
    (["merge", "BOX", "moss", "zebra"], "zebra"),
    (["redraw", "BOX", "table-1", "--outline", "1,1", "2,2", "3,3"], "holds nothing"),
    (["redraw", "BOX", "table-1", "--outline", "400,290", "470,290", "470,350"], "does not touch"),
    (["redraw", "BOX", "table-1", "--outline", "30,80", "9000,80", "30,9000"], "reaches beyond"),
    (["add", "BOX", "nowhere.jpg", "--outline", "1,1", "50,1", "50,50"], "no photo of this piece"),
    (["add", "BOX", "table.jpg", "--outline", *FERN], "lies on table-2"),
    (["size", "BOX", "moss=0x3"], "0x3"),
    (["size", "BOX", "moss=2000x3"], "below 1000 in"),
    (["name", "BOX", "moss=a,b"], "neither , nor ="),
    (["name", "BOX", "moss=\x1b[2J"], "control characters"),
    (["same", "BOX", "moss"], "at least two"),
    (["same", "BOX", "table-1,table-2"], "finds of one photo"),
    (["undo", "BOX/nowhere"], "holds no piece"),
    (["redo", "BOX"], "nothing to take again"),
    (["preview", "BOX", "--out", "-", "--json"], "both want standard output"),
    (["scale", "BOX", "--to", "wide"], "wide"),
])  # fmt: skip
def test_what_is_refused_is_refused_in_words(
    arguments: list[str], says: str, piece: Path, passalong: Command
):
    raw = (piece / "piece.json").read_bytes()
    filled = [part.replace("BOX", str(piece)) for part in arguments]
    code, out, err = passalong(*filled)
    assert code in (1, 2)
    assert out == ""
    assert says in err
    assert (piece / "piece.json").read_bytes() == raw


@pytest.mark.parametrize("arguments", [
    ["order", "BOX", "--pick", "0"], ["order", "BOX", "--pick", "7-5"],
    ["order", "BOX", "--alternatives", "-1"], ["order", "BOX", "--seconds", "nan"],
    ["order", "BOX", "--together", "moss"], ["plan", "BOX", "--steps", "1,x"],
    ["redraw", "BOX", "moss", "--outline", "1;2", "3,4"], ["preview", "BOX"], ["order"],
    ["split", "BOX", "moss", "--along", "1,2"], ["sheets", "BOX", "--out", "x", "--paper", "a9"],
    ["fly", "BOX"],
], ids=" ".join)  # fmt: skip
def test_what_is_not_understood(arguments: list[str], piece: Path, passalong: Command):
    code, out, err = passalong(*[part.replace("BOX", str(piece)) for part in arguments])
    assert (code, out) == (2, "")
    assert "error: " in err


# ── steps back, words about them ──────────────────────────────────────────────────────────


def test_history_is_told_both_ways(piece: Path, passalong: Command):
    told(passalong, "name", piece, "moss=wet stone")
    told(passalong, "size", piece, "moss=20x8cm")
    back = told(passalong, "undo", piece)
    assert "taken back: size moss" in back
    assert "undo would take back: name wet stone" in back
    assert "redo would do again: size moss" in back
    assert "(size moss, taken back)" in told(passalong, "history", piece)
    assert "done again: size moss" in told(passalong, "redo", piece)
    steps = json.loads(told(passalong, "history", piece, "--json"))
    assert steps["schema"] == "passalong.history/1"
    assert [one["step"] for one in steps["steps"]][-2:] == ["name wet stone", "size moss"]
    assert all(one["done"] for one in steps["steps"])


def test_nothing_to_take_back_is_said(small_photos: Path, tmp_path: Path, passalong: Command):
    told(passalong, "read", small_photos / "moss.jpg", "--out", tmp_path / "b")
    assert "nothing to take back" in told(passalong, "history", tmp_path / "b")
    assert "nothing to take back" in refused(passalong, 1, "undo", tmp_path / "b")


# ── the same told for a person and for a program ──────────────────────────────────────────


def test_everything_with_all(piece: Path, small_photos: Path, passalong: Command):
    assert "ΔE00" in told(passalong, "name", piece, "moss=stone", "--all")
    assert "total" in told(passalong, "order", piece, "--all", "--alternatives", "1")
    own = ",".join(sorted(one.id for one in load(piece).prints))
    text = told(passalong, "order", piece, "--all", "--sequence", own)
    assert "than the best of the same prints" in text
    assert "gains" in text
    assert "prints: " in told(passalong, "order", piece, "--pick", "4-5")
    assert "cost" in told(passalong, "contrast", piece, "--all")
    short = told(passalong, "plan", piece, "--size", "30x40", "--strip", "1", "--all",
                 "--ways-out")  # fmt: skip
    assert "short by" in short
    assert "way out 1: " in short
    ways = json.loads(told(passalong, "plan", piece, "--size", "30x40", "--ways-out", "--json"))
    assert ways["ways_out"]
    made = told(passalong, "make", small_photos, "--out", piece, "--all")
    assert "sheets.pdf" in made


def test_make_in_short_and_as_json(small_photos: Path, tmp_path: Path, passalong: Command):
    short = told(passalong, "make", small_photos, "--out", tmp_path / "a")
    assert len(short.splitlines()) <= 25
    assert "sheets.pdf" in short
    document = json.loads(told(passalong, "make", small_photos, "--out", tmp_path / "b", "--json",
                               "--units", "cm", "--paper", "a4"))  # fmt: skip
    assert document["schema"] == "passalong.make/1"
    assert set(document) >= {"prints", "rejected", "sequence", "contrast", "plan", "files"}
    assert all(Path(path).is_file() for path in document["files"].values())


def test_the_largest_and_the_best_at_a_size(piece: Path, passalong: Command):
    told(passalong, "size", piece, *[f"{one.id}=9x3" for one in load(piece).prints])
    largest = json.loads(told(passalong, "plan", piece, "--largest", "--json"))
    assert not any(need["short_by"] not in ("0", None) for need in largest["fabric"])
    best = json.loads(told(passalong, "plan", piece, "--best", "6x5", "--json"))
    assert best["schema"] == "passalong.plan/1"
    again = json.loads(told(passalong, "scale", piece, "--to", "5x4", "--json"))
    assert Path(again["picture"]).is_file()
    text = told(passalong, "scale", piece, "--to", "12x10", "--out", piece / "both.png")
    assert "both.png" in text


def test_a_curve_from_a_file_stays_when_the_file_goes(
    piece: Path, tmp_path: Path, passalong: Command
):
    curve = tmp_path / "hill.csv"
    curve.write_text("0,0\n1,3\n2,0\n")
    told(passalong, "plan", piece, "--curve", curve, "--size", "6x5")
    curve.unlink()
    first = told(passalong, "preview", piece, "--out", piece / "p.png", "--ppi", "20")
    assert "p.png" in first


def test_a_result_to_standard_output(piece: Path, monkeypatch: pytest.MonkeyPatch):
    from passalong.main import main

    caught = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(caught, "utf-8"))
    assert main(["preview", str(piece), "--out", "-", "--ppi", "20"]) == 0
    sys.stdout.flush()
    assert caught.getvalue().startswith(b"\x89PNG")


def test_one_print_in_two_photos(small_photos: Path, tmp_path: Path, passalong: Command):
    twin = cloth(tmp_path / "moss2.jpg", (72, 96, 52), 31)
    box = tmp_path / "b"
    told(passalong, "read", small_photos / "moss.jpg", small_photos / "reed.jpg", twin, "--shows",
         "one", "--out", box)  # fmt: skip
    assert "moss" in told(passalong, "same", box, "moss,moss2")
    assert load(box).corrections[-1].op == "same"
    told(passalong, "different", box, "moss,moss2", "--json")
    assert [one.op for one in load(box).corrections] == ["different"]


def test_a_dropped_print_leaves_no_wish_behind(piece: Path, passalong: Command):
    """Border, binding, direction and her own order spoke of it: the rest goes on without it."""
    own = ",".join(sorted(one.id for one in load(piece).prints))
    told(passalong, "order", piece, "--sequence", own)
    told(passalong, "plan", piece, "--border-print", "clay", "--binding-print", "clay",
         "--directional", "clay,moss")  # fmt: skip
    told(passalong, "drop", piece, "clay")
    told(passalong, "preview", piece, "--out", piece / "p.png", "--ppi", "20")
    assert "clay" not in json.dumps(dict(load(piece).plan_wishes))
    assert "clay" not in json.dumps(dict(load(piece).order_wishes))


# ── when something else goes wrong ────────────────────────────────────────────────────────


@pytest.mark.parametrize(("error", "code", "says"), [
    (MemoryError(), 1, "not enough memory"),
    (OSError(28, "No space left on device", "x.png"), 1, "x.png: No space left on device"),
    (OSError("odd"), 1, "a file: odd"),
    (KeyboardInterrupt(), 130, "as it was before"),
])  # fmt: skip
def test_the_last_net(
    error: BaseException, code: int, says: str, piece: Path, passalong: Command,
    monkeypatch: pytest.MonkeyPatch,
):
    def fails(asked: Any) -> Any:
        raise error

    monkeypatch.setitem(commands.COMMANDS, "order", fails)
    assert says in refused(passalong, code, "order", piece)


def test_interrupted_before_and_after_there_is_a_piece(
    piece: Path, tmp_path: Path, passalong: Command, monkeypatch: pytest.MonkeyPatch
):
    def pressed(asked: Any) -> Any:
        raise KeyboardInterrupt

    def pressed_late(asked: Any) -> Any:
        rename(asked)
        raise KeyboardInterrupt

    rename = commands.COMMANDS["name"]
    monkeypatch.setitem(commands.COMMANDS, "read", pressed)
    monkeypatch.setitem(commands.COMMANDS, "name", pressed_late)
    err = refused(passalong, 130, "read", "x.jpg", "--out", tmp_path / "none")
    assert "no piece was saved" in err
    err = refused(passalong, 130, "name", piece, "moss=wet stone")
    assert f"passalong undo {piece}" in err
    assert load(piece).names["moss"] == "wet stone"


def test_a_reader_that_leaves_early_is_no_error(piece: Path):
    """``passalong history box | head``: the pipe is closed before all is said."""
    import subprocess

    script = ("import sys; from passalong.main import main; "
              "sys.exit(main(['contrast', sys.argv[1], '--json']))")  # fmt: skip
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run([sys.executable, "-c", script, piece], stdout=write, text=True,
                          stderr=subprocess.PIPE, check=False)  # fmt: skip
    os.close(write)
    assert done.returncode == 0
    assert "Traceback" not in done.stderr


def test_version_and_nothing_asked(passalong: Command):
    assert told(passalong, "--version").startswith("passalong ")
    code, out, err = passalong()
    assert code == 2
    assert "make" in out
    assert "say what to do" in err


def test_a_bar_on_a_terminal(monkeypatch: pytest.MonkeyPatch):
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with Display() as show:
        show(0, 3, "reading [bold]photographs")
        show(3, 3, "done")
    assert "[bold]photographs" in screen.getvalue() or "done" in screen.getvalue()
    with Display(quiet=True) as show:
        show(1, 3, "nothing shown")
    assert "nothing shown" not in screen.getvalue()
