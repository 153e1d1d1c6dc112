"""The solver against things outside it: textbook recursion, general libraries, colour circles."""

from __future__ import annotations

import math
import time
from itertools import permutations

import networkx as nx
import numpy as np
import pytest

from sequencer.errors import SequenceError
from sequencer.order import find_sequence
from tests.made.orderings import best_price, graph_of, held_karp, keeps, meetings, price, scattered


@pytest.mark.parametrize("loop", [False, True])
@pytest.mark.parametrize("n", range(3, 13))
def test_held_karp_1962(n: int, loop: bool) -> None:
    """M. Held, R. M. Karp, A dynamic programming approach to sequencing problems (1962)."""
    cost, _ = scattered(n, seed=n)
    found = find_sequence(graph_of(cost), loop=loop, aim="total", seconds=600)
    assert found.status == "optimal"
    assert found.total == pytest.approx(held_karp(cost, loop), abs=1e-6)
    even = find_sequence(graph_of(cost), loop=loop, seconds=600)
    assert even.total == pytest.approx(held_karp(cost * cost, loop), rel=1e-8)


@pytest.mark.parametrize("n", [15, 40, 70])
def test_networkx_approximations_never_beat_it(n: int) -> None:
    """networkx.approximation: Christofides (1976) and greedy, general-library peers."""
    cost, _ = scattered(n, seed=n)
    graph = graph_of(cost)
    ours = find_sequence(graph, loop=True, aim="total", seconds=600)
    assert ours.status == "optimal"
    for method in (nx.approximation.christofides, nx.approximation.greedy_tsp):
        tour = method(graph, weight="cost")
        assert ours.total <= price(graph, tour[:-1], True, "total")[0] + 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_spanning_tree_bounds_stay_below(seed: int) -> None:
    """Held and Karp (1970): a spanning tree bounds a path, a 1-tree a loop (trees by networkx)."""
    cost, _ = scattered(25, seed)
    for aim, unit in (("total", cost), ("even", cost * cost)):
        graph = graph_of(unit)
        tree = nx.minimum_spanning_tree(graph, weight="cost").size(weight="cost")
        assert tree <= find_sequence(graph_of(cost), aim=aim).total + 1e-6
        loop = find_sequence(graph_of(cost), aim=aim, loop=True)
        for special in list(graph)[:5]:
            rest = graph.subgraph(set(graph) - {special})
            own = sorted(c for _, _, c in graph.edges(special, data="cost"))[:2]
            branches = nx.minimum_spanning_tree(rest, weight="cost").size(weight="cost")
            assert branches + sum(own) <= loop.total + 1e-6


@pytest.mark.parametrize(("seed", "loop", "torn"), [
    (3, False, True), (3, True, True), (4, False, False), (4, True, False),
])  # fmt: skip
def test_the_bottleneck_is_the_least_there_is(seed: int, loop: bool, torn: bool) -> None:
    """Below the level the pairs cannot make a tour: they fall apart at one print (networkx's
    biconnectivity), or the exact solver finds none."""
    cost, _ = scattered(30, seed)
    graph = graph_of(cost)
    found = find_sequence(graph, loop=loop, aim="worst", seconds=600)
    assert found.status == "optimal"
    assert found.worst <= find_sequence(graph, loop=loop, aim="total", seconds=600).worst + 1e-9
    below = nx.Graph((a, b, d) for a, b, d in graph.edges(data=True)
                     if d["cost"] < found.worst - 1e-9)
    below.add_nodes_from(graph)
    if not loop:
        below.add_edges_from((v, "end", {"cost": 0.0}) for v in graph)
    assert nx.is_biconnected(below) is not torn
    with pytest.raises(SequenceError, match="do not make any closed loop"):
        find_sequence(below, loop=True, seconds=600)


@pytest.mark.parametrize("n", [30, 60, 100])
@pytest.mark.parametrize("loop", [False, True])
def test_proved_up_to_a_hundred(n: int, loop: bool) -> None:
    cost, value = scattered(n, seed=n)
    found = find_sequence(graph_of(cost, value), loop=loop, seconds=600)
    assert found.status == "optimal"
    assert sorted(found.order) == [f"p{i:02d}" for i in range(n)]
    assert found.total == pytest.approx(price(graph_of(cost), found.order, loop, "even")[0])
    if loop:  # starts at the lightest, goes on with the lighter neighbour
        lightness = dict(zip(sorted(found.order), value, strict=True))
        assert lightness[found.order[0]] == max(value)
        assert lightness[found.order[1]] >= lightness[found.order[-1]]


def test_a_stopped_run_gives_its_best_and_a_true_bound() -> None:
    cost, _ = scattered(150, seed=1, dimensions=2)
    graph = graph_of(cost)
    short = find_sequence(graph, loop=True, seconds=0.3)
    whole = find_sequence(graph, loop=True, seconds=600)
    assert short.lower_bound <= whole.total + 1e-6 <= short.total + 2e-6
    assert short.gap == pytest.approx((short.total - short.lower_bound) / short.total)
    assert short.status == "optimal" or short.gap > 0


def test_the_same_answer_whatever_order_the_graph_was_built_in() -> None:
    cost, value = scattered(40, seed=8)
    graph = graph_of(cost, value)
    edges = list(graph.edges(data=True))
    np.random.default_rng(0).shuffle(edges)  # type: ignore[arg-type]
    other = nx.Graph()
    other.add_nodes_from(reversed(list(graph.nodes(data=True))))
    other.add_edges_from((b, a, d) for a, b, d in edges)
    assert find_sequence(graph, loop=True).order == find_sequence(other, loop=True).order


@pytest.mark.parametrize("seed", range(4))
def test_no_edge_of_a_better_tour_is_set_aside(seed: int) -> None:
    """Reduced costs against another optimum: HiGHS over every edge, from the same cuts."""
    from sequencer.order.graph.costs import whole_weights
    from sequencer.order.search.tours.relaxation import Relaxation
    from sequencer.order.search.tours.ring import Ring, tour_pairs
    from sequencer.order.search.tours.rings import RingSearch, solve_ring
    from sequencer.order.search.tours.subtours import leaving

    cost, _ = scattered(40, seed, dimensions=2)
    np.fill_diagonal(cost, np.inf)
    weights, _ = whole_weights(cost * cost)
    ring, until = Ring(weights), time.monotonic() + 60
    best = solve_ring(ring, until)
    assert best.proved
    assert best.order is not None
    search = RingSearch(ring, until)
    assert search.tighten()
    ends, low = search.edges_that_matter(best.weight + 1)
    used = tour_pairs(best.order)
    assert used <= {(a, b) for a, b in ends.tolist()}
    assert {(a, b) for (a, b), must in zip(ends.tolist(), low, strict=True) if must} <= used
    every = Relaxation(40, weights, np.argwhere(np.triu(np.ones((40, 40)), 1)), frozenset())
    every.add_cuts(search.relaxation.cuts)
    assert every.solve(10.0)
    assert every.dual().bound == pytest.approx(search.bound, rel=1e-9)  # nothing priced out wrongly
    closed = np.array(best.order)
    steps = np.column_stack([closed, np.roll(closed, -1)])
    assert min(leaving(cut, steps).sum() for cut in search.relaxation.cuts) == 2


@pytest.mark.parametrize("seed", range(3))
def test_every_tour_below_a_weight_keeps_its_edges(seed: int) -> None:
    """All 360 tours of seven prints, listed: whatever weight is allowed, no tour lighter than that
    loses an edge, and an edge that must be used lies in every one of them.
    """
    from sequencer.order.search.tours.ring import Ring, tour_pairs
    from sequencer.order.search.tours.rings import RingSearch

    weights = np.random.default_rng(seed).integers(1, 60, (7, 7)).astype(np.int64)
    weights = np.triu(weights, 1) + np.triu(weights, 1).T
    search = RingSearch(Ring(weights), time.monotonic() + 60)
    assert search.tighten()
    tours = [(0, *rest) for rest in permutations(range(1, 7)) if rest[0] < rest[-1]]
    priced = sorted((sum(int(weights[a, b]) for a, b in tour_pairs(list(tour))),
                     sorted(tour_pairs(list(tour)))) for tour in tours)
    set_aside = forced = 0
    for upper in range(priced[0][0] + 1, priced[0][0] + 60):
        ends, low = search.edges_that_matter(upper)
        kept = {(a, b) for a, b in ends.tolist()}
        must = {(a, b) for (a, b), one in zip(ends.tolist(), low, strict=True) if one}
        for weight, pairs in priced:
            if weight < upper:
                assert set(pairs) <= kept
                assert must <= set(pairs)
        set_aside += 21 - len(kept)
        forced += len(must)
    assert set_aside > 0
    assert forced > 0


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("loop", [False, True])
def test_a_bound_in_whole_weights_never_passes_the_true_total(
    seed: int, loop: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Costs are rounded to weights; whoever proves a bound on weights has proved a little less on
    costs. Here the bound on the weights is the best there is, and the true total is enumerated.
    """
    from sequencer.order.graph.costs import read_box
    from sequencer.order.search.question import Question
    from sequencer.order.search.tours.ring import Answer
    from sequencer.order.wishes import answer
    from sequencer.order.wishes.asked import usual_limits
    from sequencer.order.wishes.wish import read_wishes

    cost = np.random.default_rng(seed).uniform(1, 2, (6, 6))
    graph = graph_of(np.triu(cost, 1) + np.triu(cost, 1).T)
    box = read_box(graph)
    wishes = read_wishes(box.ids, loop=loop)

    def stopped(question: Question, deadline: float) -> Answer:
        orders = [one for one in permutations(range(6)) if question.accepts(one)]
        best = min(orders, key=question.weigh)
        return Answer(best, question.weigh(best), question.weigh(best), False)

    monkeypatch.setattr(answer, "solve", stopped)
    found = answer.answer_for(box, wishes, "total", usual_limits(graph, box, wishes), 0.0)
    assert found is not None
    (true,) = best_price(graph, loop, "total", {}) or ()
    assert found.bound < true
    assert found.bound == pytest.approx(true, rel=1e-4)


# ── choosing k of n ───────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("seed", range(6))
def test_choices_agree_with_the_integer_model(seed: int) -> None:
    """5 of 9 by the layers against the cutting planes run on every one of the 126 choices."""
    from itertools import combinations

    cost, value = scattered(9, seed)
    graph = graph_of(cost, value)
    loop = bool(seed % 2)
    wishes = {"distinct": float(np.quantile(cost[cost > 0], 0.2)), "value_range": 30.0}
    found = find_sequence(graph, loop=loop, pick=5, **wishes)
    best = math.inf
    for some in combinations(sorted(graph), 5):
        sub = nx.Graph(graph.subgraph(some))
        sub.remove_edges_from([(a, b) for a, b, c in graph.subgraph(some).edges(data="cost")
                               if c < wishes["distinct"]])
        values = [graph.nodes[name]["value"] for name in some]
        if max(values) - min(values) >= wishes["value_range"]:
            best = min(best, _solved(sub, loop))
    assert found.total == pytest.approx(best)
    assert keeps(graph, found.order, loop, wishes)


def _solved(graph: nx.Graph, loop: bool) -> float:
    from sequencer.errors import SequenceError

    try:
        return find_sequence(graph, loop=loop).total
    except SequenceError:
        return math.inf


@pytest.mark.parametrize("loop", [False, True])
def test_a_narrow_beam_still_ends_in_the_same_answer(loop: bool, monkeypatch: pytest.MonkeyPatch
                                                     ) -> None:
    """A weak schedule must widen to the same proved answer (and not fall over on the way)."""
    from sequencer.order.search.tables import layers

    cost, value = scattered(24, 5)
    graph = graph_of(cost, value)
    wanted = find_sequence(graph, loop=loop, pick=7, value_range=40, distinct=8)
    monkeypatch.setattr(layers, "WIDTHS", (1, 2, 7, 40, 200, 1000, 400000))
    again = find_sequence(graph, loop=loop, pick=7, value_range=40, distinct=8)
    assert again.status == wanted.status == "optimal"
    assert again.total == pytest.approx(wanted.total)


def prints_like(n: int, seed: int) -> nx.Graph:
    """A graph that carries what a graph of prints carries: a limit, and pairs that blur."""
    cost, value = scattered(n, seed)
    graph = graph_of(cost, value)
    graph.graph["distinct"] = 12.0
    for _, _, edge in graph.edges(data=True):
        edge["verdict"] = "blurs" if edge["cost"] < 18 else "gentle"
    return graph


@pytest.mark.parametrize("loop", [False, True])
def test_picking_prints_keeps_them_apart_and_shows_the_curve(loop: bool) -> None:
    graph = prints_like(24, 1)
    found = find_sequence(graph, loop=loop, pick=6)
    values = [graph.nodes[name]["value"] for name in found.order]
    span = [value for _, value in graph.nodes(data="value")]
    assert max(values) - min(values) >= min(40.0, 0.7 * (max(span) - min(span))) - 1e-9
    assert min(pair.cost for pair in found.neighbours) >= 18
    assert any("distinct" in note for note in found.notes)
    off = find_sequence(graph, loop=loop, pick=6, distinct=0, value_range=0)
    assert off.total < found.total
    assert off.notes == ()


def test_usual_limits_give_way_where_a_box_cannot_keep_them() -> None:
    graph = prints_like(5, 1)
    nx.set_edge_attributes(graph, "blurs", "verdict")
    found = find_sequence(graph, pick=4)
    assert "eased" in found.notes[0]
    assert all(pair.cost >= 6 for pair in found.neighbours)


def test_a_bare_graph_has_no_usual_limits() -> None:
    cost, value = scattered(12, 4)
    bare = find_sequence(graph_of(cost, value), pick=4)
    off = find_sequence(graph_of(cost, value), pick=4, distinct=0, value_range=0)
    assert bare.order == off.order


def test_between_five_and_eight() -> None:
    cost, value = scattered(20, 2)
    graph = graph_of(cost, value)
    found = find_sequence(graph, loop=True, pick=(5, 8))
    assert [len(one.order) for one in found.sizes] == [5, 6, 7, 8]
    for one in found.sizes:
        alone = find_sequence(graph, loop=True, pick=len(one.order))
        assert one.total == pytest.approx(alone.total)
        assert str(len(one.order)) in one.note


# ── colours whose order is known ──────────────────────────────────────────────────────────

D15 = [
    "10B 5/6", "5B 5/4", "10BG 5/4", "5BG 5/4", "10G 5/4", "5G 5/4", "10GY 5/4", "5GY 5/4",
    "5Y 5/4", "10YR 5/4", "2.5YR 5/4", "7.5R 5/4", "2.5R 5/4", "5RP 5/4", "10P 5/4", "5P 5/4",
]
"""Farnsworth Dichotomous Test D-15, pilot and caps 1 to 15 (D. Farnsworth, The Farnsworth
Dichotomous Test for Color Blindness, Panel D-15, manual, 1947; notations from memory)."""
HUES = [f"{step}{family}" for family in ["R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP"]
        for step in ("2.5", "5", "7.5", "10")]


def renotation() -> dict[str, tuple[float, float, float]]:
    """CIELAB of the Munsell renotation (Newhall, Nickerson, Judd 1943), from colour-science."""
    from colour.models import XYZ_to_Lab, xyY_to_XYZ
    from colour.notation.datasets.munsell import MUNSELL_COLOURS_ALL

    table = {}
    for (hue, value, chroma), xyy in MUNSELL_COLOURS_ALL:
        if value in (5, 6) and chroma in (4, 6):
            lab = XYZ_to_Lab(xyY_to_XYZ([xyy[0], xyy[1], xyy[2] / 100]), [0.31006, 0.31616])
            table[f"{hue} {value:g}/{chroma:g}"] = tuple(float(part) for part in lab)
    return table


def in_lab(labs: list[tuple[float, float, float]], seed: int) -> tuple[nx.Graph, list[int]]:
    """A graph of these colours in shuffled order, and where each went."""
    where = np.random.default_rng(seed).permutation(len(labs))
    points = np.array(labs)[np.argsort(where)]
    cost = np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2))
    return graph_of(cost), where.tolist()


@pytest.mark.parametrize("aim", ["even", "total"])
def test_farnsworth_d15_falls_into_order(aim: str) -> None:
    table = renotation()
    graph, where = in_lab([table[cap] for cap in D15], seed=15)
    names = [f"p{i:02d}" for i in where]
    assert find_sequence(graph, first=names[0], aim=aim).order == tuple(names)


@pytest.mark.parametrize("ring", ["5/4", "6/6"])
@pytest.mark.parametrize("aim", ["even", "total"])
def test_forty_munsell_hues_close_into_their_circle(ring: str, aim: str) -> None:
    table = renotation()
    graph, where = in_lab([table[f"{hue} {ring}"] for hue in HUES], seed=40)
    names = [f"p{i:02d}" for i in where]
    found = find_sequence(graph, loop=True, aim=aim)
    circle = {frozenset(pair) for pair in meetings(names, True)}
    assert {frozenset(pair) for pair in meetings(found.order, True)} == circle


def test_a_neutral_scale_runs_from_light_to_dark() -> None:
    """Grey steps of L* 5 to 95: by definition (ISO/CIE 11664-4) equal steps of lightness."""
    lightness = list(range(5, 100, 5))
    graph, where = in_lab([(float(step), 0.0, 0.0) for step in lightness], seed=3)
    for i, step in zip(where, lightness, strict=True):
        graph.nodes[f"p{i:02d}"]["value"] = float(step)
    found = find_sequence(graph)
    assert [graph.nodes[name]["value"] for name in found.order] == lightness[::-1]
