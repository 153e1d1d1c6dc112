"""Crashes at every kind of moment, several writers at once, full disks, folders not to write in."""

from __future__ import annotations

import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fuzz.bench import Bench, hers_gone, state
from fuzz.case import Outcome, run, start

Dice = random.Random
OUTLINE = ("28,82", "140,80", "138,282", "30,280")
_WATCHED = ("open", "os.rename", "os.remove", "os.link", "os.mkdir", "os.rmdir", "os.chmod",
            "os.truncate", "os.utime", "os.symlink")  # fmt: skip


@dataclass(frozen=True)
class Known:
    """What a change leads to undisturbed, in how many seconds, by how many touches of the disk.

    ``between``: a state that it may rightly be left in, half-way (``make`` saves what it read).
    """

    after: Any
    seconds: float
    touches: int
    between: Any = None


def changes(bench: Bench, folder: Path) -> dict[str, list[Any]]:
    """Commands that change a piece, by name."""
    return {
        "read": ["read", bench.late, "--out", folder, "--scale", "1in=60"],
        "redraw": ["redraw", folder, "table-1", "--outline", *OUTLINE],
        "order": ["order", folder, "--open", "--first", "moss"],
        "plan": ["plan", folder, "--size", "6x5"],
        "name": ["name", folder, "moss=wet stone"],
        "size": ["size", folder, "sand=9 1/2x3"],
        "drop": ["drop", folder, "clay"],
        "undo": ["undo", folder],
        "make": ["make", bench.late, "--out", folder, "--repeats", "2", "--scale", "1in=60"],
    }


def outcomes(bench: Bench, where: Path) -> dict[str, Known]:
    """Each change run undisturbed."""
    found: dict[str, Known] = {}
    for name in changes(bench, where):
        folder = bench.copy(where / name)
        counter = where / f"{name}.count"
        done = run(changes(bench, folder)[name], _counting(counter))
        if done.code == 0:
            found[name] = Known(
                state(folder), done.wait, int(counter.read_text()),
                found["read"].after if name == "make" else None,
            )  # fmt: skip
    return found


# ── crashes ───────────────────────────────────────────────────────────────────────────────


def crash(dice: Dice, bench: Bench, known: dict[str, Known], where: Path) -> tuple[str, list[str]]:
    """Killed or interrupted at a moment by the clock, or before its k-th touch of the disk."""
    name = dice.choice(sorted(known))
    right = known[name]
    folder = bench.copy(where)
    before = state(folder)
    way = dice.choice(("kill", "touch", "touch", "interrupt"))
    if way == "touch":
        at = dice.randrange(right.touches)
        done = run(changes(bench, folder)[name], _dying(at))
        what = f"{name} killed before touch {at} of {right.touches}"
    else:
        at = dice.random() * right.seconds * 1.2
        number = signal.SIGKILL if way == "kill" else signal.SIGINT
        done = start(changes(bench, folder)[name]).wait_for(at, number)
        what = f"{name} given signal {int(number)} after {at:.3f} s"
    return what, [*done.troubles(killed=way != "interrupt"),
                  *_one_of(folder, before, right, done), *_goes_on(folder)]


def _one_of(folder: Path, before: Any, right: Known, done: Outcome) -> list[str]:
    try:
        now = state(folder)
    except Exception as error:
        return [f"loss: the piece no longer loads ({error})"]
    found = [f"loss: {name} of hers is gone" for name in hers_gone(folder)]
    if now not in (before, right.after, right.between):
        found.append("loss: neither the piece before nor the piece after")
    elif done.code == 0 and now != right.after:
        found.append("loss: reported as done, and is not")
    elif "as it was" in done.message and now != before:
        found.append("loss: 'as it was', and is not")
    return found


def _goes_on(folder: Path) -> list[str]:
    """The next change works, and what the crash left lying is swept, an hour later at the most."""
    for path in folder.rglob("*.part"):
        os.utime(path, (time.time() - 7200,) * 2)
    done = run(["name", folder, "reed=after the storm"])
    found = done.troubles()
    if done.code != 0:
        found.append(f"loss: the next change fails: {done.message[:200]}")
    left = [path.name for path in folder.rglob("*") if "passalong-" in path.name
            or path.name.startswith((".piece.json.", ".tmp"))]  # fmt: skip
    return found + [f"loss: left lying for good: {name}" for name in left]


def _dying(at: int) -> Callable[[], None]:
    def prepare() -> None:
        seen = 0

        def hook(event: str, arguments: tuple[Any, ...]) -> None:
            nonlocal seen
            if _touches(event, arguments):
                if seen == at:
                    os.kill(os.getpid(), signal.SIGKILL)
                seen += 1

        sys.addaudithook(hook)

    return prepare


def _counting(path: Path) -> Callable[[], None]:
    def prepare() -> None:
        handle, seen = os.open(path, os.O_CREAT | os.O_WRONLY), 0

        def hook(event: str, arguments: tuple[Any, ...]) -> None:
            nonlocal seen
            if _touches(event, arguments):
                seen += 1
                os.pwrite(handle, str(seen).encode(), 0)

        os.write(handle, b"0")
        sys.addaudithook(hook)

    return prepare


def _touches(event: str, arguments: tuple[Any, ...]) -> bool:
    """Whether something on the disk is about to change (or be opened to be changed)."""
    if event not in _WATCHED:
        return False
    return event != "open" or bool((arguments[2] or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))


# ── several writers ───────────────────────────────────────────────────────────────────────


def writers(dice: Dice, bench: Bench, where: Path) -> tuple[str, list[str]]:
    """Two or three commands at once: each is kept, or says that the piece is in use."""
    folder = bench.copy(where)
    wishes = {
        "name moss": (["name", folder, "moss=wet stone"], _named("moss", "wet stone")),
        "name sand": (["name", folder, "sand=dry bank"], _named("sand", "dry bank")),
        "size reed": (["size", folder, "reed=9 1/2x3"], _sized("reed", [9.5, 3])),
        "drop clay": (["drop", folder, "clay"], lambda now: "clay" not in _ids(now)),
        "read late": (["read", bench.late, "--out", folder], lambda now: "late" in _ids(now)),
        "read second": (["read", bench.second, "--out", folder],
                        lambda now: "second" in _ids(now)),
        "order": (["order", folder, "--open"], lambda now: now["order"] is not None),
    }  # fmt: skip
    chosen = dice.sample(sorted(wishes), dice.choice((2, 2, 3)))
    if "order" in chosen and set(chosen) & {"read late", "read second", "drop clay"}:
        chosen.remove("order")  # other prints: the sequence is rightly gone
    gate = where / "gate"
    running = [start(wishes[name][0], lambda: _wait_for(gate)) for name in chosen]
    gate.touch()
    found: list[str] = []
    done = [one.wait_for() for one in running]
    try:
        now = state(folder)
    except Exception as error:
        return " + ".join(chosen), [f"loss: the piece no longer loads ({error})"]
    for name, one in zip(chosen, done, strict=True):
        found += one.troubles()
        if one.code == 0 and not wishes[name][1](now):
            found.append(f"loss: '{name}' was reported as done and is not there")
        if one.code != 0 and not ("in use" in one.message or "changed" in one.message):
            found.append(f"loss: '{name}' failed: {one.message[:200]}")
    if "none" in now["cloth"].values():
        found.append("loss: a print without its cloth")
    found += [f"loss: {name} of hers is gone" for name in hers_gone(folder)]
    return " + ".join(chosen), found


def _wait_for(gate: Path) -> None:
    while not gate.exists():
        time.sleep(0.0002)


def _ids(now: Any) -> list[str]:
    return [one["id"] for one in now["prints"]["prints"]]


def _named(id_: str, name: str) -> Callable[[Any], bool]:
    return lambda now: any(
        one["id"] == id_ and one["name"] == name for one in now["prints"]["prints"])


def _sized(id_: str, size: list[float]) -> Callable[[Any], bool]:
    return lambda now: any(
        one["id"] == id_ and one["size_in"] == size for one in now["prints"]["prints"])


# ── the disk ──────────────────────────────────────────────────────────────────────────────


def full(dice: Dice, bench: Bench, known: dict[str, Known], where: Path) -> tuple[str, list[str]]:
    """No file may grow beyond so many bytes, or the disk (a small one in memory) is full."""
    name = dice.choice(sorted(known))
    right = known[name]
    if dice.random() < 0.5 and can_mount():
        room = dice.choice((0, 1, 4, 20, 60, 200, 800)) * 1024
        with small_disk(where / "disk", room, bench) as folder:
            before = state(folder)
            done = run(changes(bench, folder)[name])
            found = [*done.troubles(), *_one_of(folder, before, right, done)]
        return f"{name} with {room} bytes left on the disk", found
    folder = bench.copy(where)
    before = state(folder)
    most = dice.choice((0, 10, 200, 2_000, 10_000, 40_000, 100_000))
    done = run(changes(bench, folder)[name],
               lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)))  # fmt: skip
    found = [*done.troubles(), *_one_of(folder, before, right, done), *_goes_on(folder)]
    return f"{name} with files of {most} bytes at most", found


def read_only(dice: Dice, bench: Bench, where: Path) -> tuple[str, list[str]]:
    """A folder that may only be read: looking works, changing says so and changes nothing."""
    if not can_mount() and os.geteuid() == 0:
        return "read-only folder: skipped, root may write everywhere", []
    looks: dict[str, list[Any]] = {
        "contrast": ["contrast", "FOLDER", "--json"],
        "preview": ["preview", "FOLDER", "--out", where / "x.png", "--ppi", "20"],
        "sheets": ["sheets", "FOLDER", "--out", where / "x.pdf"],
    }
    every = changes(bench, Path("FOLDER"))
    name = dice.choice([*looks, *every])
    where.mkdir(exist_ok=True)
    with _locked_up(where, bench) as folder:
        before = state(folder)
        asked = [folder if str(one) == "FOLDER" else one for one in {**looks, **every}[name]]
        done = run(asked)
        found = [*done.troubles(), *_one_of(folder, before, Known(before, 0, 0), done)]
        if (name in looks) != (done.code == 0) and name != "undo":
            found.append(f"loss: {name} ended with {done.code}: {done.message[:200]}")
    return f"{name} in a read-only folder", found


def can_mount() -> bool:
    """Whether a small disk in memory can be had."""
    if not hasattr(can_mount, "known"):
        probe = Path("/tmp") / f"passalong-probe-{os.getpid()}"
        probe.mkdir()
        can_mount.known = _mount(probe, "size=64k")  # type: ignore[attr-defined]
        if can_mount.known:  # type: ignore[attr-defined]
            _unmount(probe)
        probe.rmdir()
    return bool(can_mount.known)  # type: ignore[attr-defined]


@contextmanager
def small_disk(where: Path, room: int, bench: Bench) -> Iterator[Path]:
    """The piece on a disk of its own with ``room`` bytes left on it."""
    where.mkdir(parents=True)
    assert _mount(where, "size=16m")
    try:
        folder = bench.copy(where)
        left = os.statvfs(where)
        fill = left.f_bavail * left.f_frsize - room
        with contextlib.suppress(OSError), (where / "filler").open("wb") as file:
            for _ in range(max(0, fill) // 4096):
                file.write(b"\1" * 4096)
                file.flush()
        yield folder
    finally:
        _unmount(where)


@contextmanager
def _locked_up(where: Path, bench: Bench) -> Iterator[Path]:
    if not can_mount():
        folder = bench.copy(where)
        shown = [folder, *(path for path in folder.rglob("*") if path.is_dir())]
        for one in shown:
            one.chmod(0o555)
        try:
            yield folder
        finally:
            for one in shown:
                one.chmod(0o755)
        return
    disk = where / "disk"
    disk.mkdir()
    assert _mount(disk, "size=16m")
    try:
        folder = bench.copy(disk)
        assert _mount(disk, "remount,ro")
        yield folder
    finally:
        _unmount(disk)


def _mount(where: Path, how: str) -> bool:
    if sys.platform != "linux" or not shutil.which("mount"):
        return False
    return subprocess.run(["mount", "-t", "tmpfs", "-o", how, "tmpfs", str(where)],
                          capture_output=True, check=False).returncode == 0  # fmt: skip


def _unmount(where: Path) -> None:
    subprocess.run(["umount", "-l", str(where)], capture_output=True, check=False)

