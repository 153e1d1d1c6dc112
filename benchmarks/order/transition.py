"""What makes two prints hand over colour: the evidence for the transition cost.

    python benchmarks/order/transition.py            about ten minutes on one core
    python benchmarks/order/transition.py --quick    about a minute

Prints of known sequence (``known_sequences.py``) are shuffled and ordered exactly, by Held and
Karp's dynamic programme (1962), under the cost the project uses and under what one might use
instead. A set counts when the true sequence comes back whole. Then: how uniform the colour
difference is against Munsell renotation, and how long the graph takes. Needs colour-science.
"""

from __future__ import annotations

import argparse
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))

from known_sequences import Maker, make_set

from sequencer.colour import D65_WHITE, adaptation_matrix, ciede2000, hyab, strip_units, xyz_to_lab
from sequencer.colour.meeting import WEIGHTS, meet, palettes_of
from sequencer.colour.transport import partial_transport
from sequencer.models import Print
from sequencer.order.graph.transition import transition_graph
from sequencer.prints.palette import palette_of

Floats = NDArray[np.floating]
Cost = Callable[[list[Print], NDArray[np.intp], NDArray[np.intp]], Floats]

MILD, STRONG, LARGEST = (0.12, 0.2), (0.25, 0.35), (0.38, 0.38)
SCHEMES = ("hue", "value", "low chroma", "two turns", "there and back", "walk", "unordered")
CASES = {
    "mild accents": Maker(accent=MILD),
    "strong accents": Maker(accent=STRONG),
    "accent 38 %": Maker(accent=LARGEST),
    "no dominant colour": Maker(dominant=False),
    "no colour leads": Maker(adding="scaled", main=0.2),
    "scaled shares": Maker(adding="scaled"),
    "shared accents": Maker(accents="shared"),
    "family accents": Maker(accents="family"),
    "rough palettes": Maker(noise=3.0, stretch=0.2),
    "pair's own colour": Maker(handed="own"),
}


# ── costs to compare ──────────────────────────────────────────────────────────────────────


def project(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
    return meet(palettes_of(prints), a, b).cost


def without(part: str) -> Cost:
    def cost(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
        found = meet(palettes_of(prints), a, b)
        rest = [weight * getattr(found, name) for name, weight in WEIGHTS.items() if name != part]
        return np.sum(rest, axis=0)

    return cost


def means(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
    labs = palettes_of(prints).means
    return hyab(labs[a], labs[b])


def largest_colour(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
    labs = np.array([one.palette[0].lab for one in prints])
    return hyab(labs[a], labs[b])


def partial(share: float) -> Cost:
    def cost(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
        every = palettes_of(prints)
        gaps = hyab(every.labs[a][:, :, None], every.labs[b][:, None])
        found = partial_transport(gaps, every.masses[a], every.masses[b], (share,))
        return found.curve[:, 0] / share

    return cost


def half_and_half(prints: list[Print], a: NDArray[np.intp], b: NDArray[np.intp]) -> Floats:
    return (partial(0.4)(prints, a, b) + partial(1.0)(prints, a, b)) / 2


COSTS: dict[str, Cost] = {
    "means": means,
    "largest": largest_colour,
    "whole": partial(1.0),
    "half": half_and_half,
    "70 %": partial(0.7),
    "50 %": partial(0.5),
    "40 %": partial(0.4),
    "30 %": partial(0.3),
    "20 %": partial(0.2),
    "ours": project,
}
LEGEND = """means, largest: distance of the mean or the largest colours. whole: transport of whole
palettes (earth mover's distance). half: half whole, half 40 %. 70 to 20 %: transport of the
cheapest part. ours: the project's blend. All with HyAB between colours, aim even."""


# ── exact orders, many at once ────────────────────────────────────────────────────────────


def best_orders(costs: Floats, loop: bool) -> NDArray[np.intp]:
    """(B, n, n) step weights → (B, n) best orders, by Held and Karp (1962)."""
    sets, n, _ = costs.shape
    step = costs.transpose(1, 2, 0).copy()
    reach = np.full((1 << n, n, sets), np.inf)
    came = np.zeros((1 << n, n, sets), dtype=np.int8)
    for i in [0] if loop else range(n):
        reach[1 << i, i] = 0.0
    for subset in range(1, 1 << n):
        inside = [i for i in range(n) if subset >> i & 1]
        if len(inside) < 2 or (loop and not subset & 1):
            continue
        for j in inside:
            if loop and j == 0:
                continue
            others = [i for i in inside if i != j]
            ways = reach[subset & ~(1 << j), others] + step[others, j]
            best = ways.argmin(axis=0)
            reach[subset, j] = np.take_along_axis(ways, best[None], axis=0)[0]
            came[subset, j] = np.array(others)[best]
    last = (reach[-1] + (step[:, 0] if loop else 0.0)).argmin(axis=0)
    return np.array([_backwards(came[:, :, k], int(last[k]), n) for k in range(sets)])


def _backwards(came: NDArray[np.int8], last: int, n: int) -> list[int]:
    subset, order = (1 << n) - 1, [last]
    while len(order) < n:
        here = order[-1]
        order.append(int(came[subset, here]))
        subset &= ~(1 << here)
    return order


def recovered(order: NDArray[np.intp], loop: bool) -> bool:
    """Whether positions come in the true order 0, 1, 2, … (either way round)."""
    steps = np.abs(np.diff(np.append(order, order[0]) if loop else order))
    return bool(np.isin(steps, [1, len(order) - 1] if loop else [1]).all())


def hits(
    maker: Maker, count: int, loop: bool, sets: int, seed: int, costs: dict[str, Cost]
) -> dict[str, float]:
    """Share of ``sets`` sets recovered under each cost; every cost sees the same sets."""
    random = np.random.default_rng([seed, count, loop])
    a, b = np.triu_indices(count, 1)
    matrices = {name: np.zeros((sets, count, count)) for name in costs}
    shuffles = np.zeros((sets, count), dtype=int)
    for k in range(sets):
        prints = make_set(maker, count, loop, random)
        shuffles[k] = random.permutation(count)
        shuffled = [prints[i] for i in shuffles[k]]
        for name, cost in costs.items():
            matrices[name][k, a, b] = matrices[name][k, b, a] = cost(shuffled, a, b) ** 2
    found = {name: best_orders(matrix, loop) for name, matrix in matrices.items()}
    return {
        name: float(np.mean([recovered(shuffles[k][orders[k]], loop) for k in range(sets)]))
        for name, orders in found.items()
    }


# ── tables ────────────────────────────────────────────────────────────────────────────────


def table_of_costs(sets: int, counts: tuple[int, ...]) -> None:
    print(f"Recovered exactly, %, all schemes, {counts} prints, paths and loops")
    print(f"{'':20}" + "".join(f"{name:>9}" for name in COSTS))
    for number, (case, maker) in enumerate(CASES.items()):
        runs = [
            hits(replace(maker, scheme=scheme), n, loop, sets, 100 * number + k, COSTS)
            for k, scheme in enumerate(SCHEMES)
            for n in counts
            for loop in (False, True)
        ]
        row = [100 * float(np.mean([run[name] for run in runs])) for name in COSTS]
        print(f"{case:20}" + "".join(f"{share:9.0f}" for share in row), flush=True)
    print(LEGEND)


def table_of_parts(sets: int, counts: tuple[int, ...]) -> None:
    """What each part of the blend adds: the recovery without it."""
    costs = {"whole blend": project, **{f"no {part}": without(part) for part in WEIGHTS}}
    print(f"\nThe blend and what it loses without each part, %, all schemes and cases, {counts}")
    for noise in (1.5, 2.2):
        runs = [
            hits(replace(maker, scheme=scheme, noise=noise), n, loop, sets, 50 + k, costs)
            for scheme in SCHEMES
            for k, maker in enumerate(CASES.values())
            for n in counts
            for loop in (False, True)
        ]
        row = [f"{name} {100 * np.mean([run[name] for run in runs]):.1f}" for name in costs]
        print(f"noise {noise}   " + "   ".join(row), flush=True)


def table_of_schemes(sets: int, counts: tuple[int, ...]) -> None:
    print(f"\nThe project's cost, %, all cases but the last, {counts} prints")
    makers = list(CASES.values())[:-1]
    for scheme in SCHEMES:
        shown = []
        for loop in (False, True):
            runs = [
                hits(replace(maker, scheme=scheme), n, loop, sets, 900 + k, {"it": project})["it"]
                for k, maker in enumerate(makers)
                for n in counts
            ]
            shown.append(f"{'loop' if loop else 'path'} {100 * np.mean(runs):4.0f}")
        print(f"{scheme:24}" + "   ".join(shown), flush=True)


def table_through_pixels(sets: int, counts: tuple[int, ...]) -> None:
    """Known prints drawn as cloth pixels and read back by the project's own palette finder."""
    print(f"\nThe project's cost on palettes read from pixels, %, all schemes, {counts} prints")
    exact = {case: replace(maker, clusters=False) for case, maker in CASES.items()}
    for case in ("strong accents", "accent 38 %", "no dominant colour", "scaled shares"):
        found = []
        for k, scheme in enumerate(SCHEMES):
            for n in counts:
                for loop in (False, True):
                    random = np.random.default_rng([k, n, loop])
                    for _ in range(sets):
                        made = make_set(replace(exact[case], scheme=scheme), n, loop, random)
                        shuffle = random.permutation(n)
                        prints = [from_pixels(made[i], random) for i in shuffle]
                        costs = np.zeros((1, n, n))
                        a, b = np.triu_indices(n, 1)
                        costs[0, a, b] = costs[0, b, a] = project(prints, a, b) ** 2
                        found.append(recovered(shuffle[best_orders(costs, loop)[0]], loop))
        print(f"{case:20}{100 * np.mean(found):6.0f}", flush=True)


def from_pixels(one: Print, random: np.random.Generator, count: int = 12_000) -> Print:
    """Weave (L* 3), sensor noise (1), one pixel in eight on a border between two colours."""
    labs = np.array([colour.lab for colour in one.palette])
    shares = np.array([colour.share for colour in one.palette])
    pixels, other = (labs[random.choice(len(labs), count, p=shares)] for _ in range(2))
    border = random.random((count, 1)) < 1 / 8
    pixels = np.where(border, pixels + random.random((count, 1)) * (other - pixels), pixels)
    pixels = pixels + random.normal(size=(count, 1)) * np.array([3.0, 0.0, 0.0])
    pixels = pixels + random.normal(size=(count, 3))
    mean = tuple(float(x) for x in pixels.mean(axis=0))
    return replace(one, mean_lab=mean, palette=palette_of(pixels))


def table_of_sizes(sets: int, largest: int) -> None:
    print("\nThe project's cost, %, strong accents and no dominant colour, all schemes")
    for loop in (False, True):
        row = []
        for n in range(5, largest + 1):
            runs = [
                hits(replace(CASES[case], scheme=scheme), n, loop, sets, 7, {"it": project})["it"]
                for scheme in SCHEMES
                for case in ("strong accents", "accent 38 %", "no dominant colour")
            ]
            row.append(f"n={n} {100 * np.mean(runs):4.0f}")
        print(f"{'loop' if loop else 'path'}   " + "   ".join(row), flush=True)


def stress(computed: Floats, seen: Floats) -> float:
    """STRESS, 0 (perfect) to 100 (García, Huertas, Melgosa, Cui, JOSA A 24, 2007)."""
    scale = (computed**2).sum() / (computed * seen).sum()
    off = ((computed - scale * seen) ** 2).sum() / ((scale * seen) ** 2).sum()
    return float(100 * np.sqrt(off))


def munsell() -> tuple[Floats, Floats]:
    """Renotation colours, values 1 to 9: (hue 0-100, value, chroma) and Lab under D65."""
    import colour

    families = ["R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP"]
    notations, xyz = [], []
    for (hue, value, chroma), (x, y, luminance) in colour.MUNSELL_COLOURS["real"]:
        if 1 <= value <= 9:
            letters = hue.lstrip("0123456789.")
            step = families.index(letters) * 10 + float(hue[: -len(letters)])
            notations.append([step, value, chroma])
            xyz.append(np.array([x / y, 1.0, (1 - x - y) / y]) * luminance / 100)
    x, y = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    to_d65 = adaptation_matrix([x / y, 1, (1 - x - y) / y], D65_WHITE)
    return np.array(notations), xyz_to_lab(np.array(xyz) @ to_d65.T)


def godlove(a: Floats, b: Floats) -> Floats:
    """Difference in the Munsell solid, chroma units (Godlove, JOSA 41, 1951)."""
    turn = np.radians(3.6 * np.abs(a[..., 0] - b[..., 0]))
    across = 2 * a[..., 2] * b[..., 2] * (1 - np.cos(turn))
    steps = (a[..., 2] - b[..., 2]) ** 2 + (4 * (a[..., 1] - b[..., 1])) ** 2
    return np.sqrt(across + steps)


def uniformity() -> dict[str, float]:
    """STRESS of colour differences over Munsell pairs 10 to 60 HyAB apart."""
    notation, lab = munsell()
    random = np.random.default_rng(0)
    i, j = random.integers(len(lab), size=(2, 60_000))
    near = hyab(lab[i], lab[j])
    i, j = i[(near > 10) & (near < 60)], j[(near > 10) & (near < 60)]
    seen, a, b = godlove(notation[i], notation[j]), lab[i], lab[j]
    return {
        "CIEDE2000": stress(ciede2000(a, b), seen),
        "CIE 1976": stress(np.linalg.norm(a - b, axis=1), seen),
        "HyAB": stress(hyab(a, b), seen),
        "strip units": stress(strip_units(a, b), seen),
    }


def speed(counts: tuple[int, ...]) -> None:
    print("\nTransition graph, five or six colours a print")
    for count in counts:
        random = np.random.default_rng(count)
        maker = Maker(scheme="unordered", clusters=False)
        prints = make_set(maker, count, True, random)
        started = time.perf_counter()
        transition_graph(prints)
        seconds = time.perf_counter() - started
        tracemalloc.start()
        transition_graph(prints)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(f"{count:5} prints   {seconds:6.2f} s   peak {peak:5.0f} MB", flush=True)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    asked.add_argument("--quick", action="store_true", help="fewer and smaller sets")
    quick = asked.parse_args().quick
    table_of_costs(*((2, (5, 7)) if quick else (6, (5, 7, 9))))
    table_of_parts(*((1, (6,)) if quick else (4, (6, 9))))
    table_of_schemes(*((2, (6,)) if quick else (6, (6, 9))))
    table_through_pixels(1, (6,) if quick else (6, 9, 12))
    table_of_sizes(*((2, 8) if quick else (6, 12)))
    print("\nSTRESS against Munsell renotation, pairs 10 to 60 HyAB apart (0 is perfect)")
    for name, figure in uniformity().items():
        print(f"{name:24}{figure:5.1f}")
    speed((200,) if quick else (200, 1000))


if __name__ == "__main__":
    main()
