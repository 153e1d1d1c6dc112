"""The documents cannot lie: commands in them parse, the tour runs, links lead somewhere."""

import importlib.util
import re
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
from passalong.main import main
from passalong.options import parser
from PIL import Image

from sequencer.colour import lab_to_srgb8
from sequencer.photo.reference.patches import PATCHES_LAB

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
LINES = [
    (page.name, line.split("  #")[0].split(" # ")[0].strip())
    for page in PAGES
    for line in page.read_text("utf-8").splitlines()
    if re.match(r"(    )?passalong [a-z]", line)
]
HELPS = next(action.choices for action in parser()._actions if action.dest == "command") or {}
COMMANDS = set(HELPS)
TOUR = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)[0].splitlines()


@pytest.mark.parametrize(("page", "line"), LINES)
def test_every_example_parses(page: str, line: str):
    asked = parser().parse_args(shlex.split(line)[1:])
    assert asked.command in COMMANDS


def test_every_command_is_shown():
    assert {shlex.split(line)[1] for _, line in LINES} == COMMANDS


def test_the_tour_runs_in_the_order_given(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    assert len(TOUR) == 10
    shutil.copytree(ROOT / "sample_images", tmp_path / "sample_images")
    monkeypatch.chdir(tmp_path)
    for line in TOUR:
        assert main(shlex.split(line)[1:]) == 0, (line, capsys.readouterr())
    for made in ("box/piece.json", "box/sequence.png", "box/sheets.pdf", "wall.png", "wall.pdf"):
        assert (tmp_path / made).stat().st_size > 1000


COLOUR_LINES = list(dict.fromkeys([
    *(line for _, line in LINES if shlex.split(line)[1] in ("colour", "camera")),
    *(example for name in ("colour", "camera")
      for example in re.findall(r"example: (.*)", HELPS[name].format_help())),
]))


def _table(path: Path) -> None:
    """A table with a 24-patch target as published, a sheet of paper and two scraps."""
    rng = np.random.default_rng(8)
    picture = np.full((1500, 2000, 3), (122, 118, 112), float)
    picture[60:760, 60:1060] = 30
    for index, colour in enumerate(lab_to_srgb8(PATCHES_LAB)):
        top, left = 80 + 168 * (index // 6), 70 + 165 * (index % 6)
        picture[top:top + 150, left:left + 150] = colour
    picture[80:880, 1300:1866] = (232, 232, 236)
    picture[900:1400, 700:1250] = (150, 60, 50)
    picture[1000:1400, 150:600] = (60, 80, 130)
    noisy = picture + rng.normal(0, 1.5, picture.shape)
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(path, quality=95)


def test_examples_of_colour_and_camera_work_as_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """Run in the order the pages have them, on pictures of the names they give."""
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "APPDATA", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / "user"))
    monkeypatch.chdir(tmp_path)
    for name in ("table.jpg", "window.jpg"):
        _table(tmp_path / name)
    done = []
    for line in COLOUR_LINES:
        words = shlex.split(line)[1:]
        assert main(words) == 0, (line, capsys.readouterr())
        said = capsys.readouterr().out
        done.append(" ".join(words[:2]))
        if words[0] == "colour":
            for at in words[words.index("--at") + 1:]:
                if "," in at and not at.startswith("--"):
                    assert at.split(",")[0] in said, line
                else:
                    break
        elif words[1] in ("learn", "forget"):
            assert "my phone" in said, line
    assert {"camera learn", "camera list", "camera forget", "colour table.jpg"} <= set(done)


def test_every_link_and_picture_is_there():
    for page in PAGES:
        for link in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
            if not link.startswith("http"):
                assert (page.parent / link).is_file(), (page.name, link)
    assert len(re.findall(r"!\[[^\]]+\]\(", README)) >= 3


def test_no_machine_path_in_the_documents():
    for page in [*PAGES, ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md"]:
        text = page.read_text("utf-8")
        assert str(ROOT) not in text, page
        assert "/tmp/" not in text, page


def test_the_page_of_messages_is_the_code():
    made = importlib.util.spec_from_file_location("messages", ROOT / "docs" / "messages.py")
    assert made is not None
    assert made.loader is not None
    module = importlib.util.module_from_spec(made)
    made.loader.exec_module(module)
    page = (ROOT / "docs" / "messages.md").read_text("utf-8")
    assert page == module.page(), "run: python docs/messages.py"
    assert page.count("\n- ") > 150
