"""The column fit against brute force: on small rulers every possible set of columns is tried."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import PlanError
from sequencer.plan.columns.fitting import MILLI, fit_columns, fit_offsets
from sequencer.plan.curve.curves import NAMES, heights, read_curve


def widths_of(total: int, least: int, most: int) -> Iterator[tuple[int, ...]]:
    if total == 0:
        yield ()
    for width in range(least, min(most, total) + 1):
        for rest in widths_of(total - width, least, most):
            yield (width, *rest)


def offsets_of(count: int, among: range, steps: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    for first in among:
        stack = [(first,)]
        while stack:
            so_far = stack.pop()
            if len(so_far) == count:
                yield so_far
                continue
            reach = {so_far[-1] + sign * step for step in steps for sign in (1, -1)}
            stack += [(*so_far, at) for at in reach if at in among]


def cost_of(aims: list[int], widths: tuple[int, ...], offsets: tuple[int, ...], price: int) -> int:
    shown = [o * MILLI for o, w in zip(offsets, widths, strict=True) for _ in range(w)]
    return sum((a - b) ** 2 for a, b in zip(aims, shown, strict=True)) + price * len(widths)


def brute_force(
    aims: list[int], least: int, most: int, steps: tuple[int, ...], price: int, mirrored: bool
) -> int | None:
    among = range(min(aims) // MILLI - 1, max(aims) // MILLI + 3)
    best = None
    for widths in widths_of(len(aims), least, most):
        if mirrored and (widths != widths[::-1] or len(widths) % 2 == 0):
            continue
        for offsets in offsets_of(len(widths), among, steps):
            if mirrored and offsets != offsets[::-1]:
                continue
            cost = cost_of(aims, widths, offsets, price)
            best = cost if best is None else min(best, cost)
    return best


@settings(max_examples=150, deadline=None, derandomize=True, database=None)
@given(
    st.lists(st.floats(0, 2.5), min_size=2, max_size=8),
    st.integers(1, 3),
    st.integers(0, 4),
    st.sampled_from([(1,), (0, 1), (1, 2), (2,)]),
    st.sampled_from([0.0, 0.05, 0.7]),
    st.booleans(),
)
def test_no_other_columns_are_better(
    rows: list[float], least: int, more: int, steps: tuple[int, ...], price: float, mirrored: bool
) -> None:
    aims = np.rint(np.array(rows) * MILLI).astype(int)
    if mirrored:
        aims = (aims + aims[::-1]) // 2
    best = brute_force(
        aims.tolist(), least, least + more, steps, round(price * MILLI**2), mirrored
    )
    if best is None:
        words = "No mirrored columns fill|No number of" if mirrored else "No number of columns"
        with pytest.raises(PlanError, match=words):
            fit_columns(np.array(rows), least, least + more, steps, price, mirrored)
        return
    found = fit_columns(np.array(rows), least, least + more, steps, price, mirrored)
    assert found.cost == best
    assert cost_of(aims.tolist(), found.widths, found.offsets, round(price * MILLI**2)) == best
    assert sum(found.widths) == len(rows)
    assert all(least <= width <= least + more for width in found.widths)
    assert all(abs(a - b) in steps for a, b in pairwise(found.offsets))


@settings(max_examples=100, deadline=None, derandomize=True, database=None)
@given(
    st.lists(
        st.tuples(st.floats(0, 2.5), st.sampled_from([0.25, 0.5, 2.0])), min_size=1, max_size=6
    ),
    st.sampled_from([(1,), (0, 1), (1, 2)]),
)
def test_no_other_offsets_are_better(
    columns: list[tuple[float, float]], steps: tuple[int, ...]
) -> None:
    means = np.array([mean for mean, _ in columns])
    weights = [weight for _, weight in columns]
    aims = np.rint(means * MILLI)
    among = range(int(aims.min()) // MILLI - 1, int(aims.max()) // MILLI + 3)

    def miss(offsets: tuple[int, ...]) -> float:
        shown = np.array(offsets) * MILLI
        return float(((aims - shown) ** 2 * np.rint(np.array(weights) * MILLI)).sum())

    found = fit_offsets(means, weights, steps)
    assert miss(found) == min(miss(o) for o in offsets_of(len(columns), among, steps))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("cells", [64, 96, 111])
def test_columns_are_narrow_where_steep_and_wide_at_crests(name: str, cells: int) -> None:
    rows, _ = heights(read_curve(name), cells, 2, 1, 36)
    found = fit_columns(rows, 2, 20, (1,), 0.2)
    assert found.rms_rows < 0.4
    turns = [
        (left, here, right)
        for (left, here, right), (before, at, after) in zip(
            zip(found.widths, found.widths[1:], found.widths[2:], strict=False),
            zip(found.offsets, found.offsets[1:], found.offsets[2:], strict=False),
            strict=True,
        )
        if before == after != at
    ]
    assert all(here * 2 > min(left, right) for left, here, right in turns), "a sliver at a crest"
    if name in {"wave", "hill", "valley"}:
        assert all(here >= max(left, right) for left, here, right in turns)


def test_a_price_removes_slivers() -> None:
    """A crest that pokes 0.6 rows out gets a sliver of its own without a price, none with one."""
    rows = np.zeros(40)
    rows[19:21] = 0.6
    free = fit_columns(rows, 2, 40, (1,), 0.0)
    priced = fit_columns(rows, 2, 40, (1,), 0.5)
    assert 2 in free.widths
    assert priced.widths == (40,)


def test_more_freedom_never_fits_worse() -> None:
    rows, _ = heights(read_curve("wave"), 90, 2, 1, 36)
    costs = [fit_columns(rows, 2, largest, (1,)).cost for largest in (4, 8, 16, 32)]
    assert costs == sorted(costs, reverse=True)
    steps = [fit_columns(rows * 2, 2, 16, s).cost for s in ((1,), (0, 1), (0, 1, 2))]
    assert steps == sorted(steps, reverse=True)


def test_same_columns_every_time() -> None:
    rows, _ = heights(read_curve("flame"), 200, 3, 1, 36)
    nudged = rows + np.random.default_rng(1).uniform(-1e-9, 1e-9, 200)
    first, second = (fit_columns(r, 3, 30, (1,), 0.1) for r in (rows, nudged))
    assert (first.widths, first.offsets) == (second.widths, second.offsets)


def test_widths_that_cannot_fill() -> None:
    with pytest.raises(PlanError, match="No number of columns"):
        fit_columns(np.zeros(7), 4, 5, (1,))
