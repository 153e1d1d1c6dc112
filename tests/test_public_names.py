"""The public calls are few, are functions, and stay so however often and in whatever order."""

import subprocess
import sys

import sequencer

NAMES = ["read_photos", "colours_at", "transition_graph", "find_sequence", "contrast",
         "plan_columns", "render", "write_sheets"]


def test_these_calls_are_the_public_names():
    assert sequencer.__all__ == NAMES


def test_they_stay_functions_when_rooms_are_loaded():
    script = (
        "import sequencer, sequencer.make, sequencer.ordering, sequencer.rendering\n"
        "import sequencer.contrasts, sequencer.plan, sequencer.sheets\n"
        f"for name in {NAMES} * 2:\n"
        "    assert type(getattr(sequencer, name)).__name__ == 'function', name\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
