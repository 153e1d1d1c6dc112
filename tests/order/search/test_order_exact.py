"""What a linear program proves, in exact numbers: against fractions, and with wrong duals.

Weak duality (any textbook on linear programming) holds for any duals at all. So what HiGHS says is
spoilt here on purpose, and every tour, every choice is listed: no bound may pass the best, and no
edge or print that something lighter needs may be set aside.
"""

from __future__ import annotations

import itertools
import time
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import highspy
import numpy as np
import pytest

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.chosen.selection import Selection
from sequencer.order.search.question import Question
from sequencer.order.search.tours.program import Program
from sequencer.order.search.tours.relaxation import Relaxation
from sequencer.order.search.tours.ring import Ring, tour_pairs
from sequencer.order.search.tours.rings import RingSearch
from sequencer.order.search.tours.turning import ring_of


def rings(seed: int, n: int) -> Ring:
    """Points or any weights at all, now and then with forbidden, fixed and limited pairs."""
    random = np.random.default_rng(seed)
    points = random.random((n, 2)) * 1000
    weights = np.rint(((points[:, None] - points[None]) ** 2).sum(axis=2)).astype(np.int64)
    if seed % 3 == 0:
        weights = random.integers(1, 60, (n, n))
    weights[random.random((n, n)) < 0.1 * (seed % 2)] = FORBIDDEN
    weights = np.minimum(np.triu(weights, 1) + np.triu(weights, 1).T, FORBIDDEN)
    fixed = frozenset({(0, 3)}) if seed % 4 == 1 and weights[0, 3] < FORBIDDEN else frozenset()
    few = frozenset(itertools.combinations(range(4), 2))
    return Ring(weights, fixed, ((few, 1),) if seed % 5 == 2 else ())


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_is_the_same_in_fractions(seed: int) -> None:
    search = RingSearch(rings(seed, 30), time.monotonic() + 600)
    if not search.tighten():
        return
    program = search.relaxation
    dual, lp = program.dual(), program.solver.getLp()
    rows = [Fraction(y) for y in dual.rows]
    bound = Fraction(0)
    for y, low, high in zip(rows, lp.row_lower_, lp.row_upper_, strict=True):
        bound += y * Fraction(low if y > 0 else high) if y else 0
    start, index, value = (list(part) for part in (
        lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_))
    for k, cost in enumerate(lp.col_cost_):
        price = Fraction(cost) - sum(
            rows[index[i]] * Fraction(value[i]) for i in range(start[k], start[k + 1]))
        assert Fraction(dual.prices[k]) == price
        bound += price * Fraction(lp.col_lower_[k] if price > 0 else lp.col_upper_[k])
    assert Fraction(dual.bound) == bound
    assert dual.bound == pytest.approx(program.solver.getObjectiveValue(), rel=1e-6)


@dataclass
class _Spoilt:
    row_dual: Any
    row_value: Any
    col_value: Any
    col_dual: Any


def spoil(program: Program, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on this program's duals are anything from a bit of the wrong sign to too large."""
    random, solver = np.random.default_rng(seed), program.solver
    solution = solver.getSolution()
    row_dual = np.array(solution.row_dual) * random.uniform(-0.2, 1.4, len(solution.row_dual))
    spoilt = _Spoilt(row_dual, solution.row_value, solution.col_value, solution.col_dual)

    class Lying:
        def __getattr__(self, name: str) -> Any:
            return getattr(solver, name)

        def getSolution(self) -> Any:  # noqa: N802
            return spoilt

    monkeypatch.setattr(program, "solver", Lying())


@pytest.mark.parametrize("seed", range(30))
def test_wrong_duals_prove_nothing_wrong_about_tours(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All tours of seven prints, listed: below each weight the edges that the search keeps."""
    ring = rings(seed, 7)
    tours = [[0, *rest] for rest in itertools.permutations(range(1, 7)) if rest[0] < rest[-1]]
    able = [tour_pairs(tour) for tour in tours if ring.allows(tour)]
    search = RingSearch(ring, time.monotonic() + 600)
    if not able or not search.tighten():
        return
    weight = [sum(int(ring.weights[pair]) for pair in pairs) for pairs in able]
    for k in range(6):
        if k:
            spoil(search.relaxation, k, monkeypatch)
        bound, _ = search.relaxation.prices()
        assert bound <= min(weight)
        for upper in sorted({*weight[:40], min(weight) + 1, max(weight) + 1}):
            ends, low = search.edges_that_matter(upper)
            kept = {(a, b) for a, b in ends.tolist()}
            must = {(a, b) for (a, b), one in zip(ends.tolist(), low, strict=True) if one}
            lighter = [pairs for pairs, one in zip(able, weight, strict=True) if one < upper]
            assert all(pairs <= kept and must <= pairs for pairs in lighter)


@pytest.mark.parametrize("seed", range(20))
def test_tours_by_edges_not_in_play_are_charged_for(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nine edges of 21 in play: no tour by the others weighs less than the bound, nor less than it
    and the price of any edge in it."""
    ring = rings(seed, 7)
    few = [(i, i + 1) for i in range(6)] + [(0, 6), (1, 4), (2, 5)]
    ends = np.array([pair for pair in few if ring.weights[pair] < FORBIDDEN])
    model = Relaxation(7, ring.weights, ends, frozenset())
    tours = [[0, *rest] for rest in itertools.permutations(range(1, 7)) if rest[0] < rest[-1]]
    able = [tour_pairs(tour) for tour in tours if Ring(ring.weights).allows(tour)]
    if model.solve(600) is not True:
        return
    for k in range(6):
        if k:
            spoil(model, k, monkeypatch)
        bound, price = model.prices()
        for pairs in able:
            weight = sum(int(ring.weights[pair]) for pair in pairs)
            assert weight >= bound + max(0.0, *(price[pair] for pair in pairs))


@pytest.mark.parametrize("seed", range(30))
def test_wrong_duals_prove_nothing_wrong_about_choices(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Four or five of seven, listed, with few edges in play: an order weighs the bound and what is
    dear in it at least, and so does one that does without what the prices say it must have."""
    ring, loop, size = rings(seed, 7), bool(seed % 2), 4 + seed % 3 % 2
    include = frozenset({2}) if seed % 4 == 0 else frozenset()
    q = Question(ring.weights, size, loop, include=include, limits=tuple(ring.limits))
    model = Selection(q, ring_of(q)[0], np.array([[i, i + 1] for i in range(6)] + [[0, 6], [1, 4]]))
    orders = [order for order in itertools.permutations(range(7), size) if q.accepts(order)]
    if not orders or model.solve(600) is not True:
        return
    for k in range(6):
        if k:
            spoil(model, k, monkeypatch)
        bound, nodes, pairs = model.prices()
        played = {tuple(end) for end in model.ends.tolist()}
        for order in orders:
            ring_pairs = tour_pairs([*order, *range(7, model.n)])
            weight = q.weigh(order)
            assert weight >= bound
            dear = [nodes[v] for v in order if v not in include] + [pairs[p] for p in ring_pairs]
            assert weight >= bound + max(dear)
            spared = [-nodes[v] for v in range(7) if v not in order]
            spared += [-pairs[p] for p in played - ring_pairs]
            assert weight >= bound + max(spared, default=0.0)


def test_duals_too_large_for_floats_are_still_exact() -> None:
    """One pair at 2⁴⁰ beside pairs at 1: a coarser grain, not a wrong sum."""
    program = Program()
    program.solver.addCols(2, np.array([2.0**40, 1.0]), np.zeros(2), np.ones(2), 0,
                           np.zeros(2, np.int32), np.empty(0, np.int32), np.empty(0))
    program.solver.addRow(1.0, highspy.kHighsInf, 2, np.arange(2, dtype=np.int32), np.ones(2))
    program.solver.addRow(2.0, 2.0, 2, np.arange(2, dtype=np.int32), np.ones(2))
    assert program.solve(600)
    assert 0 < program.dual().bound <= 2**40 + 1
    assert program.dual().bound == pytest.approx(2**40 + 1)


@pytest.mark.parametrize("seed", range(40))
def test_the_integer_program_finds_a_tour_one_unit_lighter(seed: int) -> None:
    """All tours of seven prints, listed: from each of the next dearer weights it goes on to the
    least. Off by one it would call the dearer tour the best."""
    ring = rings(3 * seed, 7)  # small whole numbers: weights lie one apart
    tours = [[0, *rest] for rest in itertools.permutations(range(1, 7)) if rest[0] < rest[-1]]
    able = {sum(int(ring.weights[pair]) for pair in tour_pairs(tour)): tour
            for tour in tours if ring.allows(tour)}
    search = RingSearch(ring, time.monotonic() + 600)
    assert bool(search.tighten()) == bool(able)
    for weight in sorted(able)[:4]:
        search.best, search.bound = able[weight], -np.inf
        assert search._whole(any_tour=False)
        assert search.upper == search.bound == min(able)
