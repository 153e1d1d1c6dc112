"""The ledger: strips from scraps, joins, left-overs, shortages and the ways out of them."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import PassalongError
from sequencer.models import Print
from sequencer.plan import plan_columns, replan
from sequencer.plan.answers.waysout import shortages, ways_out
from sequencer.plan.cloth.laying.joins import (
    CLEAR,
    IN_SEAM,
    NEAR_SEAM,
    OUTSIDE,
    Joining,
    Segments,
    place_joins,
)
from sequencer.plan.sewing.sets import Segment, StripSet
from tests.cutting.test_virtual_sewing import check

F = Fraction


def fabric(key: str, *sizes: tuple[Any, Any], measured: Any = None, lab: Any = None) -> Print:
    exact = tuple((F(long), F(short)) for long, short in sizes)
    return Print(key, key.title(), "", (), lab or (50.0, 0.0, 0.0), (), size_in=measured,
                 scraps=exact)  # fmt: skip


# ── joins ─────────────────────────────────────────────────────────────────────────────────


def one_set(*widths: Any) -> StripSet:
    segments = tuple(Segment(i, 0, F(width), 0) for i, width in enumerate(widths))
    return StripSet("A", 0, "open", ("a",), F(1, 2) + sum(map(F, widths)), segments)


def test_joins_are_judged_by_the_columns_they_fall_into() -> None:
    segments = Segments(one_set(3, 1, "3/4"), F(1, 2), F(1, 4))
    assert segments.judge(F(0), F(1, 2)).kind == OUTSIDE
    assert segments.judge(F(1), F(2)).kind == CLEAR
    assert segments.judge(F(5, 8), F(2)).kind == NEAR_SEAM
    # column 0 lies from 1/2 to 3 1/2, its allowances reach 1/4 in: clear from 3/4 to 3 1/4
    assert segments.judge(F(3, 4), F(13, 4)).kind == CLEAR
    assert segments.judge(F(5, 8), F(13, 4)).kind == NEAR_SEAM
    assert segments.judge(F(3, 4), F(27, 8)).kind == NEAR_SEAM
    assert segments.judge(F(1, 2), F(7, 2)).kind == NEAR_SEAM
    assert segments.judge(F(3, 8), F(2)).kind == IN_SEAM  # from the squaring into the column
    crossing = segments.judge(F(3), F(4))
    assert (crossing.kind, crossing.columns) == (IN_SEAM, (0, 1))
    assert segments.judge(F(21, 4), F(6)).kind == OUTSIDE


def test_a_join_moves_from_a_seam_into_the_widest_column() -> None:
    """Two strips of 5 in must reach 7 1/2: uncut, the join would lie across columns 1 and 2."""
    one = one_set(4, 2, 1)
    segments = Segments(one, F(1, 2), F(1, 4))
    how = Joining(F(3, 4), F(1, 4), F(9, 8), F(1, 8))
    assert segments.judge(F(5) - F(3, 4) - F(1, 4), F(5) + F(1, 4)).kind == IN_SEAM
    cut, (join,) = place_joins([F(5), F(13, 4)], [F(0), F(7, 4)], how, segments, one.length)
    assert (join.kind, join.columns) == (CLEAR, (0,))
    assert sum(length for _, length in cut) - how.loss == one.length


def test_the_zone_of_a_diagonal_join_holds_its_cloth() -> None:
    """Geometry (shapely): corner-to-corner seam with allowances, in the finished part."""
    from shapely.geometry import LineString, box

    for cut, seam in ((0.75, 0.25), (1.0, 0.25), (2.5, 0.25), (1.1, 0.3)):
        line = LineString([(-cut, 0.0), (0.0, cut)])
        cloth = line.buffer(seam, cap_style="square").intersection(
            box(-99, seam, 99, cut - seam)
        )
        low, _, high, _ = cloth.bounds
        assert low >= -cut - seam - 1e-9
        assert high <= seam + 1e-9


@given(st.data())
@settings(max_examples=120, deadline=None)
def test_moved_joins_keep_every_length(data: st.DataObject) -> None:
    widths = data.draw(st.lists(st.integers(6, 30).map(lambda k: F(k, 8)), min_size=1, max_size=8))
    one = one_set(*widths)
    how = Joining(F(3, 4), F(1, 4), F(9, 8), F(1, 8))
    count = data.draw(st.integers(2, 4))
    need = one.length + how.loss * (count - 1)
    pieces = [max(how.shortest, need / count)] * count
    spare = data.draw(st.lists(st.integers(0, 40).map(lambda k: F(k, 8)),
                               min_size=count, max_size=count))  # fmt: skip
    before = sum(pieces, F(0)) - how.loss * (count - 1)
    cut, joins = place_joins(pieces, spare, how, Segments(one, F(1, 2), F(1, 4)), one.length)
    assert sorted(at for at, _ in cut) == list(range(count))
    assert all(how.shortest <= length <= pieces[at] + spare[at] for at, length in cut)
    after = sum((length for _, length in cut), F(0)) - how.loss * (count - 1)
    assert one.length <= after <= max(before, one.length + how.shortest)
    assert len(joins) == count - 1


# ── ways out ──────────────────────────────────────────────────────────────────────────────


def short_box() -> tuple[list[Print], list[str]]:
    labs = [(30 + 4.0 * i, 30 - 5.0 * i, 8.0 * i - 20) for i in range(8)]
    prints = [fabric(f"p{i}", (12, 9), lab=labs[i]) for i in range(8)]
    prints[2] = fabric("p2", (9, 4), lab=labs[2])
    return prints, [f"p{i}" for i in range(6)]


def test_ways_out_are_real_and_ranked() -> None:
    prints, ids = short_box()
    plan = plan_columns(prints, ids, repeats=4)
    assert set(shortages(plan)) == {"p2"}
    ways = ways_out(plan, prints)
    assert {"swap", "fewer repeats", "narrower piece"} <= {way.kind for way in ways}
    enough = [way for way in ways if way.enough]
    assert ways[: len(enough)] == tuple(enough)
    assert [way.points for way in enough] == sorted(way.points for way in enough)
    for way in ways:
        again = replan(plan, prints, way.seq, **way.changes)
        assert shortages(again) == dict(way.short)
        assert way.enough == (not shortages(again))
        assert sum(way.short.values(), F(0)) < sum(shortages(plan).values(), F(0))
        check(again)
        json.dumps(way.to_json())


def test_the_caller_says_what_a_swap_costs() -> None:
    prints, ids = short_box()
    plan = plan_columns(prints, ids, repeats=4)
    for cheap, dear in (("p6", "p7"), ("p7", "p6")):
        costs = {("p2", cheap): 1.0, ("p2", dear): 9.0}
        (swap,) = [way for way in ways_out(plan, prints, costs) if way.kind == "swap"]
        assert swap.seq[2] == cheap
        assert swap.costs["swap"] == 1.0
    too_small = [*prints[:6], fabric("p6", (3, 3)), prints[7]]
    (swap,) = [
        way for way in ways_out(plan, too_small, lambda a, b: 1.0 if b == "p6" else 9.0)
        if way.kind == "swap"
    ]  # fmt: skip
    assert swap.seq[2] == "p7"


def test_nothing_short_needs_no_way_out() -> None:
    prints, ids = short_box()
    assert ways_out(plan_columns(prints, ids, size="4x3"), prints) == ()


@pytest.mark.parametrize("sizes", [[(F(-1), F(2))], [(F(0), F(0))], [(F(1, 16), F(9))]])
def test_absurd_scraps_are_short_not_a_crash(sizes: list[tuple[Fraction, Fraction]]) -> None:
    prints, ids = short_box()
    prints[0] = fabric("p0", *sizes)
    try:
        plan = plan_columns(prints, ids, size="4x3", prove=True)
    except PassalongError:
        return
    assert "p0" in shortages(plan)
