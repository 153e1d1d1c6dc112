"""Large boxes: the warm start by fast-tsp, against the proved bound, and the answer without it."""

from __future__ import annotations

import sys
import time

import numpy as np

from sequencer.order.costs import FORBIDDEN
from sequencer.order.exact import Ring, solve_ring
from sequencer.order.heuristics import near_neighbours
from sequencer.order.warm import _coarse, warm_tour


def _cloud(n: int, seed: int) -> np.ndarray:
    points = np.random.default_rng(seed).random((n, 3))
    apart = np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2))
    return np.rint(apart * 1e6).astype(np.int64)


def test_the_warm_start_of_a_large_box_is_close_to_the_bound_and_keeps_wishes():
    weights = _cloud(500, 3)
    together = frozenset({(3, 400), (7, 90), (90, 200)})
    weights[5, :250] = weights[:250, 5] = FORBIDDEN
    for fixed in (frozenset(), together):
        answer = solve_ring(Ring(weights, fixed), time.monotonic() + 8)
        assert answer.order is not None
        assert Ring(weights, fixed).allows(answer.order)
        assert answer.bound <= answer.weight <= 1.01 * answer.bound


def test_without_the_compiled_search_a_large_box_is_still_answered(monkeypatch):
    monkeypatch.setitem(sys.modules, "fast_tsp", None)
    weights = _cloud(450, 3)
    assert warm_tour(weights, near_neighbours(weights, 10), frozenset(), 0.1) is None
    started = time.monotonic()
    answer = solve_ring(Ring(weights), started + 3)
    assert answer.order is not None
    assert sorted(answer.order) == list(range(450))
    assert time.monotonic() - started < 6


def test_coarse_weights_keep_their_order_whatever_lies_far_away():
    weights = _cloud(450, 4)
    weights[0, 1:] = weights[1:, 0] = 10**9  # one print far from every other
    coarse = _coarse(weights, near_neighbours(weights, 10), frozenset({(1, 2)}))
    close = near_neighbours(weights[1:, 1:], 10) + 1
    fine = weights[np.arange(1, 450)[:, None], close].astype(float)
    kept = coarse[np.arange(1, 450)[:, None], close].astype(float)
    pairs = {tuple(sorted(pair)) for pair in [(1, 2)]}
    away = np.array([[tuple(sorted((a, b))) not in pairs for b in row]
                     for a, row in zip(range(1, 450), close.tolist(), strict=True)])
    slope = np.polyfit(fine[away], kept[away], 1)
    assert np.abs(np.polyval(slope, fine[away]) - kept[away]).max() < 1
    assert coarse[1, 2] == 0 < kept[away].min()
