"""Every option and mix against plain enumeration, n ≤ 8 (2,400 cases)."""

from __future__ import annotations

from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sequencer.errors import ImpossibleWishes, SequenceError
from sequencer.order import find_sequence
from sequencer.order.search.tables import layers
from sequencer.order.search.tables.walks import Walks, priced
from tests.made.orderings import best_price, graph_of, keeps, price

AIMS = ("even", "total", "worst")
_TORN = "fall into|do not make any|You asked for|At most"
_CLASH = "contradict each other|cannot be kept|No sequence can keep|At most"
RELAXED = {"deadline": None, "suppress_health_check": list(HealthCheck), "derandomize": True}


@st.composite
def graphs(draw: st.DrawFn, least: int, most: int) -> nx.Graph:
    n = draw(st.integers(least, most))
    rough = draw(st.booleans())  # whole costs make ties and duplicates
    costs = st.integers(0, 9) if rough else st.floats(0, 60, allow_nan=False)
    graph = nx.Graph()
    for i in range(n):
        graph.add_node(f"p{i}", value=draw(st.integers(5, 95)))
    gaps = draw(st.booleans())
    for i in range(n):
        for j in range(i):
            if not gaps or draw(st.integers(0, 7)):
                graph.add_edge(f"p{i}", f"p{j}", cost=float(draw(costs)))
    return graph


@st.composite
def requests(draw: st.DrawFn, most: int = 6) -> tuple[nx.Graph, bool, str, dict[str, Any]]:
    graph = draw(graphs(1, most))
    names = st.sampled_from(sorted(graph))
    loop, n = draw(st.booleans()), len(graph)
    pairs = st.lists(st.tuples(names, names).filter(lambda p: p[0] != p[1]), max_size=2)
    wishes: dict[str, Any] = {}
    chosen = draw(st.sets(st.sampled_from(
        ["pick", "first", "last", "include", "exclude", "together", "apart", "before", "distinct",
         "value_range"]), max_size=4))
    for kind in sorted(chosen):
        if kind == "pick":
            wishes[kind] = draw(st.integers(1, n))
        elif kind in ("first", "last"):
            wishes[kind] = draw(names)
        elif kind in ("include", "exclude"):
            wishes[kind] = draw(st.lists(names, max_size=2, unique=True))
        elif kind in ("distinct", "value_range"):
            wishes[kind] = draw(st.integers(0, 30 if kind == "distinct" else 60))
        elif n > 1:
            wishes[kind] = draw(pairs)
    if loop and "first" not in wishes and "last" not in wishes:
        wishes.pop("before", None)  # a loop has no beginning
    return graph, loop, draw(st.sampled_from(AIMS)), wishes


def agree(graph: nx.Graph, loop: bool, aim: str, wishes: dict[str, Any]) -> None:
    wanted = best_price(graph, loop, aim, wishes)
    if wanted is None:
        ground = {key: value for key, value in wishes.items() if key == "pick"}
        torn = best_price(graph, loop, aim, ground) is None
        with pytest.raises(SequenceError, match=_TORN if torn else _CLASH) as caught:
            find_sequence(graph, loop=loop, aim=aim, **wishes)
        assert type(caught.value) is (SequenceError if torn else ImpossibleWishes)
        return
    found = find_sequence(graph, loop=loop, aim=aim, **wishes)
    assert keeps(graph, found.order, loop, wishes)
    assert found.status == "optimal"
    assert found.gap == 0
    got = price(graph, found.order, loop, aim)
    assert got == pytest.approx(wanted, rel=1e-6, abs=1e-6)
    assert found.total == pytest.approx(got[-1])
    assert found.lower_bound <= found.total


@settings(max_examples=1800, **RELAXED)
@given(requests())
def test_every_option_and_mix(request: tuple[nx.Graph, bool, str, dict[str, Any]]) -> None:
    agree(*request)


@settings(max_examples=60, **RELAXED)
@given(requests(most=8))
def test_up_to_eight_prints(request: tuple[nx.Graph, bool, str, dict[str, Any]]) -> None:
    agree(*request)


@settings(max_examples=500, **RELAXED)
@given(requests(), st.data())
def test_the_cutting_planes_agree_too(
    request: tuple[nx.Graph, bool, str, dict[str, Any]], data: st.DataObject
) -> None:
    """The same with the integer model in place of the layers, wherever it applies (n ≥ 5)."""
    from sequencer.order.search import solve

    graph, loop, aim, wishes = request
    if len(graph) - len(set(wishes.get("exclude", ()))) < 5:
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solve, "SMALL", 4)
        patch.setattr(solve, "SMALL_BEFORE", 4)
        agree(graph, loop, aim, {k: v for k, v in wishes.items() if k != "pick"})


@settings(max_examples=300, **RELAXED)
@given(requests())
def test_narrow_beams_that_lean_on_their_bounds(
    request: tuple[nx.Graph, bool, str, dict[str, Any]]
) -> None:
    """One row a layer at first: a completion bound too high would cut off the best order."""
    from sequencer.order.search.tables import layers

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(layers, "WIDTHS", (1, 2, 3, 5, 400000))
        agree(*request)


@settings(max_examples=60, **RELAXED)
@given(graphs(4, 6), st.booleans(), st.sampled_from(AIMS))
def test_alternatives_are_the_best_that_differ_enough(
    graph: nx.Graph, loop: bool, aim: str
) -> None:
    from tests.made.orderings import every_order, meetings

    if best_price(graph, loop, aim, {}) is None:
        return
    found = find_sequence(graph, loop=loop, aim=aim, alternatives=2)
    earlier = [found.order]
    for other in found.alternatives:
        edges = len(meetings(found.order, loop))
        most = edges - max(1, -(-edges // 5))

        def shared(a: Any, b: Any) -> int:
            return len({frozenset(p) for p in meetings(a, loop)}
                       & {frozenset(p) for p in meetings(b, loop)})

        allowed = [order for order in every_order(graph, loop, {})
                   if all(shared(order, one) <= most for one in earlier)]
        wanted = min(price(graph, order, loop, aim) for order in allowed)
        assert price(graph, other.order, loop, aim) == pytest.approx(wanted, rel=1e-6, abs=1e-6)
        earlier.append(other.order)


@pytest.mark.parametrize("seed", range(60))
def test_the_largest_step_with_before_beyond_the_layers_size(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The integer model adds costs up and may not answer for the largest one."""
    import random

    from sequencer.order.search import solve

    monkeypatch.setattr(solve, "SMALL", 4)
    monkeypatch.setattr(solve, "SMALL_BEFORE", 4)
    dice = random.Random(seed)
    graph = nx.Graph()
    for i in range(dice.randint(5, 7)):
        graph.add_node(f"p{i}", value=dice.randint(5, 95))
        for j in range(i):
            graph.add_edge(f"p{i}", f"p{j}", cost=float(dice.randint(0, 9)))
    agree(graph, False, "worst", {"before": [("p0", "p1")]})


@pytest.mark.parametrize("seed", range(24))
def test_a_choice_is_the_same_with_prices_from_the_start(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Prices on visits only tighten bounds: the best choice must be the one tried out in full."""
    random = np.random.default_rng(seed)
    n = int(random.integers(5, 8))
    cost = np.triu(random.uniform(0, 60, (n, n)), 1)
    graph = graph_of(cost + cost.T, random.uniform(20, 90, n).tolist())
    names, aim = sorted(graph), ("even", "total", "worst")[seed % 3]
    wishes: dict[str, Any] = {"pick": int(random.integers(2, n)), "distinct": 0.0}
    wishes |= ({}, {"include": names[:2]}, {"value_range": 20.0}, {"first": names[2]})[seed % 4]
    loop = bool(seed // 4 % 2)
    best = best_price(graph, loop, aim, wishes)
    made: list[Walks] = []

    def kept(walks: Walks, deadline: float) -> Walks:
        made.append(priced(walks, deadline))
        return made[-1]

    monkeypatch.setattr(layers, "PRICED_FROM", 1)
    monkeypatch.setattr(layers, "priced", kept)
    found = find_sequence(graph, loop=loop, aim=aim, **wishes)
    assert found.status == "optimal"
    assert price(graph, found.order, loop, aim) == pytest.approx(best, abs=1e-6)
    assert made or aim == "worst"
