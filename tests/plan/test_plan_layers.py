"""Layers and precision: the published six, and an independent count by sampling the seam."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.models import Plan, Print
from sequencer.plan import plan_columns

F = Fraction


def make(n: int = 5, **options: Any) -> Plan:
    prints = [Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), ()) for i in range(n)]
    return plan_columns(prints, [item.id for item in prints], **options)


@pytest.mark.parametrize("method", ["loop", "flat"])
def test_six_layers_at_a_quarter_inch_pressed_open(method: str) -> None:
    """Published teaching example: at 1/4 in strips and seams, pressed open, six layers."""
    layers = make(strip="1/4", seam="1/4", press="open", method=method).layers
    assert layers["column_seam_max"] == layers["column_seam_typical"] == 6


@pytest.mark.parametrize(
    ("strip", "press", "most", "typical"),
    [
        ("1/4", "open", 6, 6),
        ("3/8", "open", 6, 4),  # within half of each patch both allowances overlap
        ("1/2", "open", 4, 4),
        ("2", "open", 4, 2),
        ("1/2", "nested", 4, 4),  # 3 on one side, 1 on the other, all along
        ("2", "nested", 4, 2),
        ("1/4", "nested", 6, 6),
    ],
)
def test_layers_worked_out_by_hand(strip: str, press: str, most: int, typical: int) -> None:
    """Counted by hand on squared paper from the rule one layer + allowances (no source)."""
    layers = make(strip=strip, seam="1/4", press=press, smallest="1/2").layers
    assert (layers["column_seam_max"], layers["column_seam_typical"]) == (most, typical)


def sampled(plan: Plan) -> tuple[int, int]:
    """Most and median layers along all column seams, by looking at many places of each."""
    unit = F(1, 64)
    seen: Counter[int] = Counter()
    along = [_column(plan, number, unit) for number in range(len(plan.columns))]
    for left, right in pairwise(along):
        seen.update((left + right).tolist())
    values = np.repeat(sorted(seen), [seen[k] for k in sorted(seen)])
    return int(values.max()), int(np.quantile(values, 0.5, method="inverted_cdf"))


def _column(plan: Plan, number: int, unit: F) -> np.ndarray:
    """Layers at the middle of each unit of the second of three repeats."""
    n = len(plan.prints)
    shown = [plan.finished_strip[plan.patch_print(row, number)] for row in range(n)] * 3
    edges = np.cumsum([0, *(int(width / unit) for width in shown)])
    layers = np.ones(edges[-1], dtype=int)
    seam = int(plan.seam / unit)
    press = "open" if plan.press == "open" else ("up", "down")[number % 2]
    for edge in edges[1:-1]:
        if press in {"open", "up"}:
            layers[max(0, edge - seam):edge] += 1 if press == "open" else 2
        if press in {"open", "down"}:
            layers[edge:edge + seam] += 1 if press == "open" else 2
    return layers[edges[n]:edges[2 * n]]


@settings(max_examples=150, deadline=None, derandomize=True, database=None)
@given(
    st.integers(2, 5).flatmap(
        lambda n: st.lists(st.integers(4, 14), min_size=n, max_size=n)
    ),
    st.sampled_from(["open", "nested"]),
    st.lists(st.integers(0, 6), min_size=2, max_size=6),
)
def test_layers_match_sampling(widths: list[int], press: str, offsets: list[int]) -> None:
    plan = make(
        len(widths), strip=[F(w, 16) for w in widths], press=press, offsets=offsets,
        columns=[F(1)] * len(offsets),
    )  # fmt: skip
    layers = plan.layers
    assert (layers["column_seam_max"], layers["column_seam_typical"]) == sampled(plan)


def test_bulk_is_told_only_where_there_is_bulk() -> None:
    def codes(**options: Any) -> set[str]:
        return {warning.code for warning in make(**options).warnings}

    assert "bulk" in codes(strip="1/4")
    assert "bulk" not in codes(strip="1", smallest="1")
    plan = make(columns=["1", "1/4", "3/8", "1/4", "1", "1/4", "1"], offsets=[0] * 7)
    told = next(warning.text for warning in plan.warnings if warning.code == "bulk")
    assert "Most of all in columns 2 to 4 and 6." in told


@pytest.mark.parametrize(
    ("strip", "press", "meets", "between"),
    [("1/4", "open", 6, None), ("3/8", "open", 4, 6), ("1/2", "open", 4, None),
     ("2", "open", 4, 2), ("2", "nested", 4, 2)],
)  # fmt: skip
def test_each_kind_of_crossing(strip: str, press: str, meets: int, between: int | None) -> None:
    """Counted by hand on squared paper; at 3/8 in the middle eighth of a patch has both
    allowances on either side, 3 + 3 layers (published six at 1/4 in).
    """
    layers = make(strip=strip, seam="1/4", press=press, smallest="1/2").layers
    assert layers["crossings"]["seam_on_seam"] == meets
    assert layers["crossings"]["seam_on_patch"] is None, "strips all alike: seams meet seams"
    assert layers["crossings"]["between_seams"] == between


def test_a_seam_against_plain_cloth() -> None:
    """Strips of 1, 1 1/2 and 2 in, offset by one: seams at 0, 1, 2 1/2 against 0, 1 1/2, 3 1/2."""
    plan = make(3, strip=["1", "1 1/2", "2"], offsets=[0, 1], columns=["1", "1"])
    assert plan.layers["crossings"] == {
        "seam_on_seam": 4, "seam_on_patch": 3, "between_seams": 2, "thinnest": 2,
    }  # fmt: skip


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(
    st.lists(st.integers(4, 14), min_size=3, max_size=5),
    st.sampled_from(["open", "nested"]),
    st.lists(st.integers(0, 6), min_size=2, max_size=6),
)
def test_every_column_seam_matches_sampling(
    widths: list[int], press: str, offsets: list[int]
) -> None:
    plan = make(
        len(widths), strip=[F(w, 16) for w in widths], press=press, offsets=offsets,
        columns=[F(1)] * len(offsets),
    )  # fmt: skip
    along = [_column(plan, number, F(1, 64)) for number in range(len(offsets))]
    for told, (left, right) in zip(plan.layers["column_seams"], pairwise(along), strict=True):
        assert told["most"] == (left + right).max()
        assert told["typical"] == np.quantile(left + right, 0.5, method="inverted_cdf")
    kinds = [value for value in plan.layers["crossings"].values() if value is not None]
    assert max(kinds) <= plan.layers["column_seam_max"]
    assert plan.layers["crossings"]["thinnest"] == min(
        (left + right).min() for left, right in pairwise(along)
    )


def test_bulk_says_where() -> None:
    def told(**options: Any) -> str:
        return next(one.text for one in make(**options).warnings if one.code == "bulk")

    thin = told(strip=["1/4", "1/4", "1", "1", "1"], offsets=[0, 1, 2, 3, 4], columns=["1"] * 5)
    assert "to the right of columns 1 and 2, at the strips of P0 and P1" in thin
    assert "middle of each strip" in told(strip="3/8")
    assert "(typically 6), all along, and the top" in told(strip="1/4")


def test_a_single_column_is_told() -> None:
    plan = make(columns="9")
    assert "one_column" in {warning.code for warning in plan.warnings}
    assert plan.layers["column_seam_max"] == 0


def test_precision_shrinks_with_tolerance_and_pins() -> None:
    one = {"set_length": "40", "columns": ["1"] * 12}
    plan = make(12, strip="1/4", **one)
    found = plan.options["precision"]
    assert found["pinned"] < found["unpinned"]
    assert 0.1 < found["pinned_share"] < 0.25, "about a fifth of a strip at 1/4 in"
    finer = make(12, strip="1/4", tolerance="1/64", **one).options["precision"]
    assert finer["pinned"] == pytest.approx(found["pinned"] / 2, abs=1e-3)
    wider = make(12, strip="1", **one).options["precision"]
    assert wider["pinned_share"] == pytest.approx(found["pinned_share"] / 4, abs=1e-3)
    nested = make(12, strip="1/4", press="nested", **one).options["precision"]
    assert nested["pinned"] > found["pinned"], "two sets do not share their errors"
    assert make(12, strip="1/4", **one).options["precision"] == found


def test_precision_matches_the_theory_of_a_pinned_walk() -> None:
    """Against the Brownian bridge: variance s²·t(n-t)/n between two pins (textbook, from memory).

    A step is the difference of two columns' wandering, each with half the variance of a seam
    whose two standard deviations are the tolerance; what the seams share adds one such variance
    twice, at the row and at the pin.
    """
    n, tolerance = 60, 1.0
    wander = 2 * (tolerance / 2) ** 2 / 2
    places = np.arange(1, n)
    variances = wander * places * (n - places) / n + (tolerance / 2) ** 2 / 2
    draws = np.random.default_rng(5).normal(0, np.sqrt(variances), (4000, n - 1))
    expected = float(np.quantile(np.abs(draws), 0.95))
    plan = make(n, strip="1", repeats=1, tolerance=tolerance, offsets=[0, 1],
                columns=["1", "1"], set_length="40")  # fmt: skip
    assert plan.options["precision"]["pinned"] == pytest.approx(expected, rel=0.12)


def sewn_by_hand(plan: Plan, trials: int = 400) -> float:
    """95th percentile of |miss| at the middle-pinned column joins of this very plan, in inches.

    Seam by seam: every set gets its own seams' errors, every column its own wandering, each column
    the seams of the set it was cut from, turned by its offset. Knows nothing of the planner's own
    simulation but the assumption it states (half of a seam's variance shared, half wandering).
    """
    rng = np.random.default_rng(11)
    n, rows = len(plan.prints), plan.rows
    spread = float(Fraction(plan.options["precision"]["tolerance"])) / 2 * np.sqrt(0.5)
    home = {column - 1: k for k, one in enumerate(plan.sets) for column in one.columns}
    starts = [plan.prints.index(one.strips[0].print) for one in plan.sets]
    misses = []
    for _ in range(trials):
        shared = rng.normal(0, spread, (len(plan.sets), rows))
        tops = []
        for place, column in enumerate(plan.columns):
            turn = (column.offset - starts[home[place]]) % n
            errors = np.roll(shared[home[place]], -turn) + rng.normal(0, spread, rows)
            down = np.cumsum(errors)
            tops.append(down - down[rows // 2])
        misses += [np.abs(a - b) for a, b in pairwise(tops)]
    return float(np.quantile(np.concatenate(misses), 0.95))


@pytest.mark.parametrize("wishes", [
    {}, {"press": "nested"}, {"set_length": "8"}, {"repeats": 1, "set_length": "5"},
])  # fmt: skip
def test_columns_of_different_sets_are_simulated_as_such(wishes: dict[str, Any]) -> None:
    plan = make(8, strip="1/2", **wishes)
    told = plan.options["precision"]["unpinned"]
    assert told == pytest.approx(sewn_by_hand(plan), rel=0.12)


def test_more_sets_miss_more() -> None:
    one, many = (make(8, strip="1/2", set_length=length) for length in ("40", "6"))
    assert len(many.sets) > len(one.sets) == 1
    assert many.options["precision"]["unpinned"] > one.options["precision"]["unpinned"]
