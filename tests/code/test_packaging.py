"""What would be published: one wheel, one source archive, a README that an index can show."""

import subprocess
import sys
import tarfile
import zipfile
from email import message_from_bytes
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
hatchling = pytest.importorskip("hatchling")
sys.path.insert(0, str(ROOT))
from hatch_build import for_an_index  # noqa: E402


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    out = tmp_path_factory.mktemp("dist")
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-d", str(out)], cwd=ROOT,
                   check=True, capture_output=True)  # fmt: skip
    return next(out.glob("*.whl")), next(out.glob("*.tar.gz"))


def test_the_wheel_holds_the_two_packages_and_the_licence(built: tuple[Path, Path]):
    with zipfile.ZipFile(built[0]) as wheel:
        names = wheel.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"sequencer", "passalong"}
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert {"sequencer/py.typed", "passalong/py.typed"} <= set(names)
    assert not any(name.endswith(".pyc") for name in names)
    pictures = {name for name in names if name.endswith((".jpg", ".png", ".webp"))}
    assert all(name.startswith(("sequencer/web/docs/", "sequencer/web/sample/"))
               for name in pictures)
    assert {f"sequencer/web/sample/{one.name}" for one in (ROOT / "sample_images").glob("*")
            if one.suffix in (".jpg", ".webp")} <= pictures
    assert {"sequencer/web/static/index.html", "sequencer/web/static/phone.html",
            "sequencer/web/docs/questions.md"} <= set(names)
    made = {path.relative_to(ROOT).as_posix() for path in ROOT.glob("sequencer/**/*.py")}
    assert made <= set(names)


def test_the_source_archive_can_be_tested_and_rebuilt(built: tuple[Path, Path]):
    with tarfile.open(built[1]) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames()}
    assert {"LICENSE", "README.md", "pyproject.toml", "hatch_build.py", "Makefile"} <= names
    assert {"tests/code/test_packaging.py", "sample_images/table-lowtide.jpg"} <= names
    assert not any(name.startswith((".venv", ".git/", "demo/", ".ci")) for name in names)
    assert built[1].stat().st_size < 20e6


def test_an_index_would_take_them(built: tuple[Path, Path]):
    """twine (PyPA) renders the README and reads the metadata as an index does."""
    pytest.importorskip("twine")
    done = subprocess.run([sys.executable, "-m", "twine", "check", "--strict", *map(str, built)],
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    with zipfile.ZipFile(built[0]) as wheel:
        name = next(one for one in wheel.namelist() if one.endswith("METADATA"))
        told = message_from_bytes(wheel.read(name))
    assert told["License-Expression"] == "MIT"
    assert told["Author"] == "the Passalong contributors"
    assert told["Project-URL"] is None  # no address is known, none is invented
    assert "](docs/" not in told.get_payload()


def test_relative_links_become_whole_or_are_left_out():
    text = "A [page](docs/a.md).\n\n![a picture](docs/a.jpg)\n\n[far](https://a.org/x) [in](#b)"
    files = "https://example.org/v1/"
    assert for_an_index(text) == (
        "A page.\n\n[far](https://a.org/x) [in](#b)"
    )
    assert for_an_index(text, files) == text.replace("(docs/", "(https://example.org/v1/docs/")
