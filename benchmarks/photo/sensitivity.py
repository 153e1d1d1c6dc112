"""What the numbers of photo/ and prints/ are worth: each halved and doubled, and what then changes.

    python benchmarks/photo/sensitivity.py FOLDER [--only finds/touching] [--way halved]

FOLDER keeps the pictures, what they gave and every result: started again, it goes on, and prints
the table of all that is done. Pictures (sensitivity_photos.py): simulated ones of all kinds, whose
truth is known; the sample box and real cloths, tables and charts, whose truth is what the program
says today (charts: published colours). Numbers of three names in one line are told by their values.

A number is changed in a module's source before it is imported, in a process of its own, so that
copies, defaults and what is worked out from it follow. What comes before its room is not read
again, and where its room gives the very same, nothing after it is. Shares above a half, gains near
1 and percentiles are halved and doubled as what they are short of. Harm, in points: a scrap lost or
one too many, a reference not used, a number of colours off by one; two for a wrong reference; one
for each ΔE00 or per cent of size in a photo's mean; half for each size not told. none: no outcome
differs (=: nor does anything else); breaks: 5 points, at which the reading stops; better: 2 points
of gain, and harm below 1.
"""

from __future__ import annotations

import argparse
import ast
import gc
import json
import os
import pickle
import resource
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from importlib.machinery import SourceFileLoader
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))
ROOMS = ("shapes", "files", "reference", "finds", "scale", "colour", "prints")
FROM = {"finds/swatch": 6, "finds/straight": 3.5, "files/view": 1.5}
"""Modules that serve other rooms than their own: where reading begins (with a half: nothing is
compared at once)."""
NOT_CHOSEN = (
    "PATCHES_LAB", "_LUMINANCE", "SHEETS_IN", "CARD_IN", "CARD_RADIUS_IN", "_RATIOS", "_CELLS",
    "_OUTER", "NEUTRALS", "SRGB", "SHAPES", "EVEN", "GREY_L", "_TERMS", "_SURFACE", "_OFFSET",
    "_COLUMNS", "_ROWS", "_UNKNOWNS", "_ANGLES", "_MEASURED", "(_NEXT, _LAST)", "_GAUSSIAN",
)  # fmt: skip
"""Published, or how things are counted: another value is a fault and no choice."""
UNASKED = ("agreement/", "/by_hand", "/marked", "/tapped", "/marking", "/edits", "/taught",
           "/handles", "/laid", "/bare", "/stated")  # fmt: skip
"""What no photo of the set comes to: hands, taught cameras, several photos, files written."""
BREAKS, SECONDS = 5.0, 150
_FITTED = 9  # more numbers than this in one constant are fitted by a script, or published
_NOTHING = 1e-5  # what only keeps from dividing by zero is no choice either


@dataclass(frozen=True)
class Number:
    """A literal: its module below sequencer/, the constant or function, place, value, the other."""

    module: str
    name: str
    line: int
    column: int
    value: float
    way: str
    other: float

    @property
    def key(self) -> str:
        """Stays the same while lines above it move."""
        return f"{self.module} {self.name} {self.column} {self.value:g} {self.way}"


def numbers() -> Iterator[Number]:
    """Every number that a module keeps by name, once halved and once doubled."""
    rooms = ("sequencer/photo/**/*.py", "sequencer/prints/*.py")
    for path in sorted(one for room in rooms for one in ROOT.glob(room)):
        module = path.relative_to(ROOT / "sequencer").with_suffix("").as_posix()
        if any(part in module for part in UNASKED):
            continue
        for node in ast.parse(path.read_text("utf-8")).body:
            name = _name(node)
            if not name or name in NOT_CHOSEN:
                continue
            held = [one for one in ast.walk(node) if _is_number(one)]
            if len(held) > _FITTED:
                continue
            for one in held:
                for way, other in zip(("halved", "doubled"), _changed(one.value), strict=True):
                    if other != one.value:
                        place = one.lineno, one.col_offset
                        yield Number(module, name, *place, one.value, way, other)


def _name(node: ast.stmt) -> str:
    """What a constant is called, nothing for other statements."""
    target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
    return "" if target is None else ast.unparse(target)


def _is_number(node: ast.AST) -> bool:
    number = isinstance(node, ast.Constant) and type(node.value) in (int, float)
    return number and abs(node.value) > _NOTHING


def _changed(value: float) -> tuple[float, float]:
    for whole, low, high in ((1.0, 0.5, 1.3), (100.0, 90.0, 100.0), (255, 245, 256)):
        if low < value < high and type(value) is type(whole):
            short = whole - value
            return whole - 2 * short, type(whole)(whole - short / 2)
    if isinstance(value, int):
        return (max(1, round(value / 2)), 2 * value)
    return value / 2, 2 * value


def change(number: Number) -> None:
    """Let the module be imported with the other value."""
    wanted = f"sequencer.{number.module.replace('/', '.')}"
    real = SourceFileLoader.get_code

    def get_code(self: SourceFileLoader, fullname: str) -> object:
        if fullname != wanted:
            return real(self, fullname)
        tree = ast.parse(Path(self.path).read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and (node.lineno, node.col_offset) == (
                number.line, number.column,
            ):
                node.value = number.other
        return compile(tree, self.path, "exec")

    SourceFileLoader.get_code = get_code  # type: ignore[assignment, method-assign]


def apart(work: object, *given: object) -> object:
    """What ``work`` gives in a process of its own; in words where it fails."""
    here, there = os.pipe()
    child = os.fork()
    if not child:
        os.close(here)
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
            told = work(*given)  # type: ignore[operator]
        except BaseException as error:
            told = f"{type(error).__name__}: {error}"
        with os.fdopen(there, "wb") as stream:
            pickle.dump(told, stream)
        os._exit(0)
    os.close(there)
    with os.fdopen(here, "rb") as stream:
        held = stream.read()
    os.waitpid(child, 0)
    return pickle.loads(held) if held else f"not done in {SECONDS} s"


def _make(base: Path, real: Path) -> None:
    from benchmarks.photo import sensitivity_photos

    base.write_bytes(pickle.dumps(sensitivity_photos.made(base.parent, real)))


def tried(number: Number, held: bytes) -> dict:
    """What changes in the photos ``held``, pickled, which tell what they give today."""
    assert not any(name.startswith("sequencer.photo") for name in sys.modules)
    change(number)
    gc.disable()
    from benchmarks.photo import sensitivity_photos as photos

    place = next(i for i, room in enumerate(ROOMS) if f"/{room}" in f"/{number.module}")
    start = FROM.get(number.module.removeprefix("photo/"), place)
    sums: dict[str, float] = {"harm": 0.0, "gain": 0.0}
    for one in pickle.loads(held):
        for what, much in photos.compared(one, start).items():
            sums[what] = round(sums.get(what, 0.0) + much, 3)
            if what not in ("changed", "words"):
                sums["harm" if much > 0 else "gain"] += abs(much)
        if sums["harm"] >= BREAKS:
            break
    return sums


def word(sums: dict | str) -> str:
    """The effect of one change in a word, and its parts."""
    if isinstance(sums, str):
        return f"breaks ({sums[:40]})"
    shown = {k: v for k, v in sums.items() if k not in ("harm", "gain", "changed") and v}
    parts = ", ".join(f"{what} {much:+.3g}" for what, much in shown.items())
    if sums["harm"] >= BREAKS:
        return f"breaks ({parts})"
    if sums["gain"] >= 2 and sums["harm"] < 1:
        return f"better ({parts})"
    return f"small ({parts})" if parts else "none" if sums.get("changed") else "="


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="modules whose path holds this")
    parser.add_argument("--way", default="", help="halved or doubled alone")
    parser.add_argument("--real", type=Path, default=ROOT.parent / "shared" / "real")
    options = parser.parse_args()
    for heavy in ("scipy.ndimage", "scipy.optimize", "scipy.spatial", "skimage.feature"):
        import_module(heavy)  # once, for all processes

    base = options.folder / "today.pickle"
    if not base.exists():
        options.folder.mkdir(parents=True, exist_ok=True)
        told = apart(_make, base, options.real)
        if told is not None:
            raise SystemExit(told)
    held = base.read_bytes()  # pickled still: no module to be changed may be known here
    log = options.folder / "results.jsonl"
    done = dict(json.loads(line) for line in log.read_text().splitlines()) if log.exists() else {}
    for number in numbers():
        if options.only not in number.module or options.way not in number.way:
            continue
        if number.key not in done:
            done[number.key] = apart(tried, number, held)
            with log.open("a") as stream:
                stream.write(json.dumps([number.key, done[number.key]]) + "\n")
        name = f"{number.module} {number.name}"
        print(f"{name:44}{number.value:>9g} {number.way:8}{word(done[number.key])}", flush=True)


if __name__ == "__main__":
    main()
