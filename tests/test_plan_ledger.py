"""The ledger: strips from scraps, joins, left-overs, shortages and the ways out of them."""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_virtual_sewing import check

from sequencer.errors import PassalongError
from sequencer.models import Print
from sequencer.plan import plan_columns, replan
from sequencer.plan.answers.asking import take_stock
from sequencer.plan.answers.waysout import shortages, ways_out
from sequencer.plan.cloth.fabric import cloth_area
from sequencer.plan.cloth.joins import (
    CLEAR,
    IN_SEAM,
    NEAR_SEAM,
    OUTSIDE,
    Joining,
    Segments,
    place_joins,
)
from sequencer.plan.cloth.ledger import Page
from sequencer.plan.cloth.pieces import ABSENT, Cutting, Order, lower_bound
from sequencer.plan.cloth.proof import cut_pieces
from sequencer.plan.cloth.stock import Way, scraps_of, ways_to_cut
from sequencer.plan.sewing.sets import Segment, StripSet

F = Fraction


def fabric(key: str, *sizes: tuple[Any, Any], measured: Any = None, lab: Any = None) -> Print:
    exact = tuple((F(long), F(short)) for long, short in sizes)
    return Print(key, key.title(), "", (), lab or (50.0, 0.0, 0.0), (), size_in=measured,
                 scraps=exact)  # fmt: skip


# ── what a scrap gives ────────────────────────────────────────────────────────────────────


def test_a_fat_quarter_gives_more_strips_across() -> None:
    """18 x 22 in (common practice, no source), strips cut 3/4: by hand 24 of 22 or 29 of 18."""
    ways = ways_to_cut((F(22), F(18)), F(3, 4))
    assert {(way.count, way.length, way.along) for way in ways} == {
        (24, F(22), "length"), (29, F(18), "width")}  # fmt: skip
    assert ways[0].total == max(24 * 22, 29 * 18)
    assert ways[1].beside == F(22) - 29 * F(3, 4)


def test_a_directional_print_is_cut_along_its_length_only() -> None:
    assert [way.along for way in ways_to_cut((F(9), F(20)), F(1), True)] == ["length"]


def test_a_sliver_gives_nothing() -> None:
    assert ways_to_cut((F(1, 2), F(1, 2)), F(3, 4)) == ()


def test_measured_sizes_are_rounded_down_to_what_is_surely_there() -> None:
    assert scraps_of(fabric("a", measured=(10.13, 4.99))) == ((F(81, 8), F(39, 8)),)
    assert scraps_of(fabric("a", (9, 4), (3, 3), measured=(10.13, 4.99))) == ((9, 4), (3, 3))
    assert scraps_of(fabric("a")) is None


def test_of_a_ragged_scrap_the_rectangle_it_holds_is_cut() -> None:
    ragged = replace(fabric("a", measured=(10.13, 4.99)), usable_in=(8.3, 4.26))
    assert scraps_of(ragged) == ((F(33, 4), F(17, 4)),)
    assert cloth_area(ragged) == F("8.3") * F("4.26")
    assert scraps_of(replace(ragged, scraps=((F(9), F(4)),))) == ((9, 4),)  # what was typed stands


# ── the cutting optimum ───────────────────────────────────────────────────────────────────


def brute_force(order: Order) -> tuple[int, int]:
    """Least (shortage, joins) over every cut at whole units, by exhaustion."""

    @cache
    def best(strips: tuple[int, ...], wanted: tuple[int, ...]) -> tuple[int, int]:
        if not wanted:
            return 0, 0
        length, rest = wanted[0], wanted[1:]
        short, joins = best(strips, rest)
        found = (short + length, joins)  # left out
        for left, extra in made(strips, length):
            short, joins = best(left, rest)
            found = min(found, (short, joins + extra))
        return found

    @cache
    def made(strips: tuple[int, ...], length: int) -> frozenset[tuple[tuple[int, ...], int]]:
        ways = set()
        for i, strip in enumerate(strips):
            if strip >= length:
                ways.add((cut(strips, i, length), 0))
        ways |= {(left, extra - 1) for left, extra in joined(strips, length, 0)}
        return frozenset(ways)

    @cache
    def joined(strips: tuple[int, ...], need: int, count: int) -> frozenset[Any]:
        """Two pieces or more, each at least ``shortest`` long."""
        if need <= 0:
            return frozenset({(strips, count)} if count > 1 else ())
        ways = set()
        if count < 4:
            for i, strip in enumerate(strips):
                for take in range(int(order.shortest), strip + 1):
                    if take - int(order.loss) <= need + int(order.shortest):
                        still = need - take + (int(order.loss) if count else 0)
                        ways |= joined(cut(strips, i, take), still, count + 1)
        return frozenset(ways)

    def cut(strips: tuple[int, ...], i: int, take: int) -> tuple[int, ...]:
        return tuple(sorted((*strips[:i], strips[i] - take, *strips[i + 1 :])))

    answers = []
    mixes: list[list[Way]] = [[]]
    for scrap in order.scraps:
        mixes = [[*mix, way] for mix in mixes for way in scrap]
    for mix in mixes:
        strips = tuple(sorted(int(way.length) for way in mix for _ in range(way.count)))
        answers.append(best(strips, tuple(int(length) for length in order.lengths)))
    return min(answers)


def small_orders(count: int) -> list[Order]:
    rnd = random.Random(1961)
    orders = []
    for _ in range(count):
        scraps = []
        for _ in range(rnd.choice([1, 1, 2])):
            long, short = rnd.randint(4, 11), rnd.randint(1, 3)
            ways = [Way(short, F(long), "length", F(0))]
            if rnd.random() < 0.5:
                ways.append(Way(rnd.randint(1, 3), F(rnd.randint(3, 8)), "width", F(0)))
            scraps.append(tuple(ways))
        lengths = tuple(F(rnd.choice([4, 5, 7, 9, 12])) for _ in range(rnd.randint(1, 3)))
        orders.append(Order(tuple(scraps), lengths, F(rnd.choice([1, 2])), F(3)))
    return orders


def test_brute_force_confirms_the_best_cutting() -> None:
    proved = 0
    for order in small_orders(160):
        best, found = brute_force(order), cut_pieces(order)
        assert lower_bound(order)[0] <= best[0], order
        assert found.bound <= best <= (found.short_by, found.joins), order
        if found.status == "optimal":
            assert (found.short_by, found.joins) == best, order
            proved += 1
    assert proved >= 145


def test_the_quick_cutting_is_never_better_than_the_proved() -> None:
    for order in small_orders(100):
        quick, found = cut_pieces(order, False), cut_pieces(order)
        assert (found.short_by, found.joins) <= (quick.short_by, quick.joins)


@pytest.mark.parametrize(("rolls", "short"), [(453, False), (452, True)])
def test_a_published_cutting_stock_example(rolls: int, short: bool) -> None:
    """V. Chvátal, Linear Programming (1983), chapter 13: rolls of 100 in, 97 pieces of 45, 610 of
    36, 395 of 31 and 211 of 14 take 453 rolls (numbers from memory). A join costs all of a roll.
    """
    lengths = [F(45)] * 97 + [F(36)] * 610 + [F(31)] * 395 + [F(14)] * 211
    order = Order(((Way(rolls, F(100), "length", F(0)),),), tuple(lengths), F(100), F(101))
    assert bool(cut_pieces(order).short_by) == short


def reach_of(cutting: Cutting, order: Order, at: int) -> Fraction:
    pieces = cutting.strips[at]
    return sum((p.length for p in pieces), F(0)) - order.loss * (len(pieces) - 1)


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_lengths_conserve_exactly(data: st.DataObject) -> None:
    eighths = st.integers(16, 170).map(lambda k: F(k, 8))
    sizes = data.draw(st.lists(st.tuples(eighths, eighths), min_size=1, max_size=3))
    cut = data.draw(st.sampled_from([F(3, 4), F(1), F(7, 8)]))
    lengths = data.draw(st.lists(eighths, min_size=1, max_size=6))
    loss = data.draw(st.sampled_from([cut, F(1, 2)]))
    ways = tuple(ways_to_cut(size, cut) for size in sizes)
    order = Order(ways, tuple(lengths), loss, loss + cut / 2)
    found = cut_pieces(order)
    pieces = [piece for strip in found.strips for piece in strip]
    for scrap, way in enumerate(found.ways):
        mine = [p for p in (*pieces, *found.left) if p.scrap == scrap]
        total = sum((p.length for p in mine), F(0))
        assert total == (way.total if way else 0)
        for number in range(way.count if way else 0):
            assert sum((p.length for p in mine if p.strip == number), F(0)) == way.length
    assert all(piece.length > 0 for piece in (*pieces, *found.left))
    for at, length in enumerate(lengths):
        surplus = reach_of(found, order, at) - length
        assert 0 <= surplus < order.shortest
        if len(found.strips[at]) > 1:
            assert all(p.length >= order.shortest for p in found.strips[at])
            assert all(p.scrap != ABSENT for p in found.strips[at])
        else:
            assert surplus == 0


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


# ── the ledger of a plan ──────────────────────────────────────────────────────────────────


@st.composite
def boxes(draw: st.DrawFn) -> tuple[list[Print], dict[str, Any]]:
    n = draw(st.integers(2, 6))
    side = st.integers(12, 130).map(lambda k: F(k, 8))
    prints = [
        fabric(f"p{i}", *draw(st.lists(st.tuples(side, side), min_size=0, max_size=3)))
        for i in range(n)
    ]
    options = {
        "repeats": draw(st.integers(1, 3)),
        "method": draw(st.sampled_from(["loop", "flat"])),
        "press": draw(st.sampled_from(["open", "nested"])),
        "join": draw(st.sampled_from(["diagonal", "straight"])),
        "sets": draw(st.sampled_from(["auto", "tall", "repeat"])),
        "directional": draw(st.sampled_from([(), ("p0",)])),
    }
    if draw(st.booleans()):
        options["set_length"] = draw(st.integers(4, 30))
    return prints, options


@given(boxes())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_proved_plan_sews_and_its_ledger_balances(
    box: tuple[list[Print], dict[str, Any]],
) -> None:
    prints, options = box
    plan = plan_columns(prints, [p.id for p in prints], prove=True, **options)
    check(plan)
    ledger = take_stock(plan, prints)
    assert ledger.short == shortages(plan)
    cuts: dict[str, list[Fraction]] = {}
    for step in plan.steps:
        if step["op"] == "cut_strip":
            cuts.setdefault(step["print"], []).append(step["length"])
    for need in plan.fabric:
        page = ledger.pages[need.print]
        assert [p.length for strip in page.strips for p in strip.pieces] == cuts[need.print]
        assert page.joins == need.joins
        balance(page, plan.options["grid"])
    json.dumps(ledger.to_json())


def balance(page: Page, grid: Fraction) -> None:
    """Strips from scraps = pieces + left-overs; pieces = strips of the sets + joins + surplus."""
    if page.cutting is None:
        assert page.scraps is None
        return
    assert page.lanes is not None
    pieces = [p for strip in page.strips for p in strip.pieces]
    held = [p.length for p in pieces if p.scrap != ABSENT]
    left = [p.length for p in page.cutting.left]
    assert sum(held, F(0)) + sum(left, F(0)) == sum(page.lanes, F(0))
    assert min([*held, *left], default=F(1)) > 0
    used: Counter[tuple[int, int]] = Counter()
    for piece in pieces:
        used[piece.scrap, piece.strip] += piece.length  # type: ignore[assignment]
    for (scrap, _), total in used.items():
        if scrap != ABSENT:
            way = page.cutting.ways[scrap]
            assert way is not None
            assert total <= way.length
    for strip in page.strips:
        reach = sum((p.length for p in strip.pieces), F(0)) - page.loss * len(strip.joins)
        assert strip.length <= reach
        assert len(strip.joins) == len(strip.pieces) - 1


def test_several_scraps_are_all_used() -> None:
    prints = [fabric("a", (12, 1), (12, 1), (11, 1)), fabric("b", (30, 30))]
    plan = plan_columns(prints, ["a", "b"], size="4x3", strip="1/2", prove=True)
    page = take_stock(plan, prints).pages["a"]
    assert not plan.fabric[0].short_by
    assert {p.scrap for strip in page.strips for p in strip.pieces} == {0, 1, 2}


def test_a_loose_end_of_the_same_print_counts_for_nothing_when_too_short() -> None:
    """Pieces under the shortest worth joining stay left-overs."""
    order = Order((ways_to_cut((F(10), F(3, 4)), F(3, 4)), ways_to_cut((F(1), F(3, 4)), F(3, 4))),
                  (F(21, 2),), F(3, 4), F(9, 8))  # fmt: skip
    assert cut_pieces(order).short_by == F(21, 2)


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


def test_a_size_typed_in_centimetres_is_rounded_down_to_an_inch_ruler():
    typed = replace(fabric("a"), scraps=((F(2000, 254), F(750, 254)),))  # 20 × 7.5 cm
    assert scraps_of(typed) == ((F(31, 4), F(23, 8)),)  # 7.874 and 2.953 in
