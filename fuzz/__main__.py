"""Run the cases, print the counts, end with 1 if anything was lost, hung, or fell through."""

from __future__ import annotations

import argparse
import importlib
import json
import os
import pkgutil
import random
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

from fuzz import pictures, pieces, storms
from fuzz.bench import Bench, hers_gone, laid_out, state
from fuzz.case import Outcome, run

KINDS = ("traceback", "hang", "loss", "memory", "accepted")
CASES = {"pictures": 3000, "pieces": 3000, "crashes": 200, "writers": 120, "full disk": 100,
         "read-only folder": 30}  # fmt: skip


@dataclass
class Found:
    """What one case showed."""

    campaign: str
    number: int
    what: str
    troubles: list[str]
    code: int | None = None
    work: float = 0.0
    memory: int = 0


@dataclass
class Field:
    """All that a case may start from; handed on by fork."""

    bench: Bench
    good: list[Path]
    known: dict[str, storms.Known]
    seed: int
    root: Path
    found: list[Found] = field(default_factory=list)


_FIELD: Field | None = None


def main(arguments: list[str]) -> int:
    """Exit code 0: nothing fell through."""
    parser = argparse.ArgumentParser(prog="fuzz", description=__doc__)
    parser.add_argument("--share", type=float, default=1.0, help="how much of it (0.1: a tenth)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=CASES, nargs="+", default=list(CASES))
    parser.add_argument("--case", type=int, help="one case of it, by its number")
    parser.add_argument("--minutes", type=float, default=40.0, help="stop after so long")
    parser.add_argument("--lanes", type=int, default=min(2, os.cpu_count() or 1))
    asked = parser.parse_args(arguments)
    root = Path(tempfile.mkdtemp(prefix="passalong-fuzz-"))
    try:
        return _run(asked, root)
    finally:
        shutil.rmtree(root, ignore_errors=True)


def _run(asked: argparse.Namespace, root: Path) -> int:
    global _FIELD
    started = time.monotonic()
    _load_everything()
    root.chmod(0o755)
    bench = laid_out(root / "bench")
    (root / "known").mkdir()
    _FIELD = Field(bench, pictures.seeds(root / "good"),
                   storms.outcomes(bench, root / "known"), asked.seed, root)  # fmt: skip
    counts = {name: max(1, round(CASES[name] * asked.share)) for name in asked.only}
    jobs = [(name, number) for name, count in counts.items() for number in range(count)
            if asked.case in (None, number)]  # fmt: skip
    random.Random(asked.seed).shuffle(jobs)  # so that a run cut short has seen some of everything
    found: list[Found] = []
    with get_context("fork").Pool(asked.lanes) as pool:
        for one in pool.imap_unordered(_case, jobs, chunksize=2):
            found.append(one)
            for trouble in one.troubles:
                print(f"{one.campaign} {one.number}: {one.what}\n    {trouble}", flush=True)
            if time.monotonic() - started > 60 * asked.minutes:
                break
    _tell(found, time.monotonic() - started)
    if len(found) < len(jobs):
        print(f"stopped after {asked.minutes:g} minutes: {len(found)} of {len(jobs)} cases")
    return 1 if len(found) < len(jobs) or any(one.troubles for one in found) else 0


def _load_everything() -> None:
    """Import once, so that a forked case starts at once."""
    import passalong

    import sequencer

    for package in (sequencer, passalong):
        for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            if not module.name.endswith("__main__"):
                importlib.import_module(module.name)


def _case(job: tuple[str, int]) -> Found:
    campaign, number = job
    assert _FIELD is not None
    dice = random.Random(f"{_FIELD.seed} {campaign} {number}")
    where = Path(tempfile.mkdtemp(dir=_FIELD.root, prefix="case-"))
    try:
        return _CAMPAIGNS[campaign](number, dice, where)
    except Exception as error:  # the harness itself: never passed over in silence
        return Found(campaign, number, "the harness", [f"traceback: {error!r}"])
    finally:
        shutil.rmtree(where, ignore_errors=True)


# ── the campaigns ─────────────────────────────────────────────────────────────────────────


def _picture(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    path = pictures.mutated(dice, _FIELD.good, where)
    out = where / "out"
    options = dice.choice(([], [], ["--shows", "many"], ["--shows", "one"], ["--scale", "bankcard"],
                           ["--reference", "sheet"], ["--scale", "1in=60"]))  # fmt: skip
    together = dice.random() < 0.15 and "many" not in options
    good = [_FIELD.bench.photos / "moss.png"] if together else []
    done = run(["read", *good, path, "--out", out, "--json", *options])
    troubles = done.troubles()
    if done.code == 0:
        troubles += _fit(done, out)
    elif (out / "piece.json").exists():
        troubles.append("loss: refused, and a piece was written")
    elif together:
        troubles.append(f"loss: one damaged file takes a good one with it: {done.message[:200]}")
    return Found("pictures", number, f"read {path.name}", troubles, done.code, done.work,
                 done.memory)  # fmt: skip


def _fit(done: Outcome, out: Path) -> list[str]:
    """Whether what was read can be read again and makes sense."""
    try:
        told = json.loads(done.out)
        again = state(out)["prints"]
        if told["prints"] != again["prints"]:
            return ["loss: the piece holds other prints than were told"]
        return [] if pieces.sane(told) else ["accepted: prints that no cloth can be"]
    except Exception as error:
        return [f"loss: what was written does not load ({error!r})"]


def _piece(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    folder = _FIELD.bench.copy(where)
    how = pieces.damage(dice, folder)
    raw = _raw(folder / "piece.json")
    command = dice.choice(_commands(dice, folder, where))
    done = run(command)
    troubles = done.troubles()
    troubles += [f"loss: {name} of hers is gone" for name in hers_gone(folder)]
    if done.code != 0 and _raw(folder / "piece.json") != raw:
        troubles.append("loss: refused, and piece.json was changed")
    if done.code == 0 and raw is not None:
        troubles += _nonsense(raw)
    return Found("pieces", number, f"{how} → {command[0]}", troubles, done.code, done.work,
                 done.memory)  # fmt: skip


def _raw(path: Path) -> bytes | None:
    try:
        return path.read_bytes() if path.is_file() else None
    except OSError:
        return None


def _nonsense(raw: bytes) -> list[str]:
    try:
        return [] if pieces.sane(json.loads(raw)) else ["accepted: a piece that no cloth can be"]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        return [f"accepted: a piece that makes no sense ({error!r})"]


def _commands(dice: random.Random, folder: Path, where: Path) -> list[list[object]]:
    """Weighted towards those that look at most of the piece."""
    from passalong.commands import COMMANDS

    quick: list[list[object]] = [
        ["order", folder], ["order", folder, "--json"], ["contrast", folder],
        ["plan", folder], ["plan", folder, "--json", "--largest"], ["plan", folder, "--ways-out"],
        ["preview", folder, "--out", where / "p.png", "--ppi", "30"],
        ["preview", folder, "--out", where / "p.png", "--ppi", "30", "--view", "across-room"],
        ["sheets", folder, "--out", where / "s.pdf"],
        ["sheets", folder, "--out", where / "s.pdf", "--units", "cm"],
        ["scale", folder, "--to", "12x9"], ["name", folder, "moss=stone"],
        ["size", folder, "moss=8x3"], ["drop", folder, "moss"],
    ]  # fmt: skip
    slow: list[list[object]] = [
        ["redraw", folder, "table-1", "--outline", *storms.OUTLINE],
        ["merge", folder, "table-1", "table-2"],
        ["read", where.parent / "bench" / "late.jpg", "--out", folder],
    ]  # fmt: skip
    more = [[name, folder] for name in ("undo", "redo", "history") if name in COMMANDS]
    return [*quick, *more, *more, dice.choice(slow)]


def _crash(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    return Found("crashes", number, *storms.crash(dice, _FIELD.bench, _FIELD.known, where))


def _writers(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    return Found("writers", number, *storms.writers(dice, _FIELD.bench, where))


def _full(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    return Found("full disk", number, *storms.full(dice, _FIELD.bench, _FIELD.known, where))


def _read_only(number: int, dice: random.Random, where: Path) -> Found:
    assert _FIELD is not None
    return Found("read-only folder", number, *storms.read_only(dice, _FIELD.bench, where))


_CAMPAIGNS: dict[str, Callable[[int, random.Random, Path], Found]] = {
    "pictures": _picture, "pieces": _piece, "crashes": _crash, "writers": _writers,
    "full disk": _full, "read-only folder": _read_only,
}  # fmt: skip


# ── the counts ────────────────────────────────────────────────────────────────────────────


def _tell(found: list[Found], seconds: float) -> None:
    print(f"\n{'':18}{'cases':>7}" + "".join(f"{kind:>11}" for kind in KINDS)
          + f"{'slowest':>10}{'memory':>10}")  # fmt: skip
    for campaign in CASES:
        some = [one for one in found if one.campaign == campaign]
        if some:
            _row(campaign, some)
    _row("all", found)
    refused = sum(one.code in (1, 2) for one in found)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{refused} refused with a word; {seconds:.0f} s; largest process {most:.0f} MB")


def _row(name: str, some: list[Found]) -> None:
    kinds = Counter(trouble.partition(":")[0] for one in some for trouble in one.troubles)
    print(f"{name:18}{len(some):7}" + "".join(f"{kinds[kind]:11}" for kind in KINDS)
          + f"{max(one.work for one in some):9.1f}s"
          + f"{max(one.memory for one in some) / 1e6:8.0f}MB")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
