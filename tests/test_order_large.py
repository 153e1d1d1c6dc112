"""Large boxes: the warm start against the proved bound, the answer without it, its cuts."""

from __future__ import annotations

import sys
import time

import numpy as np
import pytest

from sequencer.order.costs import FORBIDDEN
from sequencer.order.cuts import subtours
from sequencer.order.exact import Ring, _Search, solve_ring
from sequencer.order.heuristics import good_tour, near_neighbours
from sequencer.order.teeth import toothed
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
    answer = solve_ring(Ring(weights), time.monotonic() + 3)
    assert answer.order is not None
    assert sorted(answer.order) == list(range(450))


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


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_toothed_combs_are_broken_now_and_kept_by_every_tour(seed):
    """Against tours near the best, where a wrong right-hand side would bite, and random ones."""
    n, until = 60, time.monotonic() + 60
    points = np.random.default_rng(seed).random((n, 2))
    weights = np.rint(1e6 * ((points[:, None] - points[None]) ** 2).sum(axis=2)).astype(np.int64)
    start = good_tour(weights, kicks=20, deadline=until)
    search = _Search(Ring(weights), start, until)
    relaxation, found = search.relaxation, []
    for _ in range(12):
        assert relaxation.solve(10.0)
        x = relaxation.x()
        cuts = subtours(n, relaxation.ends, x, search.line)
        if not cuts:
            cuts = toothed(n, relaxation.ends, x, search.line, relaxation.cuts)
            assert all(cut.on(relaxation.ends) @ x < cut.least - 0.03 for cut in cuts)
            found += cuts
        if not relaxation.add_cuts(cuts):
            break
    assert found
    rng = np.random.default_rng(seed)
    tours = [np.array(start), *(rng.permutation(n) for _ in range(20))]
    for kicks in range(40):
        shaken = np.floor(weights * rng.uniform(0.9, 1.1, weights.shape)).astype(np.int64)
        tours.append(np.array(good_tour(
            np.minimum(shaken, shaken.T), kicks=kicks % 5, deadline=until)))
    least = [min(cut.on(np.column_stack([t, np.roll(t, -1)])).sum() for t in tours) - cut.least
             for cut in found]
    assert min(least) == 0  # kept by all, and as sharp as they can be
