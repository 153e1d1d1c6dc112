"""How long plans take when every strip is cut from its scrap, as ratios to the plain plan.

Run: ``python benchmarks/scraps.py``. Processor time, the best of three in one run; the plain plan
is the same panel without sizes, so without any cutting. Then how near the engine comes to the
least shortage that its bound allows.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from fractions import Fraction

from sequencer.models import Plan, Print
from sequencer.plan import best_piece, plan_columns
from sequencer.plan.cloth.bound import Order
from sequencer.plan.cloth.cutting import cut_quickly, cut_thoroughly
from sequencer.plan.cloth.lanes import ways_to_cut

F = Fraction


def box(count: int, *sizes: tuple[int, int]) -> list[Print]:
    scraps = tuple((F(long), F(short)) for long, short in sizes)
    return [Print(f"p{i}", f"P{i}", "", (), (15 + 3.0 * i, 0, 0), (), scraps=scraps)
            for i in range(count)]  # fmt: skip


def cold(work: Callable[[], Plan]) -> tuple[float, Plan]:
    """Seconds of processor time with nothing remembered, and the plan."""
    seconds = []
    for _ in range(3):
        for cached in (cut_quickly, cut_thoroughly, ways_to_cut):
            cached.cache_clear()
        start = time.process_time()
        plan = work()
        seconds.append(time.process_time() - start)
    return min(seconds), plan


def speed() -> None:
    many = tuple((9 + i % 5, 3 + i % 3) for i in range(26))
    cases = {
        "20 prints x 3 scraps, 60 x 80": (box(20, (30, 20), (26, 18), (20, 12)), "60x80", "1"),
        "the same, scraps of 20 x 12": (box(20, (20, 12), (21, 12), (22, 12)), "60x80", "1"),
        "26 scraps of one print": ([*box(5, (18, 22)), Print(
            "q", "Q", "", (), (70.0, 0, 0), (), scraps=tuple((F(a), F(b)) for a, b in many))],
            "24x24", "1/2"),
        "13 prints x 2 scraps, too small": (box(13, (9, 6), (10, 6)), "24x36", None),
    }  # fmt: skip
    print(f"{'case':34}{'plain':>8}{'quick':>8}{'thorough':>9}  ratio  short  joins")
    for name, (prints, size, strip) in cases.items():
        ids = [one.id for one in prints]
        bare = [Print(p.id, p.name, "", (), p.mean_lab, ()) for p in prints]
        plain, _ = cold(lambda b=bare, i=ids, z=size, s=strip: plan_columns(b, i, z, s))
        quick, _ = cold(lambda b=prints, i=ids, z=size, s=strip: plan_columns(b, i, z, s))
        slow, plan = cold(
            lambda b=prints, i=ids, z=size, s=strip: plan_columns(b, i, z, s, prove=True)
        )
        short = float(sum(need.short_by for need in plan.fabric))
        joins = sum(need.joins for need in plan.fabric)
        print(f"{name:34}{plain:8.3f}{quick:8.3f}{slow:9.3f}{slow / plain:7.1f}{short:7.1f}"
              f"{joins:7}")  # fmt: skip
    seconds, plan = cold(lambda: best_piece(box(12, (14, 9)), [f"p{i}" for i in range(12)]))
    wide, high = (float(side) for side in plan.centre)
    print(f"best piece of 12 scraps: {seconds:.2f} s, {wide} x {high}, {plan.search['status']}")


def bound() -> None:
    rnd = random.Random(7)
    proved = 0
    for _ in range(300):
        scraps = tuple(
            ways_to_cut((rnd.randint(40, 160), rnd.randint(20, 90)), rnd.choice([6, 8]), 15)
            for _ in range(rnd.randint(1, 4))
        )
        lengths = (rnd.randint(40, 150),) * rnd.randint(2, 20)
        proved += cut_thoroughly(Order(scraps, lengths, 6, 9)).proved
    print(f"least shortage and fewest joins proved: {proved} of 300 random orders")


if __name__ == "__main__":
    speed()
    bound()
