"""Confidence: what stands when the colours are drawn again, and the search behind it."""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest
from cloths import plain_cloth, random_cloths, sequence_of
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.order import find_sequence, transition_graph
from sequencer.order.confidence import confidence, with_confidence
from sequencer.order.nearby import _lift, _lift_gains, _turn, _turn_gains, descend


def greys(*values, **more):
    return [plain_cloth(f"g{k}", float(v), 0.0, 0.0, **more) for k, v in enumerate(values)]


def asked(prints, loop=False, **more):
    graph = transition_graph(prints)
    sequence = find_sequence(graph, loop=loop)
    return sequence, confidence(graph, sequence, prints, **more)


def test_exact_colours_leave_no_doubt():
    sequence, found = asked(greys(20, 40, 60, 80, 95, uncertainty=0.0))
    assert found.order == 1.0
    assert found.neighbours == (1.0,) * 4
    assert all(pair.certain for pair in with_confidence(sequence, found).neighbours)


def test_steps_far_beyond_the_uncertainty_stand_and_steps_within_it_do_not():
    """Six greys 15 L* apart, each known to 2; then 3 L* apart, each known to 10 on its own."""
    _, wide = asked(greys(10, 25, 40, 55, 70, 85, uncertainty=2.0))
    assert wide.order == 1.0
    sequence, close = asked(greys(40, 43, 46, 49, 52, 55, uncertainty=10.0))
    assert close.order < 0.2
    assert not all(pair.certain for pair in with_confidence(sequence, close).neighbours)


def test_one_photo_errs_together_and_many_do_not():
    """The same uncertainty weighs little when the light moved every print alike."""
    together = greys(40, 46, 52, 58, 64, 70, uncertainty=10.0, photo="table.jpg")
    apart = greys(40, 46, 52, 58, 64, 70, uncertainty=10.0)
    assert asked(together)[1].order > 0.9 > asked(apart)[1].order


def test_the_doubtful_pair_is_the_one_that_is_named():
    """Two greys 2 L* apart at the end of a clear scale may change places; the rest stands."""
    sequence, found = asked(greys(10, 28, 46, 64, 66.5, uncertainty=4.0))
    pairs = with_confidence(sequence, found).neighbours
    assert [{pair.a, pair.b} for pair in pairs if not pair.certain] == [{"g2", "g3"}]


def test_same_seed_same_answer_and_another_seed_another():
    prints = random_cloths(12, 4, 3)
    graph = transition_graph(prints)
    sequence = find_sequence(graph, loop=True)
    prints = [replace(one, uncertainty=12.0) for one in prints]
    once = confidence(graph, sequence, prints, seed=5)
    assert once == confidence(graph, sequence, prints, seed=5)
    assert once != confidence(graph, sequence, prints, seed=6)
    json.dumps(once.to_json())


def test_wishes_are_kept_while_searching():
    prints = greys(40, 43, 46, 49, 52, 55, uncertainty=10.0)
    graph = transition_graph(prints)
    sequence = sequence_of(graph, [one.id for one in prints])
    held = confidence(graph, sequence, prints, accepts=lambda order: order == sequence.order)
    assert held.order == 1.0


@pytest.mark.parametrize("count", [1, 2, 3])
def test_too_few_to_doubt(count):
    prints = greys(*range(20, 20 + 10 * count, 10))
    graph = transition_graph(prints)
    sequence = sequence_of(graph, [one.id for one in prints])
    found = confidence(graph, sequence, prints)
    assert found.trials == 0
    assert with_confidence(sequence, found) == sequence


def test_trials_shrink_with_the_box_so_that_the_answer_is_not_kept_waiting():
    from sequencer.order.confidence import _trials_for

    assert [_trials_for(n) for n in (5, 50, 100, 200, 201)] == [40, 40, 20, 10, 0]


# ── the search ────────────────────────────────────────────────────────────────────────────


def weights(seed, n):
    random = np.random.default_rng(seed)
    half = np.triu(random.integers(1, 1000, (n, n)), 1).astype(float)
    return half + half.T


def length(costs, ring):
    return float(costs[ring, np.roll(ring, -1)].sum())


@given(st.integers(0, 10**6), st.integers(4, 9))
@settings(max_examples=40, deadline=None)
def test_gains_are_what_the_moves_really_change(seed, n):
    costs = weights(seed, n)
    ring = np.random.default_rng(seed).permutation(n)
    before = length(costs, ring)
    moves = [(_turn_gains(costs, ring), _turn, ())]
    for piece, turned in itertools.product(range(1, min(3, n - 3) + 1), (False, True)):
        moves.append((_lift_gains(costs, ring, piece, turned), _lift, (piece, turned)))
    for gains, move, how in moves:
        for i, j in np.argwhere(np.isfinite(gains)):
            after = move(ring, int(i), int(j), *how)
            assert sorted(after) == list(range(n))
            assert length(costs, after) - before == pytest.approx(gains[i, j])


@given(st.integers(0, 10**6), st.booleans())
@settings(max_examples=30, deadline=None)
def test_descent_never_ends_worse_and_mostly_ends_best(seed, loop):
    costs = weights(seed, 6)

    def total(order):
        closing = costs[order[-1], order[0]] if loop else 0
        return sum(costs[a, b] for a, b in itertools.pairwise(order)) + closing

    found = descend(costs, list(range(6)), loop, lambda _: True, 20)
    best = min(total(p) for p in itertools.permutations(range(6)))
    assert sorted(found) == list(range(6))
    assert best <= total(found) <= total(list(range(6)))
    assert total(found) <= 1.5 * best


def test_pairs_that_may_not_meet_are_never_brought_together():
    costs = weights(1, 6)
    costs[0, 3] = costs[3, 0] = np.inf
    found = descend(costs, list(range(6)), True, lambda _: True, 20)
    at = {k: p for p, k in enumerate(found)}
    assert abs(at[0] - at[3]) not in (1, 5)
