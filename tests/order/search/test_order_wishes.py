"""Impossible wishes, her own order, alternatives, what-if, and input that is not right."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sequencer.errors import ImpossibleWishes, SequenceError, UsageError
from sequencer.models import PaletteColour, Print
from sequencer.order import find_sequence, report_sequence, score_sequence, transition_graph
from sequencer.order.moves import best_moves
from sequencer.order.words.compared import describe_alternative
from tests.made.orderings import best_price, graph_of, keeps, meetings, price, scattered
from tests.made.work import calls


def box(n: int, seed: int = 0) -> nx.Graph:
    return graph_of(*scattered(n, seed))


A, B, C, D, E, F, G = (f"p{i:02d}" for i in range(7))


@pytest.mark.parametrize(("wishes", "guilty"), [
    ({"first": A, "last": A}, ["first: p00", "last: p00"]),
    ({"include": [A], "exclude": [A], "together": [(C, D)]}, ["with: p00", "without: p00"]),
    ({"together": [(A, B), (C, D)], "apart": [(B, A)]}, ["together: p00,p01", "apart: p01,p00"]),
    ({"together": [(A, B), (A, C), (A, D), (E, F)], "first": G},
     ["together: p00,p01", "together: p00,p02", "together: p00,p03"]),
    ({"together": [(A, B), (B, C), (C, A)]},
     ["together: p00,p01", "together: p01,p02", "together: p02,p00"]),
    ({"before": [(A, B), (B, C), (C, A), (D, E)]},
     ["before: p00,p01", "before: p01,p02", "before: p02,p00"]),
    ({"first": A, "before": [(B, A)], "last": C}, ["first: p00", "before: p01,p00"]),
    ({"first": A, "last": B, "together": [(A, B)]},
     ["first: p00", "last: p01", "together: p00,p01"]),
])
@pytest.mark.parametrize("n", [8, 30])
def test_the_smallest_contradiction_is_named(wishes: dict[str, Any], guilty: list[str], n: int
                                             ) -> None:
    with pytest.raises(ImpossibleWishes, match="contradict each other: ") as caught:
        find_sequence(box(n), **wishes)
    assert list(caught.value.wishes) == guilty
    assert all(wish in str(caught.value) for wish in guilty)


@settings(max_examples=80, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_named_contradiction_is_one_and_none_is_smaller(data: st.DataObject) -> None:
    """Against enumeration of every order under every subset of the wishes, n = 5."""
    graph = box(5, data.draw(st.integers(0, 5)))
    names = st.sampled_from(sorted(graph))
    pair = st.tuples(names, names).filter(lambda p: p[0] != p[1])
    kinds = st.sampled_from(["together", "apart", "before"])
    asked = data.draw(st.lists(st.tuples(kinds, pair), min_size=3, max_size=7, unique=True))
    ends = data.draw(st.lists(st.tuples(st.sampled_from(["first", "last"]), names), max_size=2,
                              unique_by=lambda one: one[0]))

    def wishes(some: Any) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for kind, what in some:
            if isinstance(what, tuple):
                made.setdefault(kind, []).append(what)
            else:
                made[kind] = what
        return made

    everything = [*asked, *ends]
    try:
        find_sequence(graph, **wishes(everything))
    except ImpossibleWishes as error:
        words = {f"{k}: {','.join(w) if isinstance(w, tuple) else w}": (k, w)
                 for k, w in everything}
        named = [words[wish] for wish in error.wishes]
        assert best_price(graph, False, "total", wishes(named)) is None
        for some in itertools.combinations(everything, len(named) - 1):
            assert best_price(graph, False, "total", wishes(some)) is not None
    else:
        assert best_price(graph, False, "total", wishes(everything)) is not None


def test_too_many_to_pick_says_how_many_there_could_be() -> None:
    graph = graph_of(np.array([[0, 1, 9, 9], [1, 0, 1, 9], [9, 1, 0, 1], [9, 9, 1, 0.0]]))
    graph.add_edge("p04", "p00", cost=1.0)
    with pytest.raises(ImpossibleWishes, match="At most 2 of these prints are distinct enough"):
        find_sequence(nx.Graph(graph.subgraph([A, B, C])), pick=3, distinct=5)
    with pytest.raises(ImpossibleWishes, match="At most 4"):
        find_sequence(graph, pick=5, distinct=5)


# ── wishes on larger boxes ────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("aim", ["even", "total", "worst"])
@pytest.mark.parametrize("loop", [False, True])
@pytest.mark.parametrize("n", [14, 40])
def test_wishes_are_kept_and_proved_and_never_cheaper(aim: str, loop: bool, n: int) -> None:
    graph = box(n, n)
    wishes = {"first": A, "last": B, "together": [(C, D), (D, E)], "apart": [(F, G)],
              "exclude": ["p10"]}
    found = find_sequence(graph, loop=loop, aim=aim, **wishes)
    assert found.status == "optimal"
    assert keeps(graph, found.order, loop, wishes)
    free = find_sequence(graph, loop=loop, aim=aim, exclude=["p10"])
    assert price(graph, free.order, loop, aim) <= price(graph, found.order, loop, aim)


@pytest.mark.parametrize("loop", [False, True])
def test_before_is_kept_on_larger_boxes(loop: bool) -> None:
    graph = box(26, 4)
    free = find_sequence(graph, loop=loop, first=A)
    pairs = [(free.order[20], free.order[5]), (free.order[12], free.order[9])]
    wishes = {"before": pairs, "first": A}
    found = find_sequence(graph, loop=loop, seconds=5, **wishes)
    assert keeps(graph, found.order, loop, wishes)
    assert found.lower_bound >= free.total - 1e-6
    assert found.lower_bound <= found.total


def test_a_loop_with_only_a_last_print_ends_there() -> None:
    graph = box(9, 1)
    found = find_sequence(graph, loop=True, last=E, before=[(A, B)])
    assert found.order[-1] == E
    assert found.order.index(A) < found.order.index(B)


# ── alternatives, her own order, what-if ──────────────────────────────────────────────────


def test_alternatives_differ_in_a_fifth_and_say_how() -> None:
    graph = box(30, 7)
    found = find_sequence(graph, loop=True, alternatives=4, seconds=120)
    assert len(found.alternatives) == 4
    orders = [found.order, *(one.order for one in found.alternatives)]
    for one, other in itertools.combinations(orders, 2):
        shared = {frozenset(p) for p in meetings(one, True)} & {
            frozenset(p) for p in meetings(other, True)}
        assert len(shared) <= 24
    totals = [one.total for one in found.alternatives]
    assert found.total <= totals[0] + 1e-9
    assert totals == sorted(totals)
    assert all(one.note for one in found.alternatives)


@pytest.mark.parametrize("loop", [False, True])
@pytest.mark.parametrize("aim", ["even", "total", "worst"])
@pytest.mark.parametrize("seed", range(8))
def test_her_order_is_scored_and_the_best_move_is_the_best(loop: bool, aim: str, seed: int) -> None:
    n = 3 + seed
    graph = box(n, seed)
    order = list(np.random.default_rng(seed).permutation(sorted(graph)))
    scored = score_sequence(graph, order, loop, aim)
    now = price(graph, order, loop, aim)
    assert scored.total == pytest.approx(now[-1])
    assert price(graph, scored.best.order, loop, aim) <= tuple(x + 1e-9 for x in now)
    candidates = [now]
    for i in range(n):
        for j in range(n):
            moved = [*order[:i], *order[i + 1 :]]
            moved.insert(j, order[i])
            swapped = list(order)
            swapped[i], swapped[j] = swapped[j], swapped[i]
            turned = [*order[:i], *order[i : j + 1][::-1], *order[j + 1 :]] if i < j else order
            candidates += [price(graph, one, loop, aim) for one in (moved, swapped, turned)]
    first = scored.moves[0].order if scored.moves else order
    assert price(graph, first, loop, aim) == pytest.approx(min(candidates), abs=1e-6)
    for move in scored.moves:
        gain = now[-1] - price(graph, move.order, loop, aim)[-1]
        assert gain == pytest.approx(move.gain, abs=1e-6)
        assert move.worst == pytest.approx(price(graph, move.order, loop, "worst")[0])
        assert sorted(move.order) == sorted(order)


@pytest.mark.parametrize("aim", ["even", "total", "worst"])
@pytest.mark.parametrize("seed", range(20))
def test_the_moves_told_are_those_that_gain_most(aim: str, seed: int) -> None:
    """All moves, swaps and turns scored anew: the three told are the three best, gain for gain."""
    random = np.random.default_rng(seed)
    n, loop = int(random.integers(3, 15)), bool(seed % 2)
    cost = random.uniform(0, 60, (n, n)) if seed % 3 else 1.0 * random.integers(1, 5, (n, n))
    graph = graph_of(np.triu(cost, 1) + np.triu(cost, 1).T)
    names = sorted(graph)
    order = [names[i] for i in random.permutation(n)]

    def scored(names: list[Any]) -> tuple[float, ...]:
        return tuple(round(x, 9) for x in price(graph, names, loop, aim))

    found = {}
    for i, j in itertools.product(range(n), repeat=2):
        moved = [*order[:i], *order[i + 1 :]]
        moved.insert(j, order[i])
        swapped = list(order)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        turned = [*order[:i], *order[i : j + 1][::-1], *order[j + 1 :]] if i < j else order
        for one in (moved, swapped, turned):
            found[frozenset(frozenset(pair) for pair in meetings(one, loop))] = scored(one)
    best = sorted(one for one in found.values() if one < scored(order))[:3]
    told = best_moves(graph, order, loop, aim, 3)
    assert [scored(list(move.order)) for move in told] == best
    for move in told:
        gain = price(graph, order, loop, aim)[-1] - price(graph, move.order, loop, aim)[-1]
        assert move.gain == pytest.approx(gain, abs=1e-8)


@pytest.mark.parametrize("aim", ["even", "total", "worst"])
@pytest.mark.parametrize("loop", [False, True])
def test_alternatives_cost_what_they_tell(aim: str, loop: bool) -> None:
    labs = np.random.default_rng(3).uniform((25, -30, -30), (85, 30, 30), (12, 3)).tolist()
    prints = [Print(f"p{k}", f"cloth {k}", "a.jpg", ((0, 0), (1, 0), (1, 1)), tuple(lab),
                    (PaletteColour(tuple(lab), 1.0),)) for k, lab in enumerate(labs)]  # fmt: skip
    graph = transition_graph(prints)
    best = find_sequence(graph, loop=loop, aim=aim, alternatives=4)
    assert best.alternatives
    for other in best.alternatives:
        own = price(graph, other.order, loop, aim)
        assert (other.total, other.worst) == pytest.approx(
            (own[-1], price(graph, other.order, loop, "worst")[0]))
        said = describe_alternative(best, other, prints)
        if found := re.search(r"costs (\d+\.\d)% more", said):
            assert 100 * (own[-1] / best.total - 1) == pytest.approx(float(found[1]), abs=0.051)
        elif found := re.search(r"its largest step is (\d+\.\d) instead of (\d+\.\d)", said):
            assert aim == "worst"
            assert (other.worst, best.worst) == pytest.approx(
                (float(found[1]), float(found[2])), abs=0.051)
        else:
            assert "costs the same" in said
            assert own[-1] == pytest.approx(best.total, rel=5e-4)


def test_the_best_order_has_no_better_move() -> None:
    graph = box(20, 3)
    best = find_sequence(graph, loop=True)
    scored = score_sequence(graph, best.order, loop=True)
    assert scored.percent == pytest.approx(0)
    assert scored.moves == ()


def test_what_if_searches_nothing() -> None:
    graph, larger = box(30, 3), box(120, 3)
    order = sorted(graph)
    work = calls(lambda: report_sequence(graph, order, loop=True))
    assert work < 2000  # a search of this box takes a hundred times as many
    assert calls(lambda: report_sequence(larger, sorted(larger), loop=True)) < 5 * work
    seen = report_sequence(graph, order[1:], loop=True)
    assert seen.total == pytest.approx(price(graph, order[1:], True, "even")[0])
    assert seen.left_out == (A,)


def test_a_price_against_a_kept_best_searches_nothing() -> None:
    graph = box(30, 3)
    order = sorted(graph)
    best = find_sequence(graph, loop=True)
    scored = score_sequence(graph, order, best=best, moves=0)
    assert calls(lambda: score_sequence(graph, order, best=best, moves=0)) < 2000
    again = score_sequence(graph, order)
    assert (scored.percent, scored.best.order) == (again.percent, best.order)
    other = score_sequence(graph, order[1:], best=best, moves=0)  # of other prints: not used
    assert set(other.best.order) == set(order[1:])
    assert score_sequence(graph, order, aim="total", best=best, moves=0).best.aim == "total"


@pytest.mark.parametrize("aim", ["even", "total", "worst"])
def test_the_price_in_words_says_what_the_figures_say(aim: str) -> None:
    for seed in range(30):
        graph = box(6, seed)
        best = find_sequence(graph, loop=True, aim=aim)
        order = list(np.random.default_rng(seed).permutation(sorted(graph)))
        scored = score_sequence(graph, order, aim=aim, best=best)
        mine = price(graph, order, True, "worst")[0]
        if found := re.search(r"(\d+) instead of (\d+)", scored.words):
            assert (round(mine), round(best.worst)) == (int(found[1]), int(found[2]))
            assert ("gentler" in scored.words) == (mine < best.worst)
        if found := re.search(r"costs ([\d.]+) % more", scored.words):
            over = 100 * (price(graph, order, True, aim)[-1] / best.total - 1)
            assert over == pytest.approx(float(found[1]), abs=0.051 if over < 10 else 0.51)
        elif found := re.search(r"costs ([\d.]+) times", scored.words):
            times = price(graph, order, True, aim)[-1] / best.total
            assert times == pytest.approx(float(found[1]), abs=0.051)
        if "best order of these" in scored.words:
            assert price(graph, order, True, aim) == price(graph, best.order, True, aim)
    turned = [*best.order[2:], *best.order[:2]][::-1]
    assert score_sequence(graph, turned, aim=aim, best=best).words == (
        "This is the best order of these prints, proved.")
    better = replace(best, total=best.total * 1.5, status="bounded", order=tuple(order))
    told = score_sequence(graph, best.order, aim=aim, best=better).words
    assert "less than the best known so far" in told


# ── input that is not right ───────────────────────────────────────────────────────────────


@pytest.mark.parametrize("cost", [float("nan"), -1.0, float("inf"), None, "dear"])
def test_a_bad_cost_is_named(cost: Any) -> None:
    graph = box(5)
    graph.edges[A, C]["cost"] = cost
    with pytest.raises(SequenceError, match="p00, p02"):
        find_sequence(graph)


def test_small_boxes() -> None:
    with pytest.raises(SequenceError, match="nothing to order"):
        find_sequence(nx.Graph())
    one = find_sequence(box(1), loop=True)
    assert (one.order, one.total, one.neighbours) == ((A,), 0.0, ())
    assert "nothing to order" in one.notes[0]
    two = find_sequence(graph_of(np.array([[0, 3.0], [3, 0]])), loop=True)
    assert (two.total, two.worst, len(two.neighbours)) == (18.0, 3.0, 2)


def test_identical_prints_and_all_the_same_cost() -> None:
    for cost in (0.0, 3.0):
        graph = nx.complete_graph(24)
        nx.set_edge_attributes(graph, cost, "cost")
        for aim in ("even", "worst"):
            found = find_sequence(graph, loop=True, aim=aim)
            assert found.status == "optimal"
            assert found.worst == cost


def test_separate_groups_are_shown() -> None:
    graph = nx.union(box(3), nx.relabel_nodes(box(2), {A: "x", B: "y"}))
    with pytest.raises(SequenceError, match=r"2 groups.*x, y"):
        find_sequence(graph)


@pytest.mark.parametrize(("wishes", "error", "words"), [
    ({"pick": 9}, SequenceError, "only 6"),
    ({"pick": 0}, UsageError, "pick"),
    ({"pick": 2.5}, UsageError, "pick"),
    ({"pick": (4, 2)}, UsageError, "pick"),
    ({"first": "zz"}, SequenceError, "zz"),
    ({"aim": "best"}, UsageError, "even, total, worst"),
    ({"together": [(A, A)]}, UsageError, "twice"),
    ({"together": [(A, B, C)]}, UsageError, "pairs"),
    ({"before": [(A, B)], "loop": True}, ImpossibleWishes, "no beginning"),
    ({"value_range": 99.0}, ImpossibleWishes, "span"),
])
def test_requests_that_cannot_be_met(wishes: dict[str, Any], error: type, words: str) -> None:
    with pytest.raises(error, match=words):
        find_sequence(box(6), **wishes)


@pytest.mark.parametrize(("order", "words"), [
    (["zz"], "no print called zz"), ([A, A], "p00 comes more than once"), ([], "is empty"),
])  # fmt: skip
def test_orders_that_cannot_be_scored(order: list[str], words: str) -> None:
    with pytest.raises(SequenceError, match=words):
        score_sequence(box(4), order)


def test_her_own_order_with_a_larger_step_is_not_called_the_best_for_its_sum() -> None:
    """Aim worst: with any costs between six prints some order has a smaller sum, a larger step."""
    from sequencer.ordering.sequence import order
    from sequencer.piece import Piece

    piece = Piece(prints=tuple(
        Print(name, name, "box.jpg", ((0, 0), (1, 0), (1, 1)), (50.0, 0.0, 0.0),
              (PaletteColour((50.0, 0.0, 0.0), 1.0),), uncertainty=1.0)
        for name in (A, B, C, D, E, F)))
    tried = 0
    for seed in range(12):
        cost = np.triu(np.random.default_rng(seed).uniform(1, 9, (6, 6)), 1)
        graph = graph_of(cost + cost.T, [50.0] * 6)
        for _, _, edge in graph.edges(data=True):
            edge |= {"delta_e": edge["cost"], "shared": 0.0, "verdict": "clear"}
        wishes = {"aim": "worst", "loop": False}
        best = order(piece, wishes, doubts=False, graph=graph)[1]
        own = min(itertools.permutations(sorted(graph)),
                  key=lambda own, graph=graph: price(graph, own, False, "total"))
        worst, total = price(graph, own, False, "worst")
        if total < best.total - 1e-6:
            wishes["sequence"] = list(own)
            scored = order(piece, wishes, doubts=False, graph=graph)[1]
            assert scored.status == "bounded"
            assert scored.gap == pytest.approx(1 - best.worst / worst)
            tried += 1
    assert tried > 3
