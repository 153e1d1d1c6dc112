"""Confidence: what stands when the colours are drawn again, and the search behind it."""

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import SequenceError
from sequencer.order import find_sequence, transition_graph
from sequencer.order.confidence import confidence, doubts, with_confidence
from sequencer.order.nearby import _lift, _lift_gains, _turn, _turn_gains, descend
from tests.made.cloths import plain_cloth, random_cloths, sequence_of


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
    """The same uncertainty weighs less when the light moved every print alike.

    Unless told otherwise .6 of it is a print's own, as pairs in real photos of targets show.
    """
    lightness = (40, 46, 52, 58, 64, 70)
    together = greys(*lightness, uncertainty=10.0, photo="table.jpg")
    apart = greys(*lightness, uncertainty=10.0)
    told = [replace(one, own_uncertainty=3.0) for one in together]
    assert asked(told)[1].order > 0.9 > asked(together)[1].order > asked(apart)[1].order + 0.1


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
    from sequencer.order.wishes.wish import read_wishes

    prints = greys(40, 43, 46, 49, 52, 55, uncertainty=10.0)
    graph = transition_graph(prints)
    pairs = [(f"g{k}", f"g{k + 1}") for k in range(5)]
    found = find_sequence(graph, together=pairs, prints=prints)
    assert found.confidence["order"] == 1.0
    wishes = read_wishes(tuple(graph), loop=False, first="g0", last="g5")
    free = confidence(graph, find_sequence(graph), prints)
    held = confidence(graph, find_sequence(graph), prints, wishes=wishes)
    assert held.order > free.order


@pytest.mark.parametrize("loop", [False, True])
@pytest.mark.parametrize("aim", ["even", "total", "worst"])
def test_every_trial_is_solved_exactly(loop, aim):
    """The same draws, each by plain enumeration of all orders."""
    from sequencer.order.confidence import _pairs
    from sequencer.order.drawn import Trials

    prints = [replace(one, uncertainty=9.0) for one in random_cloths(6, 3, 11)]
    graph = transition_graph(prints)
    sequence = find_sequence(graph, loop=loop, aim=aim)
    found = confidence(graph, sequence, prints, seed=3, trials=20)
    trial = Trials(graph, sequence, prints, 3)

    def price(costs, order):
        steps = [costs[a, b] for a, b in itertools.pairwise(order)]
        steps += [costs[order[-1], order[0]]] * loop
        if aim == "worst":
            return (round(max(steps), 6), round(sum(steps), 6))
        return (round(sum(x * x if aim == "even" else x for x in steps), 6),)

    kept = np.zeros(len(trial.pairs))
    stood = 0
    for costs in trial.draw(20):
        best = min(itertools.permutations(range(6)), key=lambda order: price(costs, order))
        pairs = _pairs(list(best), loop)
        kept += [pair in pairs for pair in trial.pairs]
        stood += pairs == set(trial.pairs)
    assert found.exact
    assert found.order == stood / 20
    assert found.neighbours == pytest.approx(tuple(kept / 20))
    assert 0 < found.order < 1


def test_beyond_forty_prints_it_is_said_to_be_approximate():
    prints = random_cloths(41, 3, 2)
    _, found = asked(prints, trials=2)
    assert not found.exact
    assert found.to_json()["exact"] is False


@pytest.mark.parametrize("seed", range(4))
def test_uncertainty_is_drawn_as_ciede2000(seed):
    """A draw of length 1 moves a colour by about 1 ΔE00, wherever it lies (blues, whose rotation
    term is left out, within a third)."""
    from sequencer.colour import ciede2000
    from sequencer.colour.differences import moved_by

    random = np.random.default_rng(seed)
    labs = random.uniform((15, -70, -70), (95, 70, 70), (300, 3))
    way = random.normal(size=(300, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    off = ciede2000(labs, moved_by(labs, way))
    hue = np.degrees(np.arctan2(labs[:, 2], labs[:, 1])) % 360
    plain = np.abs(hue - 275) > 50
    assert np.median(off) == pytest.approx(1, abs=0.05)
    assert np.quantile(np.abs(off[plain] - 1), 0.95) < 0.2
    assert np.quantile(np.abs(off - 1), 0.95) < 0.34


def test_parts_of_the_uncertainty_count_where_the_measurement_tells_them():
    one = greys(40, 46, 52, 58, 64, 70, uncertainty=10.0, photo="table.jpg")
    alone = [replace(p, own_uncertainty=10.0, shared_uncertainty=0.0) for p in one]
    shared = [replace(p, own_uncertainty=0.0, shared_uncertainty=10.0) for p in one]
    assert asked(alone)[1].order < 0.5 < asked(one)[1].order
    assert asked(shared)[1].order == 1.0


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


def test_doubts_asked_for_afterwards_are_the_same():
    """The order is shown first; under the same wishes nothing is lost by that."""
    prints = [replace(one, uncertainty=9.0) for one in random_cloths(9, 3, 4)]
    graph = transition_graph(prints)
    wishes = {"pick": 7, "apart": [(prints[1].id, prints[2].id)], "include": [prints[3].id],
              "aim": "total", "loop": True}
    at_once = find_sequence(graph, prints=prints, **wishes)
    bare = find_sequence(graph, **wishes)
    assert bare.confidence == {}
    assert all(pair.certain for pair in bare.neighbours)
    later = doubts(graph, bare, prints, wishes)
    assert replace(later, seconds=0) == replace(at_once, seconds=0)
    assert not all(pair.certain for pair in later.neighbours)
    with pytest.raises(SequenceError, match="There is no print called nobody"):
        doubts(graph, bare, prints, {"first": "nobody"})
