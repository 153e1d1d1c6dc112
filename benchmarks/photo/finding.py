"""How many scraps are found on simulated tables, and how many finds are scraps: precision, recall.

    python benchmarks/photo/finding.py [--photos 20] [--seed 40000] [--set NAME] [--misses]

Read as a user's photo is: reference unasked, bank card told apart, what is left is a scrap. A find
is right where it overlaps a true scrap by 0.7 (area shared over area of both). Sets:

tables   tests/made/scenes.py, 1600 × 1200, 9 scraps, a fifth touching, sheet and bank card
target, grey, sheet, none   tests/made/simulator.py, 960 × 720, 6 scraps, that reference in it
hard     the same at 900 × 675, noise five times as strong, up to 30 scraps, half touching
ground   tests/made/scenes.py, every print's ground near the table's colour
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.errors import PhotoError
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo
from sequencer.photo.finds.cloth import find_cloth
from sequencer.photo.reference.reference import find_reference
from sequencer.photo.scale.no_scrap import bank_cards
from sequencer.photo.scale.scale import find_scale
from tests.made import scenes, simulator

SETS = ("tables", "target", "grey", "sheet", "none", "hard", "ground")
RIGHT = 0.7


@dataclass
class Counted:
    """Finds, true scraps, finds that are right, their overlaps, finds that are a bank card."""

    finds: int = 0
    true: int = 0
    right: int = 0
    cards: int = 0
    overlaps: tuple[float, ...] = ()

    def line(self, name: str) -> str:
        """One row of the table."""
        middle = float(np.median(self.overlaps)) if self.overlaps else 0.0
        return (f"{name:8}{self.right / max(self.finds, 1):11.3f}{self.right / self.true:9.3f}"
                f"{middle:9.3f}{self.finds:8}{self.true:7}{self.cards:7}")  # fmt: skip


def photos(which: str, seeds: range) -> Iterator[tuple[int, Photo, np.ndarray, list[int], int]]:
    """Seed, photo, labels at its analysis size, labels of scraps, label of the bank card or -1."""
    for seed in seeds:
        if which in ("target", "grey", "sheet", "none"):
            made = simulator.scene(seed, which)
            labels = np.zeros(made.pixels.shape[:2], int)
            for k, one in enumerate(made.scraps, 1):
                labels[one.mask] = k
            photo = Photo("a.jpg", "a", made.pixels, made.pixels.shape[1::-1])
            yield seed, photo, labels, list(range(1, len(made.scraps) + 1)), -1
            continue
        scene = _scene(which, seed)
        card = [k for k, one in enumerate(scene.pieces, 1) if one.kind == "card"]
        if which == "hard":
            photo = Photo("a.jpg", "a", scene.picture, scene.picture.shape[1::-1])
            labels = scene.labels
        else:
            photo = _halved(scene.picture)
            labels = scene.labels[::2, ::2]
        shown = [k for k in scene.scraps if (labels == k).sum() > 4e-4 * labels.size]
        yield seed, photo, labels, shown, card[0] if card else -1


def _scene(which: str, seed: int) -> scenes.Scene:
    table = scenes.TABLES[seed % 4]
    if which == "tables":
        return scenes.make_scene(seed, table, scraps=9, size=(1600, 1200))
    if which == "ground":
        return scenes.make_scene(seed, table, scraps=7, size=(1600, 1200), near_table=1.0)
    return scenes.make_scene(
        seed, table, scraps=6 + seed * 7 % 25, size=(900, 675), touching=0.5, noise=0.03,
        sheet=seed % 2 == 0, card=seed % 3 == 0,
    )  # fmt: skip


def _halved(picture: Pixels) -> Photo:
    height, width = picture.shape[:2]
    small = picture[: height // 2 * 2, : width // 2 * 2].reshape(height // 2, 2, width // 2, 2, 3)
    pixels = np.rint(small.mean(axis=(1, 3))).astype(np.uint8)
    return Photo("a.jpg", "a", pixels, (width, height), 2.0, detail=picture)


def count(
    photo: Photo, labels: np.ndarray, shown: list[int], card: int
) -> tuple[Counted, list[str]]:
    """One photo: what was found in it, and what went wrong in words."""
    reference = find_reference(photo)
    known = [] if reference is None else [reference.polygon]
    sheet = reference.polygon if reference is not None and reference.kind == "sheet" else None
    try:
        cloth = find_cloth(photo, "many", known)
    except PhotoError:
        return Counted(true=len(shown)), ["nothing found"]
    scale, _ = find_scale(photo, cloth.things, "auto", sheet)
    cloth = cloth.without(bank_cards(photo, cloth.things, scale, sheet)[0])
    sizes = np.bincount(labels.ravel(), minlength=max(shown, default=0) + 1)
    told, wrong, hit = Counted(len(cloth.scraps), len(shown)), [], set()
    for one in cloth.scraps:
        parts = np.bincount(labels[one.box][one.mask], minlength=len(sizes))
        k = max(shown, key=lambda j: parts[j], default=0)
        overlap = parts[k] / (one.area + sizes[k] - parts[k])
        if overlap >= RIGHT:
            hit.add(k)
            told.right += 1
            told.overlaps += (float(overlap),)
            continue
        if card > 0 and parts[card] > 0.5 * one.area:
            told.cards += 1
        x, y = one.outline.mean(axis=0)
        lies = np.flatnonzero(parts > 0.05 * one.area).tolist()
        shares = {j: round(float(parts[j] / one.area), 2) for j in lies}
        wrong.append(f"at {x:.0f},{y:.0f} area {one.area} overlap {overlap:.2f} on {shares}")
    wrong += [f"missed {k}: {sizes[k]} pixels" for k in shown if k not in hit]
    return told, wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=int, default=20, help="photos of each set")
    parser.add_argument("--seed", type=int, default=40000, help="first seed")
    parser.add_argument("--set", action="append", choices=SETS, help="only these sets")
    parser.add_argument("--misses", action="store_true", help="tell every wrong or missed find")
    options = parser.parse_args()
    print(f"{'set':8}{'precision':>11}{'recall':>9}{'overlap':>9}{'finds':>8}{'true':>7}{'cards':>7}")
    for which in options.set or SETS:
        whole = Counted()
        for seed, *one in photos(which, range(options.seed, options.seed + options.photos)):
            told, wrong = count(*one)
            pairs = zip(vars(whole).values(), vars(told).values(), strict=True)
            whole = Counted(*(a + b for a, b in pairs))
            if options.misses and wrong:
                print(f"  {seed}: " + "; ".join(wrong))
        print(whole.line(which), flush=True)


if __name__ == "__main__":
    main()
