"""Margins of the cut: what comes off a scrap before a strip, and off a set before a column."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sequencer.plan import plan_columns
from tests.cutting.test_plan_cutting import F, fabric, planned


def test_straightening_comes_off_every_side() -> None:
    plan = plan_columns([fabric("a", (12, 5)), fabric("b", (12, 5))], ["a", "b"], repeats=1)
    assert plan.fabric[0].scraps[0].usable == (F(47, 4), F(19, 4))


def test_a_measured_scrap_is_counted_smaller_than_a_typed_one() -> None:
    """4.03 in measured holds three strips of 1 in, not four with .03 in to spare."""
    wanted: dict[str, Any] = {"strip": "1/2", "columns": ["1"] * 4, "offsets": [0, 1] * 2,
                              "straighten": 0, "repeats": 1}  # fmt: skip
    measured = [fabric("a", measured=(20.0, 4.03)), fabric("b", measured=(20.0, 4.03))]
    use = plan_columns(measured, ["a", "b"], **wanted).fabric[0].scraps[0]
    assert use.usable == (F(155, 8), F(31, 8))
    typed = [fabric("a", (20, 4)), fabric("b", (20, 4))]
    assert plan_columns(typed, ["a", "b"], **wanted).fabric[0].scraps[0].usable == (20, 4)


def test_a_margin_that_cannot_be_kept_is_said_for_its_scrap() -> None:
    """Four strips of 1 in are wanted of 4.03 in: cut, but only if the photo measured true."""
    prints = [fabric("a", measured=(7.0, 4.03)), fabric("b", (20, 20))]
    plan = plan_columns(prints, ["a", "b"], strip="1/2", columns=["1"] * 4, offsets=[0, 1] * 2,
                        repeats=4, sets="tall", straighten=0, set_length=7,
                        joins="none")  # fmt: skip
    use = plan.fabric[0].scraps[0]
    assert not use.sure
    assert plan.fabric[0].short_by == 0
    told = next(w.text for w in plan.warnings if w.code == "margin")
    assert "scrap 1 of A" in told
    assert "4 in" in told


def test_every_set_keeps_something_to_square_it_again() -> None:
    plan = planned()
    assert all(one.spare >= F(1, 4) for one in plan.sets)
    more = plan_columns([fabric("a", (40, 9)), fabric("b", (40, 9))], ["a", "b"], spare=2)
    assert all(one.spare >= 2 for one in more.sets)
    told = " ".join(step.text for step in more.instructions)
    assert "square it again: 2 in" in told
    none = plan_columns([fabric("a", (40, 9)), fabric("b", (40, 9))], ["a", "b"], spare=0)
    assert "cannot be squared again" in " ".join(step.text for step in none.instructions)


def test_unequal_sets_fit_without_a_join() -> None:
    """Scraps of three strips 4 1/2 in and one of 2 1/2: sets of the like, not one short by 2."""
    scraps = ((F(19, 4), F(5)),)
    prints = [replace(fabric(f"p{i}"), scraps=scraps) for i in range(4)]
    plan = plan_columns(prints, [p.id for p in prints], strip="1/2", repeats=1, size=None,
                        columns=["1/2"] * 14, offsets=[0, 1] * 7)  # fmt: skip
    assert not any(need.short_by or need.joins for need in plan.fabric)
