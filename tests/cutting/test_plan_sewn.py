"""It follows her hands: columns that are done stay, the rest is planned from what is left."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sequencer.errors import UsageError
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns, plan_from_json
from sequencer.plan.answers import go_on
from tests.cutting.test_virtual_sewing import check
from tests.made.scrap_table import lay

F = Fraction


def box(n: int = 4) -> list[Print]:
    return [Print(f"p{i}", f"P{i}", "", (), (20.0 + 9 * i, 0, 0), (),
                  scraps=((F(24), F(9)), (F(14), F(6)))) for i in range(n)]  # fmt: skip


def planned(**options: Any) -> Plan:
    prints = box()
    return plan_columns(prints, [p.id for p in prints], **{"size": "9x6", **options})


def cutting(plan: Plan) -> list[Any]:
    return [step for step in plan.to_json()["steps"] if step["op"] in {"cut_strip", "join_ends"}]


@st.composite
def wanted(draw: st.DrawFn) -> tuple[dict[str, Any], list[int], Fraction | None, bool]:
    options = {
        "method": draw(st.sampled_from(["loop", "flat"])),
        "sets": draw(st.sampled_from(["tall", "repeat"])),
        "press": draw(st.sampled_from(["open", "nested"])),
        "units": draw(st.sampled_from(["in", "in", "cm"])),
        "size": None, "repeats": draw(st.integers(1, 3)),
        "set_length": draw(st.sampled_from([None, 9, 14])),
        "spare": draw(st.sampled_from([None, "1 in"])),
    }  # fmt: skip
    if options["units"] == "cm" and options["set_length"]:
        options["set_length"] = F(options["set_length"])
    done = draw(st.lists(st.integers(1, 9), min_size=1, max_size=6, unique=True))
    lost = draw(st.sampled_from([None, F(0), F(1, 4), F(2)]))
    return options, done, lost, draw(st.booleans())


@given(wanted())
@settings(max_examples=120, deadline=None, derandomize=True, database=None,
          suppress_health_check=list(HealthCheck))  # fmt: skip
def test_what_is_done_stays_and_all_of_it_sews(
    asked: tuple[dict[str, Any], list[int], Fraction | None, bool],
) -> None:
    options, done, lost, use_up = asked
    plan = planned(**options)
    done = sorted({min(d, len(plan.columns)) for d in done})
    left = None if lost is None else room(plan, done) - lost
    if left is not None and left < 0:
        return
    fresh = go_on(plan_from_json(json.loads(json.dumps(plan.to_json()))), box(), done, left,
                  use_up)  # fmt: skip
    check(fresh)
    lay(json.loads(json.dumps(fresh.to_json())), fresh.options["straighten"])
    still = {one.name for one in fresh.sets}
    told = {warning.code for warning in fresh.warnings}
    assert ("set_unused" in told) == (len(still) < len(plan.sets))
    kept = [(s["print"], s["length"], s["at"]) for s in cutting(fresh) if s["op"] == "cut_strip"]
    assert kept == [(s["print"], s["length"], s["at"]) for s in cutting(plan)
                    if s["op"] == "cut_strip" and s["set"] in still]  # fmt: skip
    stay = [plan.columns[d - 1] for d in done]
    numbers = fresh.options["sewn"]["columns"]
    assert [fresh.columns[n - 1] for n in numbers] == stay
    if use_up:
        assert len(fresh.columns) >= len(plan.columns) or lost
    if not lost and not use_up:
        assert fresh.columns == plan.columns
    assert min(c.finished_width for c in fresh.columns) >= fresh.seam
    offsets = [c.offset for c in fresh.columns]
    n = len(fresh.prints)
    if not lost:
        assert all((a - b) % n in {1, n - 1, 0} for a, b in pairwise(offsets))
    twice = go_on(fresh, box(), numbers, None, use_up)
    assert twice.columns == fresh.columns, "the same again changes nothing"
    lay(json.loads(json.dumps(twice.to_json())), twice.options["straighten"])


def room(plan: Plan, done: list[int]) -> Fraction:
    """What the set that was cut last should still hold, read off the steps."""
    cuts = [s for s in plan.steps if s["op"] == "cut_segment" and s["column"] in done]
    name = cuts[-1]["set"]
    table = next(one for one in plan.sets if one.name == name)
    return table.length - table.squaring - sum(s["width"] for s in cuts if s["set"] == name)


def test_a_wrong_cut_makes_the_rest_narrower_before_it_is_left_out() -> None:
    plan = planned(method="loop", spare=0)
    left = room(plan, [1, 2, 3])
    some = go_on(plan, box(), [1, 2, 3], left - F(1, 2))
    assert len(some.columns) == len(plan.columns)
    assert some.centre[0] == plan.centre[0] - F(1, 2)
    again = [s for s in some.steps if s["op"] == "square_end" and s.get("again")]
    assert [s["by"] for s in again] == [F(1, 2)]
    less = go_on(plan, box(), [1, 2, 3], F(3))
    assert 3 < len(less.columns) < len(plan.columns)
    assert less.bordered[0] - less.centre[0] == plan.bordered[0] - plan.centre[0]


def test_what_is_left_is_used_up() -> None:
    plan = planned(method="loop", spare=5)
    kept = go_on(plan, box(), [1, 2], use_up=True)
    assert kept.columns == plan.columns, "the spare stays to square the set again"
    free = replace(plan, options={**plan.options, "asked": {**plan.options["asked"], "spare": 0}})
    more = go_on(free, box(), [1, 2], use_up=True)
    assert len(more.columns) > len(plan.columns)
    check(more)


@pytest.mark.parametrize(
    ("done", "left", "words"),
    [([], None, "numbers from 1 to"), ([99], None, "numbers from 1 to"), ([0], None, "from 1 to"),
     ([1], F(90), "can have no more than")],
)  # fmt: skip
def test_what_cannot_be_sewn(done: list[int], left: Fraction | None, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        go_on(planned(), box(), done, left)
