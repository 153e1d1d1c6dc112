"""What must lack: never more than really lacks, and just that where scraps are made to measure.

No published source: scraps are cut to the panel, so that what lacks is known beforehand.
"""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product
from typing import Any

import pytest

from sequencer.errors import PassalongError
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from sequencer.plan.cloth.laying.lanes import most_length, ways_to_cut

F = Fraction
COLUMNS = ("1", "3/4", "1/2", "1", "5/4")
WISHES: dict[str, Any] = {"columns": list(COLUMNS), "offsets": [0, 1, 2, 1, 0], "strip": "1/2",
                          "straighten": 0}  # fmt: skip
CUT = sum(map(F, COLUMNS)) + F(5, 2)
"""Length of strip that ends in columns, once."""


def box(*scraps: tuple[Any, Any]) -> list[Print]:
    sizes = tuple((F(long), F(short)) for long, short in scraps)
    return [Print(key, key, "", (), (50.0, 0.0, 0.0), (), scraps=sizes) for key in "abc"]


def plan(prints: list[Print], **wishes: Any) -> Plan:
    return plan_columns(prints, ["a", "b", "c"], **{**WISHES, **wishes}, prove=True)


def lacking(one: Plan) -> tuple[Fraction, float]:
    """What lacks, and what is said to lack at least."""
    told = one.search["best_possible"] or 0.0
    return sum((need.short_by for need in one.fabric), F(0)), told


@pytest.mark.parametrize(
    ("method", "sets", "repeats", "squaring", "spare"),
    [(m, s, r, q, p) for (m, s), r, q, p in product(
        (("loop", "tall"), ("flat", "repeat")), (1, 2, 3), ("1/2", 2), (0, "1/4"))],
)  # fmt: skip
def test_a_box_made_to_measure_lacks_nothing(
    method: str, sets: str, repeats: int, squaring: Any, spare: Any
) -> None:
    """Every strip of one set lies in a scrap that is just as long; a lane less, and just one
    strip lacks of each print. Any margin counted twice, or not at all, shows here.
    """
    wishes = {"method": method, "sets": sets, "repeats": repeats, "squaring": squaring,
              "spare": spare, "joins": "none", "usable": 80}  # fmt: skip
    strips = repeats if sets == "tall" else 1
    margin = F(squaring) + F(spare)
    long = CUT * repeats / strips + margin
    wide = F(1)
    # a scrap narrower than two strips and a hair shorter than two, so that lanes run one way only
    exact = plan(box(*[(long, wide)] * strips), **wishes)
    assert lacking(exact) == (0, 0.0)
    one_less = plan(box(*[(long, wide)] * (strips - 1), (F(1), F(1))), **wishes)  # too short
    assert lacking(one_less) == (3 * long, float(3 * long))
    shorter = plan(box(*[(long - F(1, 8), wide)] * strips), **wishes)
    short, told = lacking(shorter)
    assert 0 < told <= short


def test_one_long_lane_pays_a_margin_for_every_strip() -> None:
    """Four strips of a tall set from one lane that is an eighth too short for them."""
    long = 4 * (CUT + F(3, 4)) - F(1, 8)
    one = plan(box((long, 1)), repeats=4, joins="none", usable=80)
    short, told = lacking(one)
    assert (told, told < short) == (3 / 8, True)


def test_lanes_pay_a_margin_or_a_join_each() -> None:
    """Lanes of 3 in: of each at most 2 1/4 ends in columns, so 8 1/4 in of lanes do not make
    6 1/4 in of columns, though the lengths alone would do.
    """
    wishes = {"columns": ["1", "1", "1", "1"], "offsets": [0, 1, 2, 1], "repeats": 1,
              "strip": "1/4"}  # fmt: skip
    short, told = lacking(plan(box(("3", "3/4"), ("3", "3/4"), ("9/4", "3/4")), **wishes))
    assert told == 3 * (6 - (F(9, 4) * 2 + F(3, 2)) + F(3, 4)) or short == 0
    assert told <= short


def test_two_sets_that_nest_need_two_margins() -> None:
    """Pressed opposite ways there are two sets, each squared and with its spare."""
    odd, even = 1 + F(1, 2) + F(5, 4) + F(3, 2), F(3, 4) + 1 + 1
    wishes = {"press": "nested", "repeats": 1, "joins": "none"}
    scraps = [(odd + F(3, 4), 1), (even + F(3, 4), 1)]
    assert lacking(plan(box(*scraps), **wishes)) == (0, 0.0)
    short, told = lacking(plan(box(scraps[0]), **wishes))
    assert (short, told) == (3 * (even + F(3, 4)), float(3 * (even + F(3, 4))))


@pytest.mark.parametrize("seed", range(10))
def test_no_plan_of_the_columns_lacks_less(seed: int) -> None:
    """Random scraps against every length of set on the ruler, each cut with proofs."""
    rnd = random.Random(1000 + seed)
    prints = box(*[(F(rnd.randint(16, 60), 8), F(rnd.randint(6, 17), 8))
                   for _ in range(rnd.randint(1, 3))])  # fmt: skip
    wishes = {"repeats": rnd.randint(1, 2), "joins": rnd.choice(["any", "few", "none"]),
              "method": rnd.choice(["loop", "flat"])}  # fmt: skip
    short, told = lacking(plan(prints, **wishes))
    others = [short]
    for eighths in range(16, 120, 3):
        try:
            others.append(lacking(plan(prints, **wishes, set_length=F(eighths, 8)))[0])
        except PassalongError:
            continue
    assert told <= min(others)


def test_most_length_is_the_most_of_every_way() -> None:
    rnd = random.Random(5)
    for _ in range(200):
        long = rnd.randint(3, 40)
        sides, width = (long, rnd.randint(2, long)), rnd.randint(1, 6)
        toll, least = rnd.randint(0, 4), width + rnd.randint(0, 4)
        upright = rnd.choice([None, None, "long", "short"])
        every = [sum(lane - toll for lane in way.lanes if lane > toll)
                 for way in ways_to_cut(sides, width, least, upright)]  # fmt: skip
        found = most_length(sides, width, upright, toll, least)
        assert found >= max(every, default=0)
        if sides[1] // width <= 12 and sides[0] // width <= 12:
            assert found == max(every, default=0)
