"""The largest piece of a box and the best of a size: within the scraps, and none larger."""

from __future__ import annotations

import json
import random
from fractions import Fraction

import pytest
from sewing import sew

from sequencer.models import Print
from sequencer.plan import largest_piece

F = Fraction


def box(n: int, seed: int = 1) -> tuple[list[Print], list[str]]:
    """Scraps from 8 x 5 to 22 x 18 in, as fat as a quarter at most."""
    rnd = random.Random(seed)
    prints = [
        Print(
            f"p{i}", f"Print {i}", "", (), (15 + 70 * i / n, 20.0, 10.0 - i), (),
            size_in=(rnd.randint(64, 176) / 8, rnd.randint(40, 144) / 8),
        )
        for i in range(n)
    ]  # fmt: skip
    return prints, [p.id for p in prints]


@pytest.mark.parametrize("seed", [1, 2])
def test_the_largest_piece_is_cut_from_the_scraps(seed: int) -> None:
    prints, ids = box(12, seed)
    plan = largest_piece(prints, ids)
    assert plan.options["search"]["status"] == "optimal"
    assert all(need.short_by == 0 for need in plan.fabric)
    sewn = sew(json.loads(json.dumps(plan.to_json())))
    assert (*sewn.centre,) == plan.centre
