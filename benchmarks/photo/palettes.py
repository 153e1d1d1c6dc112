"""How well palettes name the inks of prints whose inks are known.

    python benchmarks/photo/palettes.py [--prints 40] [--seed 3000] [--makers florals dots …]

Every print is drawn from known inks, woven, blurred in linear light, given noise and JPEG, and
measured; light and camera are left out, so what is wrong here is the palette's own fault. Seeds
below 5000 were used for building.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter
from scipy.optimize import linprog

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.colour import ciede2000, lab_to_xyz, linear_to_srgb, srgb8_to_lab, xyz_to_lab
from sequencer.colour.spaces import xyz_to_linear
from sequencer.prints.measure import measure_print
from tests.made import simulator

Floats = NDArray[np.floating]
Labels = NDArray[np.int_]
Drawn = tuple[Labels, Floats]

NOTES = """
emd: earth mover's distance to the true inks, CIEDE2000. count: colours more (+) or fewer (-) than
inks, and how often the count is right. lost: true inks of 3 % or more, over 10 from all others,
without a colour within 6. split: palettes with two colours nearest to one ink and within 10 of
each other. bogus: colours further than 8 from every ink. ms: processor time of one print."""


@dataclass(frozen=True)
class Case:
    """``lab`` (h, w, 3) as photographed; ``inks`` (n, 3) CIELAB with their ``shares``.

    ``labels`` (h, w): which ink was printed where.
    """

    maker: str
    lab: NDArray[np.float32]
    inks: Floats
    shares: Floats
    labels: Labels


# ── inks and motifs ───────────────────────────────────────────────────────────────────────


def dye(rng: np.random.Generator) -> Floats:
    """One of the simulator's dyes as CIELAB, drawn into the gamut of sRGB."""
    return in_gamut(xyz_to_lab(simulator.true_xyz(np.clip(simulator._ink(rng), 0.01, 0.98))))


def in_gamut(lab: Floats) -> Floats:
    lab = np.array(lab, float)
    for _ in range(60):
        linear = xyz_to_linear(lab_to_xyz(lab))
        if linear.min() >= 0 and linear.max() <= 0.96:
            break
        lab = lab * [1, 0.96, 0.96] + ([-0.5, 0, 0] if linear.max() > 0.96 else [0, 0, 0])
    return lab


def inks(
    rng: np.random.Generator, count: int, apart: float = 14.0,
    draw: Callable[[np.random.Generator], Floats] = dye,
) -> Floats:
    """``count`` inks at least ``apart`` ΔE00 from each other."""
    chosen = [draw(rng)]
    for _ in range(600):
        one = draw(rng)
        if ciede2000(one, np.array(chosen)).min() > apart:
            chosen.append(one)
        if len(chosen) == count:
            break
    return np.array(chosen[:count])


def grid(size: int) -> tuple[Floats, Floats]:
    y, x = np.mgrid[:size, :size].astype(float)
    return y, x


def scattered(rng: np.random.Generator, out: Labels, ink: int, radius: float, share: float) -> None:
    """Discs of one ink, one after another, until they cover ``share``."""
    size = len(out)
    y, x = grid(size)
    for _ in range(4000):
        if (out == ink).mean() >= share:
            return
        cy, cx = rng.uniform(0, size, 2)
        top, left = max(0, int(cy - radius - 1)), max(0, int(cx - radius - 1))
        part = np.s_[top : int(cy + radius + 2), left : int(cx + radius + 2)]
        out[part][np.hypot(y[part] - cy, x[part] - cx) < radius] = ink


def usual(rng: np.random.Generator, size: int) -> Drawn:
    """The simulator's own motifs and inks: some inks lie close together."""
    count = int(rng.integers(2, 6))
    motif = simulator._motif(rng, count, np.ones((size, size), bool))
    return motif, np.array([dye(rng) for _ in range(count)])


def plain(rng: np.random.Generator, size: int) -> Drawn:
    return np.zeros((size, size), int), dye(rng)[None]


def florals(rng: np.random.Generator, size: int) -> Drawn:
    """Small flowers: petals round a heart, and leaves."""
    out = np.zeros((size, size), int)
    y, x = grid(size)
    count = int(rng.integers(3, 6))
    pitch = rng.uniform(14, 34)
    for gy in np.arange(0, size + pitch, pitch):
        for gx in np.arange(0, size + pitch, pitch):
            cy, cx = np.array([gy, gx]) + rng.uniform(-0.3, 0.3, 2) * pitch
            r, turn = pitch * rng.uniform(0.1, 0.16), rng.uniform(0, 6.3)
            part = np.s_[max(0, int(cy - pitch)): int(cy + pitch) + 1,
                         max(0, int(cx - pitch)): int(cx + pitch) + 1]
            py, px, cut = y[part], x[part], out[part]
            if not cut.size:
                continue
            leaf = np.hypot(py - cy - 2.6 * r, (px - cx) * 2) < 1.5 * r
            cut[leaf] = count - 1
            petal = 1 + int(rng.integers(max(1, count - 3)))
            for k in range(5):
                way = turn + k * 2 * np.pi / 5
                away = np.hypot(py - cy - 1.3 * r * np.sin(way), px - cx - 1.3 * r * np.cos(way))
                cut[away < r] = petal
            cut[np.hypot(py - cy, px - cx) < 0.8 * r] = max(1, count - 2)
    return out, inks(rng, count)


def thin(rng: np.random.Generator, size: int) -> Drawn:
    """Stripes of 2 to 4 pixels."""
    y, x = grid(size)
    turn, period = rng.uniform(0, np.pi), rng.uniform(9, 26)
    phase = (x * np.cos(turn) + y * np.sin(turn)) % period
    out = (phase < rng.uniform(2, 4)).astype(int)
    count = int(rng.integers(2, 4))
    if count == 3:
        out[(phase > period / 2) & (phase < period / 2 + rng.uniform(2, 4))] = 2
    return out, inks(rng, count)


def plaids(rng: np.random.Generator, size: int) -> Drawn:
    """Warp and weft of the same colours; where they differ they cross in even mixtures."""
    count = int(rng.integers(2, 4))
    yarns = lab_to_xyz(inks(rng, count, 22))
    period, edges = rng.uniform(24, 70), np.sort(rng.uniform(0.25, 0.85, count - 1))
    band = np.searchsorted(edges, (np.arange(size) / period) % 1)
    pairs = [(i, j) for i in range(count) for j in range(i, count)]
    number = {pair: k for k, pair in enumerate(pairs)}
    table = np.array([[number[min(i, j), max(i, j)] for j in range(count)] for i in range(count)])
    return table[band[:, None], band[None]], np.array(
        [xyz_to_lab((yarns[i] + yarns[j]) / 2) for i, j in pairs]
    )


def dots(rng: np.random.Generator, size: int) -> Drawn:
    """A ground, a second ink, and dots that cover 1 to 3 %."""
    count = int(rng.integers(2, 4))
    out = np.zeros((size, size), int)
    if count == 3:
        scattered(rng, out, 1, rng.uniform(4, 12), rng.uniform(0.15, 0.4))
    scattered(rng, out, count - 1, rng.uniform(2, 4), rng.uniform(0.01, 0.03))
    return out, inks(rng, count, 20)


def tonal(rng: np.random.Generator, size: int) -> Drawn:
    """Tone on tone: two inks 6 to 10 ΔE00 apart."""
    first = dye(rng)
    for _ in range(400):
        second = in_gamut(first + rng.normal(0, [9, 3, 3]))
        if 6 < ciede2000(first, second) < 10:
            break
    else:
        second = in_gamut(first + np.array([9.0, 0, 0]))
    return blotches(rng, size, 2), np.array([first, second])


def blotches(rng: np.random.Generator, size: int, count: int) -> Labels:
    shares = np.maximum(rng.dirichlet(np.full(count, 2.0)), 0.05)
    noise = gaussian_filter(rng.normal(size=(size, size)), rng.uniform(3, 12))
    return np.searchsorted(np.quantile(noise, np.cumsum(shares / shares.sum())[:-1]), noise)


def batik(rng: np.random.Generator, size: int) -> Drawn:
    """Colours that run into each other, in 24 steps, with no border anywhere."""
    ends = lab_to_xyz(inks(rng, 2, 15))
    noise = gaussian_filter(rng.normal(size=(size, size)), rng.uniform(8, 25))
    level = (noise - noise.min()) / np.ptp(noise)
    steps = np.linspace(0, 1, 24)[:, None]
    return np.rint(level * 23).astype(int), xyz_to_lab(ends[0] ** (1 - steps) * ends[1] ** steps)


def dark(rng: np.random.Generator, size: int) -> Drawn:
    def draw(rng: np.random.Generator) -> Floats:
        return in_gamut(rng.uniform([10, -22, -28], [36, 30, 20]))

    count = int(rng.integers(2, 5))
    return blotches(rng, size, count), inks(rng, count, 11, draw)


def pale(rng: np.random.Generator, size: int) -> Drawn:
    def draw(rng: np.random.Generator) -> Floats:
        return in_gamut(rng.uniform([78, -9, -8], [96, 11, 18]))

    count = int(rng.integers(2, 4))
    return blotches(rng, size, count), inks(rng, count, 8, draw)


def accents(rng: np.random.Generator, size: int) -> Drawn:
    """Four to six inks, the smallest at 3 to 5 %, in mid-sized figures."""
    count = int(rng.integers(4, 7))
    out = np.zeros((size, size), int)
    for ink in range(1, count):
        share = rng.uniform(0.03, 0.05) if ink > 2 else rng.uniform(0.1, 0.25)
        scattered(rng, out, ink, rng.uniform(3, 9), share)
    return out, inks(rng, count, 13)


MAKERS = (usual, plain, florals, thin, plaids, dots, accents, tonal, batik, dark, pale)


# ── the picture of it ─────────────────────────────────────────────────────────────────────


def case(maker: Callable[[np.random.Generator, int], Drawn], seed: int) -> Case:
    """One print as a phone would have seen it in true light, 60 to 500 pixels wide."""
    rng = np.random.default_rng([seed, 41])
    size = int(np.exp(rng.uniform(np.log(60), np.log(500))))
    labels, colours = maker(rng, size)
    shade = 1 + rng.uniform(0.01, 0.08) * simulator._weave(rng, labels.shape)
    light = np.clip(xyz_to_linear(lab_to_xyz(colours)), 0, 1)[labels] * shade[..., None]
    light = gaussian_filter(light, (*[rng.uniform(0.5, 1.2)] * 2, 0))
    noise = rng.uniform(0.002, 0.008) * np.sqrt(np.maximum(light, 0) + 0.01)
    light = np.maximum(light + noise * rng.normal(size=light.shape), 0)
    pixels = np.rint(255 * linear_to_srgb(light)).astype(np.uint8)
    stream = io.BytesIO()
    quality, chroma = int(rng.integers(80, 96)), int(rng.choice([0, 2]))
    Image.fromarray(pixels).save(stream, "JPEG", quality=quality, subsampling=chroma)
    seen = srgb8_to_lab(np.asarray(Image.open(stream).convert("RGB"))).astype(np.float32)
    shares = np.bincount(labels.ravel(), minlength=len(colours)) / labels.size
    there = shares > 0
    renumbered = np.cumsum(there) - 1
    return Case(maker.__name__, seen, colours[there], shares[there], renumbered[labels])


# ── how well it was named ─────────────────────────────────────────────────────────────────


def distance(ours: Floats, share: Floats, inks: Floats, shares: Floats) -> float:
    """Earth mover's distance (Rubner, Tomasi, Guibas 2000) by linear programming."""
    cost = ciede2000(ours[:, None], inks[None])
    rows = np.kron(np.eye(len(ours)), np.ones(len(inks)))
    columns = np.kron(np.ones(len(ours)), np.eye(len(inks)))
    amounts = np.concatenate([share / share.sum(), shares / shares.sum()])
    return float(linprog(cost.ravel(), A_eq=np.vstack([rows, columns]), b_eq=amounts).fun)


def judged(one: Case) -> dict[str, float]:
    start = time.process_time()
    palette = measure_print(one.lab, np.ones(one.lab.shape[:2], bool)).palette
    spent = time.process_time() - start
    ours = np.array([colour.lab for colour in palette])
    share = np.array([colour.share for colour in palette])
    cost = ciede2000(ours[:, None], one.inks[None])
    between = ciede2000(one.inks[:, None], one.inks[None]) + 1e3 * np.eye(len(one.inks))
    accents = (one.shares >= 0.03) & (between.min(axis=1) > 10)
    near, twice = cost.argmin(axis=1), False
    for i in range(len(ours)):
        for j in range(i):
            twice |= bool(near[i] == near[j] and ciede2000(ours[i], ours[j]) < 10)
    return {
        "emd": distance(ours, share, one.inks, one.shares),
        "count": float(len(ours) - len(one.inks)),
        "accents": float(accents.sum()),
        "lost": float((accents & (cost.min(axis=0) > 6)).sum()),
        "split": float(twice),
        "bogus": float((cost.min(axis=1) > 8).sum()),
        "ms": spent * 1000,
    }


def main() -> None:
    options = _options()
    print(f"{'maker':10}{'prints':>7}{'emd':>7}{'p95':>7}{'count':>8}{'right':>7}"
          f"{'lost':>7}{'split':>7}{'bogus':>7}{'ms':>7}")
    every = []
    for maker in MAKERS:
        if maker.__name__ in options.makers:
            seeds = range(options.seed, options.seed + options.prints)
            rows = [judged(case(maker, seed)) for seed in seeds]
            every += rows
            _print_line(maker.__name__, rows)
    _print_line("all", every)
    print(NOTES)


def _options() -> argparse.Namespace:
    names = [maker.__name__ for maker in MAKERS]
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--prints", type=int, default=40, help="prints of each maker")
    parser.add_argument("--seed", type=int, default=3000, help="first seed")
    parser.add_argument("--makers", nargs="+", choices=names, default=names)
    return parser.parse_args()


def _print_line(name: str, rows: list[dict[str, float]]) -> None:
    column = {key: np.array([row[key] for row in rows]) for key in rows[0]}
    print(
        f"{name:10}{len(rows):7}{np.median(column['emd']):7.2f}"
        f"{np.percentile(column['emd'], 95):7.2f}{column['count'].mean():+8.2f}"
        f"{100 * (column['count'] == 0).mean():6.0f}%"
        f"{100 * column['lost'].sum() / max(1, column['accents'].sum()):6.1f}%"
        f"{100 * column['split'].mean():6.1f}%{column['bogus'].mean():7.2f}"
        f"{column['ms'].mean():7.1f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
