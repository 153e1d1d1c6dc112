"""Two programs at one piece: joined, or told."""

import subprocess
import sys
from pathlib import Path

import pytest

from sequencer import corrections
from sequencer.intake import needed, read_into
from sequencer.piece import load
from tests.made.small_box import BOX, cloth, ids


def test_a_name_given_while_photos_are_read_survives(box: Path, tmp_path: Path, monkeypatch):
    real = needed.read_each

    def meanwhile(jobs, *more):
        done = real(jobs, *more)
        corrections.rename(box, {"moss": "dusk"})
        corrections.drop(box, ["table-3"])
        return done

    monkeypatch.setattr(needed, "read_each", meanwhile)
    read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {})
    piece = load(box)
    assert [one.name for one in piece.prints] == ["dusk", "sand", "table-1", "table-2", "new"]


def test_two_readings_at_once_are_joined(box: Path, tmp_path: Path, monkeypatch):
    real = needed.read_each
    other = cloth(tmp_path / "other.jpg", (30, 60, 120), 6)

    def meanwhile(jobs, *more):
        done = real(jobs, *more)
        monkeypatch.setattr(needed, "read_each", real)
        read_into(box, [other], {})
        return done

    monkeypatch.setattr(needed, "read_each", meanwhile)
    read_into(box, [cloth(tmp_path / "new.jpg", (80, 45, 75), 3)], {})
    assert ids(box) == [*BOX, "other", "new"]


def test_sixty_names_by_two_programs_are_all_kept(box: Path):
    """Two real processes; every write is either kept or told."""
    script = (
        "import sys; from pathlib import Path; from dataclasses import replace\n"
        "from sequencer.errors import PieceInUseError\n"
        "from sequencer.piece import change\n"
        "left = list(range(30))\n"
        "while left:\n"
        "    try:\n"
        "        change(Path(sys.argv[1]), f'size {left[0]}', lambda p: replace(p, cameras={"
        "**p.cameras, f'{sys.argv[2]} {left[0]}': {}}))\n"
        "        del left[0]\n"
        "    except PieceInUseError:\n"  # told, so it is done again
        "        pass\n"
    )
    both = [subprocess.Popen([sys.executable, "-c", script, str(box), who]) for who in "ab"]
    assert [process.wait(timeout=600) for process in both] == [0, 0]
    piece = load(box)
    assert len(piece.cameras) == len(piece.past) == 60


def test_two_programs_read_and_name_at_once(tmp_path: Path, photos: Path):
    """Real processes, as from terminals: nothing of any is lost, no print lacks its cloth."""
    box = tmp_path / "box"
    read_into(box, [photos / "moss.jpg"], {"shows": "one"})
    more = [cloth(tmp_path / f"n{k}.jpg", (30 + 50 * k, 90, 160), k) for k in range(3)]
    jobs = [["read", path, "--shows", "one", "--out", box] for path in more]
    jobs += [["name", box, "moss=dusk"], ["size", box, "moss=9x3"]]
    while jobs:
        running = [
            subprocess.Popen([sys.executable, "-m", "passalong", *map(str, job)],
                             stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for job in jobs
        ]
        told = [process.communicate(timeout=600)[1] for process in running]
        for process, err in zip(running, told, strict=True):
            assert process.returncode == 0 or b"in use" in err, err
        jobs = [job for job, process in zip(jobs, running, strict=True) if process.returncode]
    piece = load(box)
    assert sorted(one.name for one in piece.prints) == ["dusk", "n0", "n1", "n2"]
    assert piece.sizes == {"moss": [["9", "3"]]}
    assert len(piece.past) == 5
    assert all(one.swatch.pixels.size for one in piece.prints if one.swatch)


def test_a_folder_in_use_is_said(box: Path, monkeypatch):
    from sequencer.errors import PieceInUseError
    from sequencer.keeping.disk import lock
    from sequencer.piece import writing

    monkeypatch.setattr(lock.locked.__wrapped__, "__defaults__", (0.1,))
    with writing(box), pytest.raises(PieceInUseError, match="in use by another passalong"):
        corrections.rename(box, {"moss": "dusk"})
