"""The same design at another size: what survives adds up, and the answers follow the figures."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from sequencer.colour import ciede2000, lab_to_xyz, xyz_to_lab
from sequencer.errors import PassalongError
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns, scale
from sequencer.plan.columns import unwrapped
from sequencer.plan.scaling.likeness import Blocks, blocks_of, compare, from_afar, paint
from sequencer.plan.scaling.merging import merge_prints, share_out
from sequencer.plan.scaling.resize import curve_height, curve_miss
from sequencer.plan.scaling.scale import Scaled
from tests.cutting.test_virtual_sewing import check

F = Fraction


def ring(n: int, size: tuple[float, float] | None = None) -> list[Print]:
    """Prints round a hue circle, light to dark and back."""
    turn = [2 * math.pi * i / n for i in range(n)]
    return [
        Print(
            f"p{i}", f"Print {i}", "", (),
            (55 - 30 * math.cos(t), 30 * math.sin(t), 25 * math.cos(t)), (), size_in=size,
        )
        for i, t in enumerate(turn)
    ]  # fmt: skip


def planned(
    n: int, scraps: tuple[float, float] | None = None, **options: Any
) -> tuple[Plan, list[Print]]:
    prints = ring(n, scraps)
    return plan_columns(prints, [p.id for p in prints], **options), prints


def verdict(scaled: Scaled, rule: str) -> str:
    return next(str(found["verdict"]) for found in scaled.sewn.rules if found["rule"] == rule)


# ── what survives ─────────────────────────────────────────────────────────────────────────


def test_twice_the_size_is_the_same_picture() -> None:
    plan, prints = planned(12, size="11x9")
    scaled = scale(plan, prints, "22x18")
    assert scaled.survives["columns_kept"]
    assert [c.finished_width for c in scaled.plan.columns] == [
        2 * c.finished_width for c in plan.columns
    ]
    assert set(scaled.plan.finished_strip.values()) == {
        2 * width for width in plan.finished_strip.values()
    }
    assert scaled.look.verdict == "yes"
    assert scaled.look.figures["mean_delta_e"] == 0
    assert scaled.worth.figures["area"] == 4
    assert scaled.survives["curve"]["miss_share"] == 0


def test_there_and_back_is_the_same_design() -> None:
    plan, prints = planned(10, size="12x10", curve="hill")
    bed = scale(plan, prints, "72x60").plan
    again = scale(bed, prints, "12x10").plan
    assert again.columns == plan.columns
    assert again.finished_strip == plan.finished_strip


def test_a_bed_becomes_a_mini() -> None:
    """60 x 80 in, 20 prints, down to 8 x 10: rows and columns merge, nothing under an allowance."""
    plan, prints = planned(20, size="60x80", strip="1", repeats=4)
    scaled = scale(plan, prints, "8x10")
    after = scaled.plan
    assert after.centre == (8, 10)
    assert after.rows * min(after.finished_strip.values()) <= 10
    assert min(after.finished_strip.values()) >= F(1, 4)
    assert min(c.finished_width for c in after.columns) >= F(1, 4)
    assert set(after.prints) == set(plan.prints) - set(scaled.survives["merged_prints"])
    assert set(scaled.survives["merged_prints"].values()) <= set(after.prints)
    assert scaled.survives["curve"]["miss_share"] < 0.03
    assert scaled.look.verdict in {"yes", "partly"}
    check(after)


@st.composite
def designs(draw: st.DrawFn) -> tuple[int, dict[str, Any], tuple[Fraction, Fraction]]:
    n = draw(st.integers(2, 9))
    count = draw(st.integers(1, 8))
    step = st.integers(2, 12).map(lambda k: F(k, 8))
    options: dict[str, Any] = {
        "repeats": draw(st.integers(1, 4)),
        "strip": draw(step),
        "method": draw(st.sampled_from(["loop", "flat"])),
        "border": draw(st.sampled_from([None, 0, "1/2,2"])),
    }
    if draw(st.booleans()):
        options["columns"] = draw(st.lists(step, min_size=count, max_size=count))
        options["offsets"] = draw(st.lists(st.integers(0, n), min_size=count, max_size=count))
    else:
        options["curve"] = draw(st.sampled_from(["wave", "hill", "zigzag", "slope"]))
        options["symmetric"] = draw(st.booleans())
    side = st.integers(6, 400).map(lambda k: F(k, 4))
    return n, options, (draw(side), draw(side))


@given(designs())
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_every_scaled_design_sews(
    design: tuple[int, dict[str, Any], tuple[Fraction, Fraction]],
) -> None:
    n, options, size = design
    plan, prints = planned(n, **options)
    assume(size[1] * max(plan.finished_strip.values()) <= 15 * plan.centre[1])  # strips from cloth
    scaled = scale(plan, prints, size)
    after = scaled.plan
    check(after)
    assert after.centre == size
    assert after.repeats <= plan.repeats
    assert set(after.prints) <= set(plan.prints)
    assert [key for key in plan.prints if key in after.prints] == list(after.prints)
    assert min(after.finished_strip.values()) >= after.seam
    if scaled.survives["columns_kept"]:
        assert [c.offset for c in after.columns] == [c.offset for c in plan.columns]
    document = json.loads(json.dumps(scaled.to_json()))
    assert document["schema"] == "passalong.scale/1"
    assert [a["verdict"] in {"yes", "partly", "no"} for a in document["answers"]] == [True] * 3


def test_a_drawn_design_without_a_curve_is_scaled_by_its_own_steps() -> None:
    plan, prints = planned(
        6, strip="1/2", repeats=2, columns=[1, "1/2", "1/2", 1, "1/2", "1/2", 2],
        offsets=[0, 1, 2, 3, 2, 1, 0],
    )  # fmt: skip
    scaled = scale(plan, prints, (F(3, 2), F(6)))
    assert not scaled.survives["columns_kept"]
    assert len(scaled.plan.columns) < 7
    assert scale(plan, prints, (F(18), F(6))).survives["columns_kept"]


def test_directional_prints_and_borders_go_along() -> None:
    plan, prints = planned(8, size="24x24", border="2,4", directional=("p1", "p2"))
    after = scale(plan, prints, "12x12").plan
    assert after.border is not None
    assert [border["width"] for border in after.border["borders"]] == [1, 2]
    assert {"p1", "p2"} <= set(after.options["asked"]["directional"])
    bare = scale(plan, prints, "12x12", border=0).plan
    assert bare.border is None


# ── strips and prints that merge ──────────────────────────────────────────────────────────


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_shared_out_strips_fill_the_height_exactly(data: st.DataObject) -> None:
    weights = data.draw(st.lists(st.integers(1, 9).map(F), min_size=1, max_size=12))
    total = data.draw(st.integers(1, 400)) * data.draw(st.sampled_from([F(1, 8), F(1, 12)]))
    strips = share_out(total, weights, F(1, 4), F(1, 8))
    if strips is None:
        assert len(weights) * F(1, 4) > total
        return
    assert sum(strips) == total
    assert min(strips) >= F(1, 4)
    if len(set(weights)) == 1:
        assert max(strips) - min(strips) <= F(1, 8)


@pytest.mark.parametrize("keep", [1, 2, 3, 4])
def test_merged_prints_are_the_best_runs(keep: int) -> None:
    """Against every way of cutting the sequence into runs."""
    from itertools import combinations

    rnd = np.random.default_rng(keep)
    labs = [tuple(rnd.uniform((20, -40, -40), (90, 40, 40))) for _ in range(7)]
    order = [f"p{i}" for i in range(7)]
    apart = np.asarray(ciede2000(np.array(labs)[:, None], np.array(labs)[None])) ** 2
    best = math.inf
    for cuts in combinations(range(1, 7), keep - 1):
        runs = [range(a, b) for a, b in pairwise([0, *cuts, 7])]
        best = min(best, sum(apart[np.ix_(run, run)].sum(axis=0).min() for run in runs))
    stands = merge_prints(order, labs, keep)  # type: ignore[arg-type]
    cost = sum(apart[order.index(key), order.index(to)] for key, to in stands.items())
    assert len(set(stands.values())) == keep
    assert cost == pytest.approx(best, rel=1e-6)


# ── the picture ───────────────────────────────────────────────────────────────────────────


def test_painted_blocks_show_the_plan() -> None:
    plan, prints = planned(5, size="4x5", strip="1/2", repeats=2)
    colours = {p.id: p.mean_lab for p in prints}
    picture = xyz_to_lab(paint(blocks_of(plan), colours, (400, 320)))
    for column in range(len(plan.columns)):
        left = sum(float(c.finished_width) for c in plan.columns[:column])
        x = left + float(plan.columns[column].finished_width) / 2
        for row in range(plan.rows):
            here = picture[int((row + 0.5) * 40), int(x * 80)]
            assert np.allclose(here, colours[plan.patch_print(row, column)], atol=1e-6)


def test_from_afar_plain_cloth_is_itself() -> None:
    """S-CIELAB of a uniform picture is CIELAB (Zhang and Wandell 1997)."""
    lab = np.array([60.0, 25.0, -30.0])
    plain = np.broadcast_to(lab_to_xyz(lab), (40, 40, 3))
    assert np.allclose(from_afar(plain, 20.0), lab, atol=1e-9)


def test_from_afar_fine_stripes_melt_and_colour_melts_first() -> None:
    """The eye resolves about 60 stripe pairs to a degree in light and dark, far fewer in hue."""

    def contrast(first: tuple[float, ...], second: tuple[float, ...], cycles: float) -> float:
        per_degree = 240.0
        period = per_degree / cycles
        which = (np.arange(480) % period < period / 2)[None, :, None]
        xyz = np.where(which, lab_to_xyz(first), lab_to_xyz(second)).repeat(40, axis=0)
        seen = from_afar(xyz, per_degree)[20, 120:360]
        return float(np.linalg.norm(np.ptp(seen, axis=0)))

    light, dark = (80.0, 0.0, 0.0), (40.0, 0.0, 0.0)
    assert contrast(light, dark, 60) < 0.05 * contrast(light, dark, 1)
    assert contrast(light, dark, 5) > 0.5 * contrast(light, dark, 1)
    red, green = (60.0, 40.0, 0.0), (60.0, -40.0, 0.0)
    share = {key: contrast(*pair, 8) / contrast(*pair, 1)
             for key, pair in {"value": (light, dark), "hue": (red, green)}.items()}  # fmt: skip
    assert share["hue"] < share["value"]


def test_likeness_rises_with_what_is_changed() -> None:
    plan, prints = planned(12, size="12x9", strip="1/4", repeats=3)
    colours = {p.id: p.mean_lab for p in prints}
    blocks = blocks_of(plan)
    same = compare(blocks, blocks, colours)
    one = list(blocks.offsets)
    one[5] = (one[5] + 1) % 12
    near = compare(blocks, replace(blocks, offsets=tuple(one)), colours)
    half = replace(blocks, offsets=tuple((o + 6) % 12 for o in blocks.offsets))
    opposite = compare(blocks, half, colours)
    assert (same.mean, same.share) == (0, 0)
    assert 0 < near.share < 0.2 < 1 < opposite.share


def test_plain_cloth_of_the_mean_misses_by_its_whole_contrast() -> None:
    """What ``share`` counts in: 1 for cloth of one colour."""
    plan, prints = planned(12, size="12x9", strip="1/4", repeats=3)
    colours = {p.id: p.mean_lab for p in prints}
    blocks = blocks_of(plan)
    mean = np.mean(list(colours.values()), axis=0)
    plain = Blocks(("a", "b"), (F(9, 2), F(9, 2)), 1, (F(12),), (0,))
    both = {**colours, "a": tuple(mean), "b": tuple(mean)}
    assert compare(blocks, plain, both).share == pytest.approx(1, abs=0.12)


def test_offsets_unwrap_to_the_nearer_side() -> None:
    assert unwrapped([0, 1, 2, 0, 4, 3], 5) == [0, 1, 2, 0, -1, -2]
    assert unwrapped([4, 0, 1], 5) == [4, 5, 6]


def test_curve_shares() -> None:
    blocks = Blocks(("a", "b", "c", "d"), (F(1),) * 4, 2, (F(2), F(2)), (0, 2))
    assert curve_height(blocks) == 0.25
    assert curve_miss(blocks, replace(blocks, offsets=(1, 3))) == 0


# ── can it be sewn, is it worth it ────────────────────────────────────────────────────────


def test_rules_say_what_is_wrong() -> None:
    plan, prints = planned(12, scraps=(18, 11), size="12x9", strip="1/4", repeats=3)
    assert verdict(scale(plan, prints, "12x9"), "scraps") == "yes"
    bed = scale(plan, prints, "80x60")
    assert (bed.sewn.verdict, verdict(bed, "scraps")) == ("no", "no")
    assert "Too little cloth" in bed.sewn.reason
    mini = scale(plan, prints, "12x10")
    assert verdict(mini, "on the ruler") == "partly"
    assert "9 3/4 in or 10 1/8 in" in mini.sewn.reason
    nowhere = scale(*planned(12, size="12x9", strip="1/4", repeats=3), "12x9")
    assert verdict(nowhere, "scraps") == "partly"


def test_layers_and_tolerance_follow_the_strip_width() -> None:
    """At 1/4 in, pressed open, column seams go through six layers (published teaching example)."""
    plan, prints = planned(6, size="9x9", strip="1/2", repeats=3)
    rules = {rule["rule"]: rule for rule in scale(plan, prints, "9x9").sewn.rules}
    fine = {rule["rule"]: rule for rule in scale(plan, prints, (F(9), F(9, 2))).sewn.rules}
    assert rules["layers"]["figure"] < fine["layers"]["figure"] == 6
    assert rules["sewing tolerance"]["figure"] < fine["sewing tolerance"]["figure"]
    assert fine["smallest finished width"]["figure"] == F(1, 4)


def test_small_is_dear_by_the_square_inch() -> None:
    plan, prints = planned(12, size="60x72", strip="2", repeats=3)
    mini, half = scale(plan, prints, "10x12"), scale(plan, prints, "30x36")
    assert mini.worth.figures["per_square_inch"]["seams"] > 5
    assert mini.worth.figures["per_square_inch"]["seams"] > (
        half.worth.figures["per_square_inch"]["seams"]) > 1  # fmt: skip
    assert mini.worth.verdict == "no"
    assert scale(plan, prints, "60x72").worth.verdict == "yes"


def test_figures_are_the_plans_own() -> None:
    plan, prints = planned(10, size="12x10")
    scaled = scale(plan, prints, "24x20")
    document = scaled.to_json()
    for side, figures in ((plan, document["before"]), (scaled.plan, document["after"])):
        assert figures["seams"] == side.seams["count"]
        assert figures["seams_opened"] == side.seams["opened"]
        assert F(figures["seam_length"]) == side.seams["length"]
        assert figures["cuts"] == side.seams["cuts"]
        cloth = sum(s.width * s.length for need in side.fabric for s in need.strips)
        assert F(figures["cloth"]) == cloth
        area = side.centre[0] * side.centre[1]
        assert figures["per_square_inch"]["cloth"] == pytest.approx(float(cloth / area), abs=1e-4)


def test_metric_stays_metric() -> None:
    plan, prints = planned(10, size="30x28cm", units="cm")
    scaled = scale(plan, prints, "60x56cm")
    assert scaled.plan.options["units"] == "cm"
    assert scaled.survives["columns_kept"]
    assert " in " not in scaled.sewn.reason


# ── bad input ─────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("size", "changes", "word"),
    [
        ("banana", {}, "size"),
        ("0x4", {}, "size"),
        ("1/4x1/4", {}, "allowance"),
        ("8 1/64x10", {}, "Nearest"),
        ("900x900", {}, "bed"),
        ("8x10", {"repeats": 2}, "repeats"),
        ("8x10", {"sparkle": 2}, "sparkle"),
        (None, {}, "size"),
    ],
)
def test_sizes_that_cannot_be(size: Any, changes: dict[str, Any], word: str) -> None:
    plan, prints = planned(8, size="12x10")
    with pytest.raises(PassalongError, match=word):
        scale(plan, prints, size, **changes)


def test_a_print_that_is_gone_is_named() -> None:
    plan, prints = planned(8, size="12x10")
    with pytest.raises(PassalongError, match="p7"):
        scale(plan, prints[:-1], "8x10")
