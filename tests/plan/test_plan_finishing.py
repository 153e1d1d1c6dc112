"""Border, binding, backing and cloth, against published teaching examples and geometry."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from sequencer.inches import on_grid, to_mm
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from sequencer.plan.asked import join_loss
from sequencer.plan.cloth.shopping import lanes, strips_across

F = Fraction


def make(n: int = 5, **options: Any) -> Plan:
    prints = [Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), ()) for i in range(n)]
    return plan_columns(prints, [item.id for item in prints], **options)


# ── published teaching examples (craft teachers' pages) ───────────────────────────────────


def test_three_strips_measure_three_and_a_half() -> None:
    """Published teaching example: three strips cut 1 1/2 in measure 3 1/2 in across when sewn."""
    plan = make(3, strip="1", repeats=1, columns=["2", "2"], offsets=[0, 1])
    sewn = next(said.text for said in plan.instructions if said.kind == "sew_strips")
    assert "It should measure 3 1/2 in across" in sewn
    assert {strip.width for need in plan.fabric for strip in need.strips} == {F(3, 2)}


def test_twenty_seven_strips_of_seventy_two_inches() -> None:
    """Published teaching example: 72 in from 27 strips finishes 2 2/3 in a strip, cut 3 1/6."""
    plan = make(27, size=(60, 72), strip=F(72, 27), repeats=1)
    assert set(plan.finished_strip.values()) == {F(8, 3)}
    assert plan.fabric[0].strips[0].width == F(19, 6)
    assert "off_ruler" in {warning.code for warning in plan.warnings}


def test_binding_strips_for_fifty_by_sixty() -> None:
    """Published teaching example: 50 x 60 in is 220 in round; 38 usable in a strip make 6."""
    assert 2 * (50 + 60) == 220
    assert strips_across(F(220), F(38)) == 6


def test_binding_strips_for_forty_six_square() -> None:
    """Published teaching example: 46 x 46 in at 40 in is 5 strips, 12 1/2 in at 2 1/2 each."""
    strips = strips_across(F(4 * 46), F(40))
    assert strips == 5
    assert strips * F(5, 2) == F(25, 2)


def test_a_border_cut_one_inch_finishes_half() -> None:
    """Published teaching example: cut 1 in, 1/2 in inside, 1/4 in under the binding."""
    plan = make(border="1/2", seam="1/4")
    assert plan.border is not None
    assert plan.binding is not None
    assert plan.border["cut_width"] == 1
    assert plan.binding["covers"] == F(1, 4)
    assert plan.bordered == (plan.centre[0] + 1, plan.centre[1] + 1)


# ── geometry as oracle ────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("a", "b", "width"), [(9, 7, 0.75), (4, 20, 2.5), (3, 3, 1.0)])
def test_diagonal_join_by_geometry(a: float, b: float, width: float) -> None:
    """Two strips crossed at right angles, sewn corner to corner, one folded over the seam line.

    shapely mirrors the second strip in the seam; the union must be one straight strip whose area,
    over its width, is a + b less the strip's cut width.
    """
    first = box(0, 0, a, width)
    second = box(a - width, width - b, a, width)  # lies across first's end, right sides together
    seam = [(a - width, width), (a, 0)]  # corner to corner of the square they share
    beyond = Polygon([seam[0], seam[1], (a + b, -b), (a + b, width + b), (a - width, width)])
    kept = first.difference(beyond)
    turned = _mirrored(second, seam)
    joined = unary_union([kept, turned.intersection(beyond.buffer(1e-9))])
    left, low, right, high = joined.bounds
    assert (low, high) == pytest.approx((0, width))
    assert right - left == pytest.approx(a + b - width)
    assert joined.area == pytest.approx((a + b - width) * width)
    loss = join_loss("diagonal", F(str(width)), F(1, 4))
    assert a + b - float(loss) == pytest.approx(right - left)


def _mirrored(shape: Polygon, line: list[tuple[float, float]]) -> Polygon:
    """Reflection of a shape in the line x + y = constant (the seam runs at 45 degrees)."""
    total = line[0][0] + line[0][1]
    return affinity.affine_transform(shape, [0, -1, -1, 0, total, total])


def test_straight_join_loses_two_allowances() -> None:
    assert join_loss("straight", F(1), F(1, 4)) == F(1, 2)


@pytest.mark.parametrize("corners", ["butted", "mitred"])
def test_borders_tile_their_frame(corners: str) -> None:
    """Finished border pieces fill the frame without gap or overlap (areas by shapely)."""
    plan = make(border="1/2,2", corners=corners)
    assert plan.border is not None
    width, height = (float(side) for side in plan.centre)
    seam = 2 * plan.seam
    for one in plan.border["borders"]:
        finished, cut = float(one["width"]), one["cut_width"]
        outer = box(0, 0, width + 2 * finished, height + 2 * finished)
        frame = outer.difference(box(finished, finished, width + finished, height + finished))
        if corners == "butted":
            sides, across = one["sides"]["length"] - seam, one["top_bottom"]["length"] - seam
            area = 2 * finished * float(sides + across)
        else:
            assert one["sides"]["length"] == F(str(height)) + 2 * cut
            long_, short = width + 2 * finished, height + 2 * finished
            area = 2 * finished * ((long_ + width) / 2 + (short + height) / 2)
        assert area == pytest.approx(frame.area)
        width, height = width + 2 * finished, height + 2 * finished
    assert plan.bordered == (F(str(width)), F(str(height)))


# ── cloth ─────────────────────────────────────────────────────────────────────────────────


def test_cloth_is_bought_by_the_eighth_yard_or_ten_centimetres() -> None:
    plan = make(12, size="40x48", strip="1", repeats=4)
    for need in plan.fabric:
        assert need.cloth is not None
        assert on_grid(need.cloth, F(36, 8))
        total = sum(strip.length * strip.width for strip in need.strips)
        assert need.cloth * 40 >= total
    metric = make(12, units="cm")
    for need in metric.fabric:
        assert need.cloth is not None
        assert to_mm(need.cloth) % 100 == 0


def test_lanes_share_and_join() -> None:
    assert lanes([F(20), F(20), F(10), F(30)], F(40), F(0)) == 2
    assert lanes([F(100)], F(40), F(0)) == 3
    assert lanes([F(100), F(20)], F(40), F(0)) == 3, "the third lane's rest serves"
    assert lanes([F(78)], F(40), F(2)) == 2
    assert lanes([F(79)], F(40), F(2)) == 3


def test_precuts_hold_what_they_say() -> None:
    plan = make(strip="3/4", size="20x15", repeats=4)  # cut 1 1/4: two lanes in a 2 1/2 in strip
    for need in plan.fabric:
        lengths = [strip.length for strip in need.strips]
        assert need.precut_strips == math.ceil(lanes(lengths, F(40), F(5, 4)) / 2)
        assert need.fat_quarters is not None
        assert need.fat_quarters * 14 * 20 >= sum(lengths)
    assert make(strip="4", repeats=1).fabric[0].precut_strips is None


@pytest.mark.parametrize(
    ("size", "strip", "straighten"),
    [((9.0, 7.0), "1/4", 0), ((5.19, 0.7), "1/4", 0), ((9.0, 8.9), "2 1/2", "1/8"),
     ((8.0, 4.0), "1/4", "1/4")],
)  # fmt: skip
def test_strips_in_a_scrap(size: Any, strip: str, straighten: Any) -> None:
    """All strips one way, or some along one side and the rest along the other: what is told is
    the most of these, counted here one by one.
    """
    scraps = (tuple(F(str(side)) for side in size),)
    prints = [Print(f"p{i}", f"P{i}", "", (), (20.0, 0, 0), (), scraps=() if i else scraps)
              for i in range(3)]  # fmt: skip
    plan = plan_columns(prints, ["p0", "p1", "p2"], strip=strip, set_length=40,
                        straighten=straighten)  # fmt: skip
    cut = F(strip.replace("2 1/2", "5/2")) + F(1, 2)
    long, short = (F(math.floor((F(str(side)) - 2 * F(straighten)) * 8), 8) for side in size)
    most = F(0)
    for one, other in ((long, short), (short, long)):
        for k in range(math.floor(other / cut) + 1):
            rest = other - k * cut
            most = max(most, k * one * (one >= cut) + (one // cut) * rest * (rest >= cut))
    need = plan.fabric[0]
    assert need.have_length == most
    assert sum((cut.length for cut in need.strips), F(0)) - need.short_by <= most


def test_binding_goes_round_with_ten_to_twelve_inches_over() -> None:
    for options in ({}, {"size": "40x48", "strip": "1", "repeats": None, "border": "3"}):
        plan = make(8, **options)
        assert plan.binding is not None
        edge = 2 * sum(plan.binding["outside"])
        assert 10 <= plan.binding["length"] - edge <= 12
        reach = plan.binding["strips"] * 40 - plan.binding["joins"] * plan.binding["cut_width"]
        assert reach >= plan.binding["length"]


def test_backing_and_batting_are_larger_all_round() -> None:
    small, large = make(8), make(8, size="60x80", strip="2", repeats=5)
    for plan, extra in ((small, 2), (large, 4)):
        assert plan.backing is not None
        assert plan.batting is not None
        assert plan.batting["width"] == plan.bordered[0] + 2 * plan.seam + 2 * extra
        assert plan.backing["height"] == plan.bordered[1] + 2 * plan.seam + 2 * extra
    assert small.backing["seam"] == "none"
    assert large.backing["panels"] == 2
    assert large.backing["cloth"] * 40 >= large.backing["width"] * large.backing["height"]


def test_metric_plans_know_only_millimetres() -> None:
    """No mixed roundings: every length of a metric plan is a whole number of millimetres."""
    plan = make(7, units="cm", border="3cm, 1 cm", binding="6cm")
    found: list[Fraction] = []

    def collect(value: Any) -> None:
        if isinstance(value, Fraction):
            found.append(value)
        elif isinstance(value, dict):
            for item in value.values():
                collect(item)
        elif isinstance(value, (list, tuple)):
            for item in value:
                collect(item)

    collect([plan.border, plan.binding, plan.backing, plan.batting, list(plan.steps)])
    collect([[c.cut_width, c.finished_width] for c in plan.columns])
    collect([[n.needed_length, n.short_by, n.cloth] for n in plan.fabric])
    assert len(found) > 100
    assert all(to_mm(length).denominator == 1 for length in found)
    words = " ".join([said.text for said in plan.instructions] + [w.text for w in plan.warnings])
    assert " cm" in words
    assert "/" not in words
    assert '"' not in words


def test_a_scrap_too_small_for_the_frame_is_told() -> None:
    def told(size: tuple[float, float] | None) -> bool:
        prints = [
            Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), (), size_in=size) for i in range(5)
        ]
        plan = plan_columns(prints, [item.id for item in prints], border_print="p2")
        return "frame_cloth" in {warning.code for warning in plan.warnings}

    assert told((12.0, 8.0))
    assert not told((40.0, 20.0))
    assert not told(None)


@pytest.mark.parametrize(("side", "strip", "usable", "published"), [
    (("50", "60"), "15", "38", 6), (("46", "46"), "11 1/2", "40", 5),
])  # fmt: skip
def test_binding_strips_of_published_examples(side, strip, usable, published) -> None:
    """50 x 60 in at 38 usable inches: 220 in round, 6 strips; 46 x 46 in at 40: 5 strips, 12 1/2
    in of fabric at 2 1/2 in each (published teaching examples). They divide the edge by the
    cloth's width; joins on the diagonal and the overlap to finish take more, and the plan counts
    them, so it may ask for one strip more: then the sheets say why."""
    plan = make(4, strip=strip, repeats=1, columns=["1"] * int(side[0]), border=0,
                binding="2 1/2", usable=usable, set_length=usable)  # fmt: skip
    assert plan.bordered == (F(side[0]), F(side[1]))
    around, cloth, cut = 2 * sum(plan.bordered), F(usable), F(5, 2)
    assert -(-around // cloth) == published
    if published == 5:
        assert published * cut == F(25, 2)
    strips, length = plan.binding["strips"], plan.binding["length"]
    assert length >= around + 10
    assert strips * cloth - (strips - 1) * cut >= length, "enough"
    assert (strips - 1) * cloth - (strips - 2) * cut < length, "and not one too many"
    assert published <= strips <= published + 1


@pytest.mark.parametrize(("prints", "told"), [(2, True), (3, True), (4, False), (7, False)])
def test_few_prints_on_a_wave_read_as_checks(prints, told) -> None:
    """Common practice, no source: three prints stepped by one row make a checked ground."""
    plan = make(prints, repeats=4, curve="wave")
    assert ("checks" in {warning.code for warning in plan.warnings}) == told
    still = make(prints, repeats=4, columns=["1"] * 4, offsets=[0] * 4)
    assert "checks" not in {warning.code for warning in still.warnings}
