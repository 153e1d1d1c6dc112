"""The terminal face on good and bad input: exit codes, one clear line, nothing half-written."""

import json
import shutil
import subprocess
import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from passalong import show
from passalong.main import main
from PIL import Image

from sequencer.models import Print
from sequencer.piece import Piece, load

SAMPLES = Path(__file__).parents[2] / "sample_images"
COMMANDS = ("make", "read", "name", "size", "drop", "merge", "split", "redraw", "order",
            "contrast", "plan", "scale", "preview", "sheets")


def cloth(path: Path, colour, seed=0, size=(700, 500)) -> Path:
    """A plain print with a little weave, so that it reads as cloth."""
    noise = np.random.default_rng(seed).normal(0, 6, (size[1], size[0], 1))
    pixels = np.clip(np.array(colour) + noise, 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(path, quality=92)
    return path


@pytest.fixture(scope="module")
def photos(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("photos")
    colours = {"moss": (70, 95, 50), "reed": (120, 140, 80), "sand": (200, 180, 130),
               "clay": (160, 95, 70), "plum": (80, 45, 75)}
    for seed, (name, colour) in enumerate(colours.items()):
        cloth(folder / f"{name}.jpg", colour, seed)
    return folder


@pytest.fixture(scope="module")
def box(photos, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("box") / "piece"
    assert main(["read", str(photos), "--shows", "one", "--out", str(folder)]) == 0
    return folder


def answer(capsys, *arguments) -> tuple[int, str, str]:
    code = main([str(part) for part in arguments])
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return code, out, err


def test_help_is_quick_to_import():
    """No heavy library is loaded for --help."""
    script = ("import sys; from passalong.main import main\n"
              "try: main(['--help'])\nexcept SystemExit: pass\n"
              "heavy = {'numpy', 'skimage', 'scipy', 'networkx', 'highspy', 'rich', 'PIL',"
              " 'reportlab'} & set(sys.modules)\nsys.exit(str(heavy) if heavy else 0)")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_an_example_and_json(command, capsys):
    with pytest.raises(SystemExit, match=r"^0$"):
        main([command, "--help"])
    text = capsys.readouterr().out
    assert f"example: passalong {command}" in " ".join(text.split())
    assert "--json" in text


def test_the_road_from_photos_to_sheets(box, tmp_path, capsys):
    code, out, _ = answer(capsys, "order", box, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["schema"] == "passalong.sequence/1"
    assert sorted(found["order"]) == ["clay", "moss", "plum", "reed", "sand"]
    assert found["proof"]["status"] == "optimal"
    assert len(found["neighbours"]) == 5
    value = {one.id: one.value for one in load(box).prints}
    for pair in found["neighbours"]:  # lighter is up
        assert pair["value_step"] == pytest.approx(value[pair["b"]] - value[pair["a"]], abs=1e-3)
    assert min(pair["value_step"] for pair in found["neighbours"]) < -1
    code, out, _ = answer(capsys, "contrast", box, "--json")
    assert code == 0
    assert len(json.loads(out)["pairs"]) == 5
    code, out, _ = answer(capsys, "plan", box, "--size", "8x7 1/2", "--json")
    plan = json.loads(out)
    assert code == 0
    assert plan["finished"]["centre"] == ["8", "15/2"]
    picture = tmp_path / "wall.png"
    assert answer(capsys, "preview", box, "--out", picture, "--ppi", 40)[0] == 0
    with Image.open(picture) as image:
        assert image.width > 8 * 40
    sheets = tmp_path / "wall.pdf"
    assert answer(capsys, "sheets", box, "--out", sheets, "--paper", "a4", "--units", "cm")[0] == 0
    assert sheets.read_bytes().startswith(b"%PDF")


def test_shown_for_a_person(box, capsys):
    for command in ("order", "contrast", "plan"):
        code, out, _ = answer(capsys, command, box)
        assert code == 0
        assert "moss" in out


def test_remarks_say_whom_they_are_about_in_few_words():
    made = [
        Print(f"{photo}-{k}", "", f"{photo}.jpg", (), (50.0, 0.0, 0.0), ())
        for photo in ("table", "shelf") for k in range(1, 10)
    ]
    about = partial(show._about, piece=Piece(prints=tuple(made)))
    assert about([one.id for one in made]) == "every print"
    assert about([one.id for one in made[:9]]) == "all of table.jpg"
    assert about([one.id for one in made[:10]]) == "all of table.jpg, shelf-1"
    assert about(["table-1", "table-2"]) == "table-1, table-2"
    assert about([one.id for one in made[:8]]) == (
        "table-1, table-2, table-3, table-4, table-5, table-6 and 2 more"
    )


def test_name_size_and_drop(photos, tmp_path, capsys):
    folder = tmp_path / "box"
    answer(capsys, "read", photos, "--shows", "one", "--out", folder)
    assert answer(capsys, "name", folder, "moss=wet moss")[0] == 0
    assert answer(capsys, "size", folder, "moss=9 1/2x3")[0] == 0
    code, out, _ = answer(capsys, "drop", folder, "clay", "--json")
    kept = {one["id"]: one for one in json.loads(out)["prints"]}
    assert code == 0
    assert "clay" not in kept
    assert kept["moss"]["name"] == "wet moss"
    assert kept["moss"]["size_in"] == [9.5, 3]
    code, out, _ = answer(capsys, "read", photos, "--shows", "one", "--out", folder, "--json")
    again = {one["id"]: one for one in json.loads(out)["prints"]}
    assert set(again) == set(kept)
    assert again["moss"]["name"] == "wet moss"
    assert again["moss"]["size_in"] == [9.5, 3]


def test_wishes_about_a_dropped_print_go_with_it(box, tmp_path, capsys):
    """Those about others stay, and the sequence is found again by them."""
    folder = Path(shutil.copytree(box, tmp_path / "box"))
    assert answer(capsys, "order", folder, "--first", "clay", "--last", "moss", "--with", "reed",
                  "--with", "clay", "--together", "reed,sand", "--apart", "clay,sand",
                  "--before", "plum,sand", "--open")[0] == 0
    assert answer(capsys, "drop", folder, "clay")[0] == 0
    wishes = load(folder).order_wishes
    assert "first" not in wishes
    assert wishes["last"] == "moss"
    assert list(wishes["include"]) == ["reed"]
    assert [list(pair) for pair in wishes["together"]] == [["reed", "sand"]]
    assert list(wishes["apart"]) == []
    assert [list(pair) for pair in wishes["before"]] == [["plum", "sand"]]
    code, out, _ = answer(capsys, "plan", folder, "--json")  # ordered anew by what is left
    assert code == 0
    assert json.loads(out)["prints"][-1] == "moss"


# ── bad input ─────────────────────────────────────────────────────────────────────────────


def refused(capsys, code, *arguments) -> str:
    got, out, err = answer(capsys, *arguments)
    assert got == code, err
    assert out == ""
    message = err[err.index("passalong: "):]
    assert len(message.strip()) > 20
    return message


def test_empty_folder(tmp_path, capsys):
    empty = tmp_path / "empty"
    empty.mkdir()
    err = refused(capsys, 1, "make", empty, "--out", tmp_path / "out")
    assert "empty" in err
    assert not (tmp_path / "out").exists()


def test_text_named_jpg_and_truncated_jpeg(tmp_path, photos, capsys):
    (tmp_path / "note.jpg").write_text("this is no photograph")
    whole = (photos / "moss.jpg").read_bytes()
    (tmp_path / "half.jpg").write_bytes(whole[: len(whole) // 2])
    err = refused(capsys, 1, "read", tmp_path / "note.jpg", "--out", tmp_path / "out")
    assert "note.jpg" in err
    code, out, _ = answer(capsys, "read", tmp_path / "note.jpg", tmp_path / "half.jpg",
                          photos / "reed.jpg", "--shows", "one", "--out", tmp_path / "out",
                          "--json")
    read = json.loads(out)
    assert code == 0
    assert [one["id"] for one in read["prints"]] == ["reed"]
    assert sorted(one["photo"] for one in read["rejected"]) == ["half.jpg", "note.jpg"]
    assert all(one["why"] for one in read["rejected"])


def test_one_print_has_nothing_to_order(photos, tmp_path, capsys):
    answer(capsys, "read", photos / "moss.jpg", "--shows", "one", "--out", tmp_path / "b")
    assert "one print" in refused(capsys, 1, "order", tmp_path / "b")
    before = (tmp_path / "b" / "piece.json").read_bytes()
    refused(capsys, 1, "make", photos / "moss.jpg", "--shows", "one", "--out", tmp_path / "b")
    assert json.loads((tmp_path / "b" / "piece.json").read_bytes())["prints"]
    assert json.loads(before)["prints"]


def test_two_and_identical_prints(photos, tmp_path, capsys):
    answer(capsys, "read", photos / "moss.jpg", photos / "sand.jpg", "--shows", "one",
           "--out", tmp_path / "b")
    code, out, _ = answer(capsys, "order", tmp_path / "b", "--json")
    assert code == 0
    assert len(json.loads(out)["order"]) == 2
    (tmp_path / "twin.jpg").write_bytes((photos / "moss.jpg").read_bytes())
    answer(capsys, "read", photos, tmp_path / "twin.jpg", "--shows", "one", "--out",
           tmp_path / "c")
    code, out, _ = answer(capsys, "order", tmp_path / "c", "--json")
    found = json.loads(out)
    assert code == 0
    assert any(pair["verdict"] == "blurs" for pair in found["neighbours"])


@pytest.mark.parametrize(("code", "arguments", "says"), [
    (1, ["order", "BOX", "--pick", "9"], "5"),
    (1, ["order", "BOX", "--first", "mose"], "moss"),
    (1, ["order", "BOX", "--together", "moss,zebra"], "zebra"),
    (1, ["drop", "BOX", "zebra"], "zebra"),
    (1, ["plan", "BOX", "--strip", "1/8", "--seam", "1/4"], "1/4"),
    (1, ["plan", "BOX", "--size", "1/8x5"], "column"),
    (1, ["plan", "BOX", "--repeats", "9999"], ""),
    (2, ["plan", "BOX", "--strip", "wide"], "wide"),
    (2, ["plan", "BOX", "--size", "8"], "8x10"),
    (2, ["plan", "BOX", "--curve", "nowhere.csv"], "nowhere.csv"),
    (2, ["name", "BOX", "moss"], "ID=NAME"),
    (2, ["size", "BOX", "moss=3"], "8x10"),
    (1, ["order", "NOWHERE"], "passalong read"),
    (1, ["read", "NOWHERE/x.jpg", "--out", "OUT"], "x.jpg"),
])
def test_refusals(box, tmp_path, capsys, code, arguments, says):
    places = {"BOX": str(box), "NOWHERE": str(tmp_path / "no"), "OUT": str(tmp_path / "out")}
    before = (box / "piece.json").read_bytes()
    filled = [part.replace("NOWHERE", places["NOWHERE"]) for part in arguments]
    err = refused(capsys, code, *[places.get(part, part) for part in filled])
    assert says.lower() in err.lower()
    assert (box / "piece.json").read_bytes() == before
    assert not (tmp_path / "out").exists()


def test_damaged_and_newer_piece(tmp_path, capsys):
    folder = tmp_path / "b"
    folder.mkdir()
    for text in ("{", "[]", '{"schema": "passalong.piece/9"}', '{"schema": "passalong.piece/1"}'):
        (folder / "piece.json").write_text(text)
        assert "piece.json" in refused(capsys, 1, "contrast", folder)


def test_unwritable_target(box, tmp_path, capsys):
    err = refused(capsys, 1, "preview", box, "--out", tmp_path / "none" / "x.png")
    assert "x.png" in err


@pytest.mark.parametrize(("stop", "code"), [(True, 130), (False, 1)])
def test_ctrl_c_while_a_library_loads(stop: bool, code: int):
    """A compiled library that is being loaded answers Ctrl-C with an ImportError."""
    script = (
        "import os, signal, sys\nfrom passalong import commands, main\n"
        "def load(asked):\n"
        f"    try:\n        {'os.kill(os.getpid(), signal.SIGINT)' if stop else 'pass'}\n"
        "    except KeyboardInterrupt:\n        pass\n"
        "    raise ImportError('initialization failed')\n"
        "commands.COMMANDS['camera'] = load\n"
        "sys.argv = ['passalong', 'camera', 'list']\nmain.run()\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == code
    assert ("stopped; nothing was changed." in done.stderr) == stop
    assert ("ImportError" in done.stderr) != stop
