"""How fast pieces are planned, and what the exact fit gains over two simpler ways.

Run: ``python benchmarks/plan/planning.py``. Plans are told as ratios to the plan of the same
columns without sizes and without proofs in the same run (goal: at most 30), in processor time;
the other times are the best of five on this machine. The fit is compared with columns of equal
width (one for each row that the curve passes) and with columns cut wherever the curve crosses the
middle between two rows, both rounded to the ruler.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from PIL import Image

from sequencer.models import Plan, Print
from sequencer.plan import best_piece, largest_piece, plan_columns, replan, ways_out
from sequencer.plan.cloth.laying.cutting import cut_quickly, cut_thoroughly
from sequencer.plan.cloth.laying.lanes import ways_to_cut
from sequencer.plan.columns.fitting import fit_columns
from sequencer.plan.curve.curves import NAMES, heights, read_curve
from sequencer.rendering import render


def best_of(work: Callable[[], object], times: int = 5) -> float:
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds) * 1000


def box(n: int) -> tuple[list[Print], list[str]]:
    prints = [
        Print(f"p{i}", f"Print {i}", "", (), (15 + 3.0 * i, 0, 0), (), size_in=(40, 20))
        for i in range(n)
    ]
    return prints, [item.id for item in prints]


def speed() -> None:
    prints, ids = box(20)
    print("\nPlanning 60 x 80 in, 20 prints, rows of 1 in (ms; limits 200, and 30 for a re-plan)")
    print(f"{'method':8}{'press':8}{'columns':>8}{'steps':>7}{'plan':>8}{'re-plan':>9}{'JSON':>7}")
    for method in ("loop", "flat"):
        for press in ("open", "nested"):

            def make(method: str = method, press: str = press) -> Plan:
                return plan_columns(
                    prints, ids, size="60x80", strip="1", curve_count=2, curve_height=20,
                    method=method, press=press,
                )  # fmt: skip

            plan = make()
            again = best_of(lambda plan=plan: replan(plan, prints, curve_height=19))
            print(f"{method:8}{press:8}{len(plan.columns):8}{len(plan.steps):7}"
                  f"{best_of(make):8.1f}{again:9.1f}{best_of(plan.to_json):7.1f}")  # fmt: skip


def box_of(count: int, *sizes: tuple[int, int]) -> list[Print]:
    scraps = tuple((Fraction(long), Fraction(short)) for long, short in sizes)
    return [Print(f"p{i}", f"P{i}", "", (), (15 + 3.0 * i, 0, 0), (), scraps=scraps)
            for i in range(count)]  # fmt: skip


def cold(work: Callable[[], object]) -> float:
    """Least seconds of processor time of three, nothing remembered between them."""
    seconds = []
    for _ in range(3):
        for cached in (cut_quickly, cut_thoroughly, ways_to_cut):
            cached.cache_clear()
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


MANY = box_of(5, (18, 22)) + [
    replace(one, id="q") for one in box_of(1, *((9 + i % 5, 3 + i % 3) for i in range(26)))
]
CASES = {
    "20 prints x 3 scraps, 60 x 80": (box_of(20, (30, 20), (26, 18), (20, 12)), "60x80", "1"),
    "the same, scraps of 20 x 12": (box_of(20, (20, 12), (21, 12), (22, 12)), "60x80", "1"),
    "26 scraps of one print, 24 x 24": (MANY, "24x24", "1/2"),
    "13 prints x 2 scraps, too small": (box_of(13, (9, 6), (10, 6)), "24x36", None),
}
GOAL_RATIO, GOAL_SECONDS = 30, 0.3


def plans() -> None:
    """Plans with every strip cut from its scrap, beside the plan without sizes or proofs."""
    print("Plans, s of processor time, and how many times the plain one "
          f"(goals {GOAL_SECONDS} s, {GOAL_RATIO} times)")  # fmt: skip
    print(f"{'case':34}{'plain':>8}{'plan':>8}{'ratio':>7}{'ways out':>10}  missed")
    for name, (prints, size, strip) in CASES.items():
        ids = [one.id for one in prints]
        bare = [replace(one, scraps=()) for one in prints]
        plain = cold(lambda b=bare, i=ids, z=size, s=strip: plan_columns(b, i, z, s))
        slow = cold(lambda b=prints, i=ids, z=size, s=strip: plan_columns(b, i, z, s, prove=True))
        plan = plan_columns(prints, ids, size, strip, prove=True)
        out = cold(lambda p=plan, b=prints: ways_out(p, b))
        missed = ["ratio"] * (slow > GOAL_RATIO * plain) + ["time"] * (slow > GOAL_SECONDS)
        print(f"{name:34}{plain:8.3f}{slow:8.3f}{slow / plain:7.1f}{out:10.2f}  "
              f"{', '.join(missed)}")  # fmt: skip
    for name, find, prints in (
        ("best of 12 prints x 1 scrap", best_piece, box_of(12, (14, 9))),
        ("largest of 20 prints x 3 scraps", largest_piece,
         box_of(20, (30, 20), (26, 18), (20, 12))),
    ):  # fmt: skip
        ids = [one.id for one in prints]
        seconds = cold(lambda f=find, b=prints, i=ids: f(b, i))
        found = find(prints, ids)
        wide, high = map(float, found.centre)
        print(f"{name}: {seconds:.2f} s, {wide} x {high}, {found.search['status']}, "
              f"gap {found.search['gap']}")  # fmt: skip


def rms(rows: np.ndarray, shown: np.ndarray) -> float:
    return float(np.sqrt(np.mean((rows - shown) ** 2)))


def equal_widths(rows: np.ndarray, count: int) -> float:
    marks = np.rint(np.linspace(0, len(rows), count + 1)).astype(int)
    levels = [round(float(rows[a:b].mean())) for a, b in pairwise(marks)]
    return rms(rows, np.repeat(levels, np.diff(marks)))


def crossings(rows: np.ndarray, smallest: int) -> tuple[float, int]:
    shown = np.rint(rows)
    edges = np.flatnonzero(np.diff(shown)) + 1
    widths = np.diff(np.concatenate([[0], edges, [len(rows)]]))
    return rms(rows, shown), int((widths < smallest).sum())


def fit() -> None:
    print("\nFit to the curve, in rows (rms); 60 in on a 1/8 in ruler, columns >= 1/2 in")
    print(f"{'curve':8}{'exact':>8}{'columns':>9}{'equal widths':>14}{'at crossings':>14}  slivers")
    for name in NAMES:
        rows, _ = heights(read_curve(name, count=2), 480, 4, 1, 60)
        found = fit_columns(rows, 4, 60, (1,), 0.4)
        crossed, slivers = crossings(rows, 4)
        even = equal_widths(rows, len(found.widths))
        print(f"{name:8}{found.rms_rows:8.3f}{len(found.widths):9}"
              f"{even:14.3f}{crossed:14.3f}  {slivers}")  # fmt: skip


def processor(work: Callable[[], object]) -> float:
    """Least seconds of processor time of three."""
    seconds = []
    for _ in range(3):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def preview() -> None:
    """The preview beside one flat fill of the same patches by Pillow."""
    prints, ids = box(20)
    plan = plan_columns(prints, ids, size="60x80", strip="1", curve_count=2, curve_height=20)
    image = render(plan, prints, ppi=20)

    def flat() -> None:
        canvas = Image.new("RGB", image.size)
        left = 0.0
        for column in plan.columns:
            right = left + float(column.finished_width) * 20
            for row in range(plan.rows):
                canvas.paste((row % 256, 0, 0),
                             (round(left), row * 20, round(right), row * 20 + 20))  # fmt: skip
            left = right

    drawn, filled = processor(lambda: render(plan, prints, ppi=20)), processor(flat)
    print(f"\nPreview at 20 ppi {drawn:.3f} s, flat paste of its patches {filled:.3f} s: "
          f"{drawn / filled:.1f} times (processor time)")  # fmt: skip


if __name__ == "__main__":
    plans()
    speed()
    preview()
    fit()
