"""Large boxes: close to the bound, wishes kept, and the limit of time."""

from __future__ import annotations

import time

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN
from sequencer.order.search.tours.ring import Ring
from sequencer.order.search.tours.rings import solve_ring


def _cloud(n: int, seed: int) -> np.ndarray:
    points = np.random.default_rng(seed).random((n, 3))
    apart = np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2))
    return np.rint(apart * 1e6).astype(np.int64)


def test_a_large_box_is_close_to_its_bound_and_keeps_wishes():
    weights = _cloud(300, 3)
    together = frozenset({(3, 250), (7, 90), (90, 200)})
    weights[5, :150] = weights[:150, 5] = FORBIDDEN
    for fixed in (frozenset(), together):
        answer = solve_ring(Ring(weights, fixed), time.monotonic() + 60)
        assert answer.order is not None
        assert Ring(weights, fixed).allows(answer.order)
        assert answer.bound <= answer.weight <= 1.01 * answer.bound


def test_out_of_time_there_is_still_an_order():
    answer = solve_ring(Ring(_cloud(450, 3)), time.monotonic() + 0.2)
    assert answer.order is not None
    assert sorted(answer.order) == list(range(450))
    assert answer.bound <= answer.weight
    assert answer.proved == (answer.bound == answer.weight)
