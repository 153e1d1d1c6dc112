"""The public calls are few, are functions, and stay so however often and in whatever order."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

import sequencer

ROOT = Path(__file__).parents[2]
NAMES = ["read_photos", "colours_at", "transition_graph", "find_sequence", "contrast",
         "plan_columns", "render", "write_sheets"]


def test_these_calls_are_the_public_names():
    assert sequencer.__all__ == NAMES


def test_they_stay_functions_when_rooms_are_loaded():
    script = (
        "import sequencer, sequencer.make, sequencer.ordering.sequence, sequencer.rendering\n"
        "import sequencer.contrasts, sequencer.plan, sequencer.sheets\n"
        f"for name in {NAMES} * 2:\n"
        "    assert type(getattr(sequencer, name)).__name__ == 'function', name\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_they_are_listed_with_the_version():
    assert set(NAMES) <= set(dir(sequencer))
    assert re.fullmatch(r"\d+\.\d+\.\d+", sequencer.__version__)
    with pytest.raises(AttributeError, match="module 'sequencer' has no attribute 'quilt'"):
        sequencer.quilt  # noqa: B018


def test_a_type_checker_sees_their_signatures(tmp_path: Path):
    """PEP 561: the package says that it is typed, and mypy (from outside) reads its types."""
    pytest.importorskip("mypy")
    seen = tmp_path / "seen.py"
    asked = "".join(f"reveal_type(sequencer.{name})\n" for name in NAMES)
    seen.write_text("import sequencer\n" + asked)
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"), str(seen)],
        capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    told = re.findall(r'Revealed type is "(.*)"', done.stdout)
    assert len(told) == len(NAMES), done.stdout + done.stderr
    assert all(signature.startswith("def (") for signature in told), told
    assert told[0].endswith("-> list[sequencer.models.cloth.Print]")
    assert told[3].endswith("-> sequencer.models.order.Sequence")
    assert told[5].endswith("-> sequencer.models.plan.Plan")
