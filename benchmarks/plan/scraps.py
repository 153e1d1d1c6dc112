"""How near the cutting engine comes to the least shortage that its bound allows.

Run: ``python benchmarks/plan/scraps.py``. What plans take is in ``planning.py``.
"""

from __future__ import annotations

import random
from fractions import Fraction

from sequencer.plan.cloth.laying.bound import Order
from sequencer.plan.cloth.laying.cutting import cut_thoroughly
from sequencer.plan.cloth.laying.lanes import ways_to_cut

F = Fraction


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
    bound()
