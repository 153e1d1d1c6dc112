"""Scraps: how often a cutting is proved and how long it takes; largest and best piece; scale.

Run: python benchmarks/scraps.py [seed]. Boxes are invented: scraps of 8 to 22 by 5 to 18 in.
Seconds are processor seconds of this machine; shares hold better than seconds.
"""

from __future__ import annotations

import math
import random
import statistics
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from sequencer.plan.cloth.pieces import Order
from sequencer.plan.cloth.proof import cut_pieces
from sequencer.plan.cloth.stock import ways_to_cut

from sequencer.errors import PassalongError
from sequencer.models import Print
from sequencer.plan import best_at, largest_piece, plan_columns, scale, ways_out

F = Fraction


def box(n: int, rnd: random.Random) -> list[Print]:
    turn = [2 * math.pi * i / n for i in range(n)]
    return [
        Print(f"p{i}", f"Print {i}", "", (),
              (55 - 30 * math.cos(t), 30 * math.sin(t), 25 * math.cos(t)), (),
              size_in=(rnd.randint(64, 176) / 8, rnd.randint(40, 144) / 8))
        for i, t in enumerate(turn)
    ]  # fmt: skip


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def cuttings(rnd: random.Random, count: int = 200) -> None:
    """One print's strips: 30 to 110 % of what its scraps hold, one to three lengths."""
    seconds, proved, improved, joined, short = [], 0, 0, 0, 0
    for _ in range(count):
        scraps = tuple(
            ways_to_cut((F(rnd.randint(64, 176), 8), F(rnd.randint(40, 144), 8)), F(3, 4))
            for _ in range(rnd.choice([1, 1, 1, 2, 3]))
        )
        held = sum(max(way.total for way in ways) for ways in scraps)
        lengths = [F(rnd.choice([80, 120, 160, 200, 280]), 8) for _ in range(rnd.choice([1, 1, 2]))]
        wanted: list[Fraction] = []
        while sum(wanted) < held * F(rnd.randint(30, 110), 100) and len(wanted) < 40:
            wanted.append(rnd.choice(lengths))
        order = Order(scraps, tuple(wanted or lengths), F(3, 4), F(9, 8))
        quick = cut_pieces(order, False)
        used, found = timed(lambda order=order: cut_pieces(order))
        seconds.append(used)
        proved += found.status == "optimal"
        improved += (found.short_by, found.joins) < (quick.short_by, quick.joins)
        joined += bool(found.joins)
        short += bool(found.short_by)
    print(f"cuttings  {count}: proved {proved / count:.1%}, better than the quick one "
          f"{improved / count:.1%}, joined {joined / count:.0%}, short {short / count:.0%}")
    print(f"  seconds each      median {statistics.median(seconds):.4f}, most {max(seconds):.2f}")


def searches(rnd: random.Random) -> None:
    for n, options in ((12, {}), (12, {"method": "flat", "press": "nested"}), (20, {}),
                       (20, {"strip": "1/2"}), (40, {}), (40, {"strip": "any"})):  # fmt: skip
        prints = box(n, rnd)
        used, plan = timed(lambda p=prints, o=options: largest_piece(p, [x.id for x in p], **o))
        found = plan.options["search"]
        print(f"largest  {n} prints  {options!s:42} {used:5.2f} s  {found['status']:8} gap "
              f"{found['gap']:.1%}  {float(plan.centre[0])} x {float(plan.centre[1])} in, "
              f"{plan.repeats} repeats, {len(plan.columns)} columns")  # fmt: skip
    for n, size in ((12, "8x10"), (20, "12x16"), (40, "10x20")):
        prints = box(n, rnd)
        try:
            used, plan = timed(lambda p=prints, s=size: best_at(p, [x.id for x in p], s))
        except PassalongError as why:
            print(f"best     {n} prints  {size}: {why}")
            continue
        found = plan.options["search"]
        print(f"best     {n} prints  {size:8} {used:5.2f} s  {found['status']}, miss "
              f"{found['miss']:.1%} of the curve's height")  # fmt: skip


def scales(rnd: random.Random) -> None:
    prints = box(20, rnd)
    bed = plan_columns(prints, [x.id for x in prints], "60x80", strip="1", repeats=4)
    for size in ("8x10", "12x16", "30x40", "90x120"):
        used, scaled = timed(lambda s=size: scale(bed, prints, s))
        answers = ", ".join(answer.verdict for answer in scaled.answers)
        print(f"scale    60x80 → {size:8} {used:5.2f} s  look, sewn, worth: {answers}")
    prints = box(13, rnd)
    ids = [x.id for x in prints[:10]]
    plan = plan_columns(prints, ids, "16x15", strip="1/2", repeats=3)
    used, ways = timed(lambda: ways_out(plan, prints))
    print(f"ways out of a shortage: {len(ways)} in {used:.2f} s: {[way.kind for way in ways]}")


def main() -> None:
    rnd = random.Random(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
    cuttings(rnd)
    searches(rnd)
    scales(rnd)


if __name__ == "__main__":
    main()
