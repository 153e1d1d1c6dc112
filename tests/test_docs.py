"""The documents cannot lie: commands in them parse, the tour runs, links lead somewhere."""

import importlib.util
import re
import shlex
import shutil
from pathlib import Path

import pytest
from passalong.main import main
from passalong.options import parser

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
LINES = [
    (page.name, line.split("  #")[0].split(" # ")[0].strip())
    for page in PAGES
    for line in page.read_text("utf-8").splitlines()
    if re.match(r"(    )?passalong [a-z]", line)
]
COMMANDS = set(next(action.choices for action in parser()._actions
                    if action.dest == "command") or ())
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
