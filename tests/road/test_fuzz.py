"""A tenth of ``make fuzz``: damaged pictures and pieces, crashes, several writers, full disks."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(sys.platform == "win32",
                    reason="every case is a forked process")
@pytest.mark.parametrize("campaigns", [
    ["pictures"], ["pieces"], ["crashes", "writers", "full disk", "read-only folder"],
], ids=lambda some: some[0])  # fmt: skip
def test_nothing_falls_through(campaigns: list[str]):
    done = subprocess.run(
        [sys.executable, "-m", "fuzz", "--share", "0.1", "--lanes", "1", "--only", *campaigns],
        capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"all{round(sum(_COUNTS[name] for name in campaigns)):22}" in done.stdout


_COUNTS = {"pictures": 300, "pieces": 300, "crashes": 20, "writers": 12, "full disk": 10,
           "read-only folder": 3}  # fmt: skip
