"""The photos that sensitivity.py judges by: made, read as today, read again, compared.

Pictures are small, so that a number costs seconds. This module is imported in a process of its own
for each number that is tried, after that was changed.
"""

from __future__ import annotations

import dataclasses
import hashlib
import pickle
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageOps

from benchmarks.photo.real_cameras import charts
from sequencer.colour import ciede2000
from sequencer.photo.reference.marking import marked_corners
from sequencer.reading import photograph, seen
from tests.made import measured_tables, scenes, simulator

STAGES = {
    "load": (seen, 1), "doubt_of": (seen, 1), "check_quality": (seen, 1),
    "look_for_reference": (seen, 2), "find_cloth": (seen, 3), "find_scale": (seen, 4),
    "bank_cards": (seen, 4), "correct": (photograph, 5), "print_of": (photograph, 6),
}  # fmt: skip
"""Where each step of the road is called from, and its room's place in sensitivity.ROOMS."""
LAST = {1: "check_quality", 2: "look_for_reference", 3: "find_cloth", 4: "bank_cards", 5: "correct"}
FIRST, RIGHT = 81000, 0.7
Floats = np.ndarray


@dataclasses.dataclass
class Photo:
    """``truth``: of each scrap its mask (as labels from 1), mean CIELAB and sides in inches, None
    where not known. ``kind``: the reference that lies there, None where not known. ``kept``: what
    each step gave, pickled, and its mark; ``today``: what :func:`outcome` says."""

    path: Path
    shows: str = "auto"
    labels: Floats | None = None
    means: list[Any] = dataclasses.field(default_factory=list)
    sides: list[Any] = dataclasses.field(default_factory=list)
    kind: str | None = None
    reference: str = "auto"
    marked: Any = None
    patches: Floats | None = None
    true: Floats | None = None
    kept: dict[str, tuple[bytes, str]] = dataclasses.field(default_factory=dict)
    today: dict[str, Any] = dataclasses.field(default_factory=dict)


class _Same(Exception):  # noqa: N818
    """The room gave what it gives today."""


# ── read ──────────────────────────────────────────────────────────────────────────────────


def read(photo: Photo, start: float) -> dict[str, Any]:
    """What the photo gives; ``start``: place of the room from which on it is read anew, 0 for all.

    With kept steps, those before are taken from there, and where the room itself gives the same,
    :class:`_Same` is raised.
    """
    kept = photo.kept if start else {}
    given: dict[str, Any] = {}
    real = {name: getattr(holder, name) for name, (holder, _) in STAGES.items()}
    for name, (holder, place) in STAGES.items():
        setattr(holder, name, _step(name, place, start, kept, given, real[name]))
    try:
        corners = marked_corners(photo.marked, photo.reference)
        wishes = seen.Wishes(photo.shows, photo.reference, "auto", Fraction(1, 4), (), corners)
        told = photograph.read_one(photo.path, wishes)
    finally:
        for name, (holder, _) in STAGES.items():
            setattr(holder, name, real[name])
    return {"told": told, "given": given}


def _step(name: str, place: int, start: float, kept: dict, given: dict, real: Any) -> Any:
    def step(*args: Any, **named: Any) -> Any:
        if place < start and name in kept:
            given[name] = pickle.loads(kept[name][0])
            return given[name]
        if name == "print_of":
            return real(*args, **named)
        given[name] = out = real(*args, **named)
        if kept and LAST.get(start) == name and all(
            n in kept and kept[n][1] == mark(given[n])
            for n, (_, p) in STAGES.items() if p == start
        ):  # fmt: skip
            raise _Same
        return out

    return step


def mark(thing: Any) -> str:
    """A fingerprint of everything in it."""
    digest = hashlib.sha1()
    _feed(digest, thing)
    return digest.hexdigest()


def _feed(digest: Any, thing: Any) -> None:
    if isinstance(thing, np.ndarray):
        digest.update(np.ascontiguousarray(thing).tobytes())
    elif dataclasses.is_dataclass(thing):
        for one in dataclasses.fields(thing):
            _feed(digest, getattr(thing, one.name))
    elif isinstance(thing, (tuple, list)):
        for one in thing:
            _feed(digest, one)
    elif hasattr(thing, "__dict__"):
        _feed(digest, list(vars(thing).values()))
    else:
        digest.update(repr(thing).encode())


# ── judge ─────────────────────────────────────────────────────────────────────────────────


def outcome(photo: Photo, got: dict[str, Any]) -> dict[str, Any]:
    """What matters of a reading: finds right and wrong, reference, size, colours, words."""
    told = got["told"]
    prints = [] if not hasattr(told, "prints") else [one for _, one in told.prints]
    hit: dict[int, Any] = {}
    for one in prints:
        k = _true_one(photo, one)
        if k:
            hit[k] = one
    near, far, within = [], [], []
    for k, one in hit.items():
        if photo.means[k - 1] is not None:
            near.append(float(ciede2000(np.array(one.mean_lab), np.array(photo.means[k - 1]))))
            within.append(near[-1] <= one.uncertainty)
        if photo.sides[k - 1] and one.size_in:
            far.append(float(np.abs(np.log(np.array(one.size_in) / photo.sides[k - 1])).max()))
    used = "refused" if not prints else prints[0].reference
    corrected = got["given"].get("correct")
    if photo.patches is not None and corrected is not None:
        lab = corrected.lab[photo.patches[:, 1], photo.patches[:, 0]]
        near = ciede2000(lab, photo.true).tolist()
    words = sorted({w[:40] for one in prints for w in one.warnings}) or [getattr(told, "why", "")]
    return {
        "lost": len(photo.means) - len(hit), "false": len(prints) - len(hit), "reference": used,
        "ΔE": float(np.mean(near)) if near else None, "size": float(np.mean(far)) if far else None,
        "sized": sum(one.size_in is not None for one in prints),
        "colours": [len(one.palette) for one in prints], "words": words,
        "±": float(np.mean([one.uncertainty for one in prints])) if prints else None,
        "within": sum(within), "mark": mark(prints) if prints else str(words),
    }  # fmt: skip


def _true_one(photo: Photo, one: Any) -> int:
    """Number of the scrap that a print is, 0 for none."""
    if photo.labels is None:
        return 0
    labels = photo.labels
    picture = Image.new("1", labels.shape[::-1])
    ImageDraw.Draw(picture).polygon([(x / 2, y / 2) for x, y in one.outline], fill=1)
    there = np.asarray(picture)
    parts = np.bincount(labels[there], minlength=len(photo.means) + 1)
    parts[0] = 0
    k = int(np.argmax(parts))
    whole = there.sum() + (labels == k).sum() - parts[k]
    return k if parts[k] > RIGHT * whole else 0


def compared(photo: Photo, start: float) -> dict[str, float]:
    """How much worse (+) or better (-) than today the photo is read, by what is judged."""
    try:
        now = outcome(photo, read(photo, start))
    except _Same:
        return {}
    old, out = photo.today, {"changed": float(now["mark"] != photo.today["mark"])}
    for what in ("lost", "false"):
        out[what] = now[what] - old[what]
    out["reference"] = _wrong(photo, now) - _wrong(photo, old)
    for what, unit in (("ΔE", 1.0), ("size", 100.0)):
        if now[what] is not None and old[what] is not None:
            out[what] = round(unit * (now[what] - old[what]), 1)
    out["unsized"] = 0.5 * (old["sized"] - now["sized"]) if not out["lost"] else 0.0
    if not out["lost"] and not out["false"]:
        out["colours"] = abs(len(old["colours"]) - len(now["colours"])) + 0.5 * sum(
            a != b for a, b in zip(old["colours"], now["colours"], strict=False))  # fmt: skip
        out["beyond ±"] = 0.5 * (old["within"] - now["within"])
    out["words"] = len(set(old["words"]) ^ set(now["words"]))
    return {what: float(much) for what, much in out.items() if much}


def _wrong(photo: Photo, told: dict[str, Any]) -> float:
    wanted = photo.kind or photo.today["reference"]
    return 2.0 if told["reference"] not in (wanted, "none") else float(told["reference"] != wanted)


# ── make ──────────────────────────────────────────────────────────────────────────────────


def made(folder: Path, real: Path) -> list[Photo]:
    """Every photo with what it gives today."""
    each = [*_simulated(folder), *_boxes(folder), *(_real(folder, real) if real.exists() else [])]
    order = np.random.default_rng(5).permutation(len(each))
    photos = [each[k] for k in order]
    for photo in photos:
        got = read(photo, 0)
        if photo.labels is None:
            _as_today(photo, got["told"])
        photo.today = outcome(photo, got)
        photo.kept = {name: (pickle.dumps(out), mark(out)) for name, out in got["given"].items()}
    return photos


def _as_today(photo: Photo, told: Any) -> None:
    """Truth of a photo that has none: what the program says of it."""
    prints = [one for _, one in getattr(told, "prints", ())]
    width, height = Image.open(photo.path).size
    picture = Image.new("L", (width // 2, height // 2))
    for k, one in enumerate(prints, 1):
        ImageDraw.Draw(picture).polygon([(x / 2, y / 2) for x, y in one.outline], fill=k)
    photo.labels = np.asarray(picture)
    photo.means = [one.mean_lab for one in prints]
    photo.sides = [one.size_in for one in prints]


def _saved(folder: Path, name: str, pixels: Floats) -> Path:
    path = folder / f"{name}.png"
    Image.fromarray(pixels).save(path)
    return path


def _simulated(folder: Path) -> list[Photo]:
    out = []
    for k, kind in enumerate(("target", "grey", "sheet", "none")):
        one = simulator.scene(FIRST + k, kind, (768, 576))
        labels = np.zeros(one.pixels.shape[:2], np.uint8)
        for n, held in enumerate(one.scraps, 1):
            labels[held.mask] = n
        out.append(Photo(_saved(folder, f"{kind}{k}", one.pixels), "auto", labels[::2, ::2],
                         [s.mean_lab for s in one.scraps], [None] * len(one.scraps), kind))
    for k in range(7):
        near, hard = k in (1, 5, 6), k in (3, 4)
        scene = scenes.make_scene(
            FIRST + k, scenes.TABLES[k % 4], scraps=16 if hard else 8, near_table=float(near),
            size=(720, 540), touching=0.5 if hard else 0.2, noise=0.03 if hard else 0.006,
        )  # fmt: skip
        labels = np.zeros(scene.labels.shape, np.uint8)
        for n, held in enumerate(scene.scraps, 1):
            labels[scene.labels == held] = n
        several = [None] * len(scene.scraps)
        out.append(Photo(_saved(folder, f"scene{k}", scene.picture), "auto", labels[::2, ::2],
                         several, several, None))
    return [*out, *(_measured(folder, k) for k in range(3))]


def _measured(folder: Path, k: int) -> Photo:
    sheet = list(measured_tables.SHEETS_IN)[k] if k % 2 else None
    table = measured_tables.photographed(FIRST + k, sheet, "plain", 1000)
    lying = table.of("scrap")
    picture = Image.new("L", tuple(n // 2 for n in table.camera.size))
    for n, one in enumerate(lying, 1):
        outline = [(float(x) / 2, float(y) / 2) for x, y in one.seen]
        ImageDraw.Draw(picture).polygon(outline, fill=n)
    return Photo(_saved(folder, f"measured{k}", table.picture), "auto", np.asarray(picture),
                 [None] * len(lying), [one.sides_in for one in lying], None)


def _smaller(folder: Path, path: Path, side: int) -> tuple[Path, float]:
    picture = ImageOps.exif_transpose(Image.open(path)).convert("RGB")
    by = min(1.0, side / max(picture.size))
    size = (round(picture.width * by), round(picture.height * by))
    small = picture.resize(size, Image.Resampling.LANCZOS)
    return _saved(folder, f"{path.parent.name}-{path.stem}", np.asarray(small)), by


def _boxes(folder: Path) -> list[Photo]:
    box = Path(__file__).parents[2] / "sample_images"
    paths = sorted([*box.glob("*.jpg"), *box.glob("*.webp")])[1::2]
    sides = (1000 if "table" in path.stem else 480 for path in paths)
    return [Photo(_smaller(folder, path, side)[0]) for path, side in zip(paths, sides, strict=True)]


def _real(folder: Path, real: Path) -> list[Photo]:
    out = [
        Photo(_smaller(folder, path, 480)[0])
        for path in sorted([*(real / "cloth").iterdir(), *(real / "table").iterdir()])[::2]
    ]
    for k, chart in enumerate(charts(real / "charts")[::3]):
        path, by = _smaller(folder, chart.path, 720)
        patches = (chart.patches[:18] * by).astype(int)
        asked = (("auto", None), ("sheet", 18), ("grey=65", 20))[k % 3]
        marked = asked[1] and [tuple(point) for point in (chart.around(asked[1]) * by).tolist()]
        out.append(Photo(path, "one" if k else "auto", reference=asked[0], marked=marked,
                         patches=patches, true=chart.true[:18]))
    return out
