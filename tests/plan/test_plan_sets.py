"""Strip sets: fewest seams opened, nesting, cutting order, and scraps that need joins."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import groupby
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import PlanError
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns

F = Fraction


def make(n: int = 6, sizes: Any = None, **options: Any) -> Plan:
    prints = [
        Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), (), size_in=sizes and sizes[i])
        for i in range(n)
    ]
    return plan_columns(prints, [item.id for item in prints],
                        **{"straighten": 0, "spare": 0, **options})  # fmt: skip


@settings(max_examples=120, deadline=None, derandomize=True, database=None)
@given(
    st.integers(2, 6),
    st.lists(st.integers(0, 5), min_size=1, max_size=10),
    st.sampled_from(["loop", "flat"]),
    st.sampled_from(["open", "nested"]),
)
def test_no_other_top_opens_fewer_seams(
    n: int, offsets: list[int], method: str, press: str
) -> None:
    """With one set (two when nested) every choice of its top print is counted."""
    plan = make(n, offsets=offsets, columns=["1/2"] * len(offsets), method=method, press=press,
                repeats=1)  # fmt: skip
    groups = [offsets] if press == "open" else [offsets[::2], offsets[1::2]]
    fewest = sum(
        min(sum((offset - top) % n != 0 for offset in group) for top in range(n))
        for group in groups
    )
    assert plan.seams["opened"] == fewest


def test_several_sets_start_with_several_prints() -> None:
    """Four offsets, four sets: nothing has to be opened at all."""
    plan = make(4, offsets=[0, 1, 2, 3] * 4, columns=["1"] * 16, strip="1", repeats=1,
                set_length="6 3/4", squaring="1/2")  # fmt: skip
    assert sum(step["op"] == "sew_strips" for step in plan.steps) == 4
    assert plan.seams["opened"] == 0


def test_tall_loops_open_one_seam_a_column_and_short_ones_say_so() -> None:
    tall, short = make(sets="tall"), make(sets="repeat")
    assert tall.seams["opened"] < len(tall.columns)
    assert short.seams["opened"] % 3 == 0
    assert short.seams["opened"] > 2 * tall.seams["opened"]
    assert "seams_to_open" in {warning.code for warning in short.warnings}


@pytest.mark.parametrize("method", ["loop", "flat"])
def test_nested_columns_come_from_sets_pressed_opposite_ways(method: str) -> None:
    plan = make(press="nested", method=method, set_length=12)
    press, source = {}, {}
    for step in plan.steps:
        if step["op"] == "sew_strips":
            press[step["makes"].split(" ")[1]] = step["press"]
        elif step["op"] == "cut_segment":
            source[int(step["makes"].split(" ")[1])] = step["leaves"].split(" ")[1]
    assert set(press.values()) == {"up", "down"}
    for column, name in source.items():
        assert press[name] == ("up" if column % 2 else "down")


@pytest.mark.parametrize("method", ["loop", "flat"])
def test_narrow_columns_are_cut_last(method: str) -> None:
    """A slip of the cutter then still leaves cloth for a narrower column."""
    plan = make(12, method=method, set_length=14)
    runs = groupby(plan.steps, key=lambda step: step["op"])
    cuts = [[step["width"] for step in run] for op, run in runs if op == "cut_segment"]
    assert len(cuts) > 2
    assert all(widths == sorted(widths, reverse=True) for widths in cuts)


def test_strip_sets_wait_for_no_hopeless_scrap() -> None:
    good, tiny = (20.0, 12.0), (3.0, 2.0)
    plan = make(sizes=[good] * 5 + [tiny])
    longest = max(strip.length for need in plan.fabric for strip in need.strips)
    assert longest <= 20
    short = {need.print: need.short_by for need in plan.fabric}
    assert short["p5"] > 0
    assert not any(short[f"p{i}"] for i in range(5))
    told = next(warning.text for warning in plan.warnings if warning.code == "short")
    assert "P5" in told


def test_short_scraps_are_joined_and_lengths_conserve() -> None:
    """One scrap is shorter than the others' sets: its strips are joined, its loss counted."""
    plan = make(sizes=[(20.0, 12.0)] * 5 + [(8.0, 7.0)], set_length=20)
    need = plan.fabric[-1]
    assert need.joins > 0
    assert need.short_by == 0
    sets = Counter(step["makes"] for step in plan.steps if step["op"] == "sew_strips")
    joins = [step for step in plan.steps if step["op"] == "join_ends"]
    assert len(joins) <= 3 * len(sets)
    length = {s["makes"]: s["length"] for s in plan.steps if s["op"] == "cut_strip"}
    width = plan.finished_strip["p5"] + 2 * plan.seam
    for step in joins:
        pieces = [length[name] for name in step["takes"]]
        assert all(piece > width for piece in pieces)
        assert sum(pieces) - width * (len(pieces) - 1) >= min(length.values())
    assert "joins" in {warning.code for warning in plan.warnings}


def test_what_is_there_and_what_is_lacking() -> None:
    """Scraps of 6 x 4 in: 5 strips of 6 in, 8 of 4 in, or a mix; whole strips are lacking."""
    plan = make(sizes=[(6.0, 4.0)] * 6)
    for need in plan.fabric:
        assert need.have_length >= max(5 * 6, 8 * 4)
        assert need.short_by >= need.needed_length - need.have_length > 0
        cut = [use for use in need.scraps for use in use.cuts]
        assert sum((one.length for one in cut), F(0)) == need.needed_length - need.short_by
    told = next(warning.text for warning in plan.warnings if warning.code == "short")
    assert "P0" in told


def test_strips_that_no_scrap_holds_are_whole() -> None:
    """8.2 x 2.3 in: three strips of 8 1/8 in, and no strip of the set can be joined of two."""
    plan = make(sizes=[(40.0, 9.0)] * 5 + [(8.2, 2.3)], set_length=30, repeats=1,
                columns=["1 1/2"] * 13, offsets=[0, 1] * 6 + [0], joins="few")  # fmt: skip
    need = plan.fabric[-1]
    (wanted,) = {strip.length for strip in plan.fabric[0].strips}
    assert wanted > 2 * F(65, 8) - F(3, 4)
    assert (need.joins, need.short_by) == (0, wanted)


def test_enough_strip_in_pieces_too_short_to_join_is_told_apart() -> None:
    scraps = ((F(1), F(40)),)  # 53 strips across, none long enough to be joined
    prints = [Print(f"p{i}", f"P{i}", "", (), (20.0, 0, 0), (), size_in=(40.0, 9.0),
                    scraps=scraps if i == 0 else ()) for i in range(3)]  # fmt: skip
    plan = plan_columns(prints, ["p0", "p1", "p2"], directional=["p0"], repeats=1, straighten=0)
    need = plan.fabric[0]
    assert need.have_length == 53
    assert need.short_by == need.needed_length > 0
    told = next(warning.text for warning in plan.warnings if warning.code == "short")
    assert told.startswith("Enough strip in all, but in pieces too short")


BOX = [(8.5, 3.5), (7.5, 3.2), (6.6, 4.0), (9.0, 2.5), (6.0, 3.8), (8.1, 3.0), (8.2, 2.3),
       (7.1, 4.0)]  # fmt: skip
"""A table of scraps, in inches; our own invention."""


def lacks(plan: Plan) -> Fraction:
    return sum((need.short_by for need in plan.fabric), F(0))


@pytest.mark.parametrize("method", ["loop", "flat"])
@pytest.mark.parametrize("size", ["6x4", "8x4", "10x4", "12x4"])
def test_sets_are_as_long_as_the_scraps_can_serve(size: str, method: str) -> None:
    """Against every set length in half inches: none leaves noticeably less to be bought."""
    wanted: dict[str, Any] = {"sizes": BOX, "size": size, "repeats": 1, "method": method}
    found = make(8, **wanted)
    others = [make(8, set_length=F(half, 2), **wanted) for half in range(5, 40)]
    assert lacks(found) <= min(map(lacks, others)) * F(11, 10) + F(1, 2)


def test_several_shorter_sets_where_scraps_are_short() -> None:
    """Scraps 7 in long, sewn in sets of 7 in: nothing is joined, nothing lacks; one long set
    would need three joins in each of its six strips.
    """
    wanted: dict[str, Any] = {"sizes": [(7.0, 3.1)] * 6, "columns": ["3/4"] * 20, "repeats": 1,
                              "offsets": [0, 1] * 10}  # fmt: skip
    plan, one = make(**wanted), make(set_length=40, **wanted)
    assert lacks(plan) == 0
    assert not any(need.joins for need in plan.fabric)
    assert sum(step["op"] == "sew_strips" for step in plan.steps) == 4
    assert sum(need.joins for need in one.fabric) == 6 * 3


def test_a_print_may_have_several_scraps() -> None:
    """Strips of 3/4 in: 12 of 10 in and 4 of 5 in, told as one length."""
    prints = [
        Print(f"p{i}", f"P{i}", "", (), (20.0, 0, 0), (), size_in=(30.0, 30.0),
              scraps=((F(10), F(9)), (F(5), F(3))) if i == 0 else ())
        for i in range(4)
    ]  # fmt: skip
    plan = plan_columns(prints, [item.id for item in prints], set_length=9, straighten=0)
    assert plan.fabric[0].have_length >= 12 * 10 + 4 * 5


def test_pieces_can_be_given() -> None:
    plan = make(4, columns=["1"] * 6, offsets=[0, 1] * 3, strip="1", method="flat", repeats=1)
    assert plan.fabric[0].strips[0].length == F(19, 2)
    given_ = {"p0": [["6", "5"]], "p2": [["4", "4", "4 1/2"]]}
    joined = make(4, columns=["1"] * 6, offsets=[0, 1] * 3, strip="1", method="flat", repeats=1,
                  pieces=given_)  # fmt: skip
    assert [need.joins for need in joined.fabric] == [1, 0, 2, 0]
    assert [strip.length for strip in joined.fabric[0].strips] == [6, 5]
    for wrong, words in (
        ({"p0": [["6", "4"]]}, "reach 8 1/2 in"),
        ({"p0": []}, "too few"),
        ({"p0": [["9", "1 1/2"]]}, "cannot be joined"),
    ):
        with pytest.raises(PlanError, match=words):
            make(4, columns=["1"] * 6, offsets=[0, 1] * 3, strip="1", method="flat", repeats=1,
                 pieces=wrong)  # fmt: skip
