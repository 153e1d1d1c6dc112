"""The largest piece of a box and the best of a size: within the scraps, and none larger."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import PassalongError
from sequencer.inches import parse_size
from sequencer.models import Plan, Print
from sequencer.plan import best_at, best_piece, largest_piece, plan_columns
from sequencer.plan.answers.lines import even_parts
from tests.made.sewing import sew

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
    assert plan.search["status"] in {"proved", "bounded"}
    assert plan.search["best_possible"] >= float(plan.centre[0] * plan.centre[1])
    assert all(need.short_by == 0 for need in plan.fabric)
    sewn = sew(json.loads(json.dumps(plan.to_json())))
    assert (*sewn.centre,) == plan.centre


def no_shortage(plan: Plan) -> bool:
    return not any(need.short_by for need in plan.fabric)


def small_box(seed: int) -> tuple[list[Print], list[str]]:
    rnd = random.Random(seed)
    prints = [
        Print(f"p{i}", f"Print {i}", "", (), (20.0 + 20 * i, 0.0, 0.0), (),
              scraps=((F(rnd.randint(40, 100), 8), F(rnd.randint(16, 50), 8)),))
        for i in range(4)
    ]  # fmt: skip
    return prints, [p.id for p in prints]


@pytest.mark.parametrize("seed", [1, 2])
def test_no_larger_panel_can_be_cut(seed: int) -> None:
    """Panels of the space that are larger are planned outright, flat and loop, and found short;
    none is larger than what the search says is possible at all.
    """
    prints, ids = small_box(seed)
    plan = largest_piece(prints, ids, strip="1/2")
    area = plan.centre[0] * plan.centre[1]
    assert no_shortage(plan)
    tried = 0
    for repeats, method in product(range(1, 7), ("loop", "flat")):
        height = 2 * F(repeats)
        for quarters in range(2, 100):
            width = F(quarters, 4)
            if not area < width * height < area * 2 or not height / 2 <= width <= 2 * height:
                continue
            larger = plan_columns(prints, ids, size=(width, height), strip="1/2",
                                  repeats=repeats, method=method)  # fmt: skip
            assert not no_shortage(larger), (width, height, method)
            tried += 1
    assert tried >= 10


def test_proved_is_only_said_where_no_cloth_could_give_more() -> None:
    """With plenty of cloth the wall's own limit ends the search, and that is proved."""
    prints = [replace(p, scraps=((F(60), F(44)),) * 2) for p in small_box(1)[0]]
    plan = best_piece(prints, [p.id for p in prints])
    assert plan.search["status"] == "proved"
    assert max(plan.centre) <= 36
    scarce, ids = small_box(3)
    found = largest_piece(scarce, ids).search
    assert (found["status"], found["gap"] > 0) == ("bounded", True)
    assert found["best_possible"] > found["worth"]


@pytest.mark.parametrize("seed", range(6))
def test_no_panel_of_a_tiny_box_exceeds_what_is_said_to_be_possible(seed: int) -> None:
    """Every panel of the space, planned outright with proofs: those whose cloth suffices."""
    rnd = random.Random(seed)
    prints = [
        Print(f"p{i}", f"Print {i}", "", (), (20.0 + 20 * i, 0.0, 0.0), (),
              scraps=tuple((F(rnd.randint(24, 60), 8), F(rnd.randint(9, 30), 8))
                           for _ in range(rnd.randint(1, 2))))
        for i in range(3)
    ]  # fmt: skip
    ids = [p.id for p in prints]
    found = largest_piece(prints, ids, strip="1/2")
    area, able = found.centre[0] * found.centre[1], 0
    for repeats, (method, sets) in product(range(1, 7), (("loop", "tall"), ("flat", "repeat"))):
        height = F(3, 2) * repeats
        for quarters in range(2, 60):
            width = F(quarters, 4)
            if not height / 2 <= width <= 2 * height:
                continue
            other = plan_columns(prints, ids, size=(width, height), strip="1/2", repeats=repeats,
                                 method=method, sets=sets, prove=True)  # fmt: skip
            if no_shortage(other):
                able += 1
                assert float(width * height) <= found.search["best_possible"] + 1e-4
                assert width * height <= area or found.search["status"] != "proved"
            else:
                break
    assert able


@pytest.mark.parametrize("seed", range(8))
def test_no_length_of_strip_set_lacks_less_than_is_said_to_be_possible(seed: int) -> None:
    """Against every length of set on the ruler, cut with proofs."""
    rnd = random.Random(100 + seed)
    prints = [replace(p, scraps=tuple((F(rnd.randint(30, 60), 8), F(rnd.randint(9, 24), 8))
                                      for _ in range(rnd.randint(1, 3))))
              for p in small_box(seed)[0][:3]]  # fmt: skip
    wishes = {"size": (F(rnd.randint(16, 32), 4), 3), "strip": "1/2", "repeats": 2}
    ids = [p.id for p in prints]
    plan = plan_columns(prints, ids, **wishes, prove=True)
    short = sum(need.short_by for need in plan.fabric)
    said = plan.search
    others = []
    for eighths in range(8, 90):
        try:
            other = plan_columns(prints, ids, **wishes, set_length=F(eighths, 8), prove=True)
        except PassalongError:
            continue
        others.append(sum(need.short_by for need in other.fabric))
    assert len(others) > 20
    if short:
        assert float(min(others)) >= said["best_possible"]
        assert said["gap"] == round(float(short) - said["best_possible"], 4)
        assert said["status"] == ("bounded" if said["gap"] else "proved")
    if said["status"] == "proved":
        assert min(others) >= short


def test_the_best_piece_is_sewn_with_few_joins() -> None:
    prints, ids = box(9, 3)
    plan = best_piece(prints, ids)
    assert no_shortage(plan)
    assert plan.options["joins"] == "few"
    assert all(len(strip.pieces) <= 2 for one in plan.sets for strip in one.strips)
    assert F(2, 3) <= plan.centre[0] / plan.centre[1] <= F(3, 2)
    none = best_piece(prints, ids, joins="none")
    assert not any(need.joins for need in none.fabric)
    assert no_shortage(none)


def test_a_box_too_small_for_twelve_rows_still_gives_a_piece() -> None:
    prints, ids = small_box(3)
    tiny = [replace(p, scraps=((F(6), F(3, 2)),)) for p in prints]
    plan = best_piece(tiny, ids)
    assert no_shortage(plan)


def test_more_cloth_never_makes_it_smaller() -> None:
    prints, ids = small_box(5)
    more = [replace(p, scraps=(*p.scraps, (F(8), F(3)))) for p in prints]
    sizes = [
        plan.centre[0] * plan.centre[1]
        for plan in (largest_piece(box, ids, strip="1/2") for box in (prints, more))
    ]
    assert sizes[0] < sizes[1]


def test_free_strips_make_it_larger_still() -> None:
    prints, ids = box(8, 6)
    fixed, free = largest_piece(prints, ids, strip="1/4"), largest_piece(prints, ids)
    assert fixed.centre[0] * fixed.centre[1] <= free.centre[0] * free.centre[1]
    assert free.rows >= 12
    assert no_shortage(free)


def test_the_limiting_print_is_named() -> None:
    prints, ids = box(8)
    prints[3] = replace(prints[3], size_in=(8.0, 4.0))
    assert largest_piece(prints, ids, strip="1/4").search["limits"] == ["p3"]


def test_shape_and_unknown_sizes() -> None:
    prints, ids = small_box(7)
    prints[1] = replace(prints[1], scraps=())
    plan = largest_piece(prints, ids, strip="1/2", shape=(1, "5/4"))
    assert 1 <= plan.centre[0] / plan.centre[1] <= F(5, 4)
    assert "sizes_unknown" in {warning.code for warning in plan.warnings}


@pytest.mark.parametrize(
    ("options", "word"),
    [
        ({"size": "8x10"}, "size"),
        ({"prove": True}, "prove"),
        ({"sparkle": 1}, "sparkle"),
        ({"shape": (2, 1)}, "Shape"),
        ({"shape": (0, 1)}, "Shape"),
        ({"strip": "1/8"}, "narrower"),
        ({"strip": "wide"}, "not a length"),
        ({"strip": "50"}, "smallest of the panels"),
    ],
)
def test_bad_wishes_for_the_largest(options: dict[str, Any], word: str) -> None:
    prints, ids = small_box(1)
    with pytest.raises(PassalongError, match=word):
        largest_piece(prints, ids, **options)


def test_a_box_without_sizes_has_no_largest_piece() -> None:
    prints = [replace(p, scraps=()) for p in small_box(1)[0]]
    with pytest.raises(PassalongError, match="size"):
        largest_piece(prints, [p.id for p in prints])


# ── the best of a size ────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("size", ["8x10", "20x25cm"])
def test_the_best_piece_has_the_size_and_stays_within_the_scraps(size: str) -> None:
    prints, ids = box(10, 4)
    options = {"units": "cm"} if size.endswith("cm") else {}
    plan = best_at(prints, ids, size, **options)
    assert plan.centre == parse_size(size)
    assert no_shortage(plan)
    assert plan.search["status"] in {"proved", "bounded"}
    assert min(plan.finished_strip.values()) >= plan.seam
    sewn = sew(json.loads(json.dumps(plan.to_json())))
    assert (*sewn.centre,) == plan.centre


def test_a_scarce_print_gets_the_narrow_strips() -> None:
    prints, ids = box(8, 5)
    prints[4] = replace(prints[4], size_in=None, scraps=((F(20), F(3, 2)),))
    plan = best_at(prints, ids, "8x9")
    assert no_shortage(plan)
    assert plan.finished_strip["p4"] < max(plan.finished_strip.values())
    assert sum(plan.finished_strip.values()) * plan.repeats == 9


def test_finer_where_the_scraps_allow_it() -> None:
    """With unlimited cloth nothing follows the curve more closely than the best."""
    prints = [replace(p, size_in=None) for p in box(9)[0]]
    ids = [p.id for p in prints]
    best = best_at(prints, ids, "9x9")
    miss = best.search["miss"]
    for repeats in (1, 2, 3, 4):
        for smallest in ("1/4", "1/2", "3/4"):
            other = plan_columns(prints, ids, "9x9", strip=F(9, 9 * repeats), repeats=repeats,
                                 smallest=smallest)  # fmt: skip
            height = other.options["curve"]["height"]
            assert miss <= max(0.02, other.fit_rms_rows / height) + 1e-3


def test_one_search_says_what_it_compared() -> None:
    """Of a size too flat and loop are compared, and 'proved' names its space."""
    prints, ids = box(10, 4)
    found = [best_at(prints, ids, "8x10"), best_piece(prints, ids), largest_piece(prints, ids)]
    for plan in found:
        told = plan.search["what"]
        for words in ("flat with sets of one repeat and loop with tall sets", "scraps cut in lanes",
                      "columns as the curve wants them", "Not compared: other columns"):
            assert words in told
        assert (plan.search["status"] == "proved") == ("Of these none is better" in told)
        assert (plan.search["status"] == "proved") == (plan.search["gap"] == 0)
    only = best_at(prints, ids, "8x10", method="flat").search["what"]
    assert "loop" not in only


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_even_parts_are_as_even_as_brute_force(data: st.DataObject) -> None:
    n = data.draw(st.integers(1, 4))
    least = data.draw(st.integers(1, 3))
    most = data.draw(st.lists(st.integers(least, 7), min_size=n, max_size=n))
    total = data.draw(st.integers(0, 26))
    found = even_parts(total, least, most)
    every = [
        parts for parts in product(*(range(least, top + 1) for top in most)) if sum(parts) == total
    ]
    assert bool(found) == bool(every)
    if every:
        assert tuple(found) in every
        assert sum(p * p for p in found) == min(sum(p * p for p in parts) for parts in every)


@pytest.mark.parametrize(
    ("size", "options", "word"),
    [
        ("60x80", {}, "largest"),
        ("3x1", {}, "fill"),
        ("banana", {}, "size"),
        ("0x5", {}, "size"),
        ("8x10", {"strip": "1/4"}, "strip"),
        ("8x10", {"curve": "spiral"}, "spiral"),
        ("1/8x9", {}, "column"),
        ("900x900", {}, "bed"),
    ],
)
def test_sizes_that_cannot_be(size: str, options: dict[str, Any], word: str) -> None:
    prints, ids = box(10, 4)
    with pytest.raises(PassalongError, match=word):
        best_at(prints, ids, size, **options)


def test_the_same_box_gives_the_same_piece() -> None:
    prints, ids = small_box(2)
    first, second = (best_piece(prints, ids, strip="1/2") for _ in range(2))
    assert first.to_json() == second.to_json()
