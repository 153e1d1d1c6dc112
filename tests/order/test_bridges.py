"""Bridges: a print still in the box, or the colour to look for."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.colour.verdicts import HELPS
from sequencer.order import transition_graph
from sequencer.order.words.bridges import bridges, shop_for, value_word
from tests.made.cloths import cloth, plain_cloth, random_cloths, sequence_of

TEAL, GOLD, PLUM = (50.0, -25.0, -8.0), (75.0, 8.0, 55.0), (30.0, 25.0, -20.0)


def bridged(prints, order, loop=False):
    graph = transition_graph(prints)
    return graph, bridges(graph, sequence_of(graph, order, loop), prints)


def test_the_print_that_holds_a_colour_of_each_is_chosen():
    prints = [plain_cloth("a", *TEAL), plain_cloth("b", *GOLD),
              cloth("half", (TEAL, 0.5), (GOLD, 0.5)), cloth("some", (TEAL, 0.8), (GOLD, 0.2)),
              plain_cloth("plum", *PLUM)]
    graph, found = bridged(prints, ["a", "b"])
    assert [(entry["a"], entry["b"]) for entry in found] == [("a", "b")]
    assert found[0]["print"] == "half"
    assert found[0]["before"] == graph.edges["a", "b"]["cost"]
    assert found[0]["after"] == [graph.edges["a", "half"]["cost"], graph.edges["half", "b"]["cost"]]
    assert found[0]["look_for"] is None
    assert "“half cloth”, still in the box" in found[0]["text"]


@given(st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_no_print_in_the_box_would_do_better(seed):
    """Checked against trying every one."""
    prints = random_cloths(12, 4, seed)
    graph, found = bridged(prints, ["p0", "p1", "p2", "p3"], loop=True)
    box = [f"p{k}" for k in range(4, 12)]
    for entry in found:
        steps = {
            x: max(graph.edges[entry["a"], x]["cost"], graph.edges[x, entry["b"]]["cost"])
            for x in box
            if "blurs" not in (graph.edges[entry["a"], x]["verdict"],
                               graph.edges[x, entry["b"]]["verdict"])
        }
        if entry["print"] is None:
            assert all(step > HELPS * entry["before"] for step in steps.values())
            assert entry["look_for"] is not None
        else:
            assert max(entry["after"]) == min(steps.values()) <= HELPS * entry["before"]


def test_every_jump_and_nothing_else_gets_an_entry():
    prints = [plain_cloth("a", 20, 0, 0), plain_cloth("b", 30, 0, 0), plain_cloth("c", 90, 0, 0)]
    _, found = bridged(prints, ["a", "b", "c"], loop=True)
    assert [(entry["a"], entry["b"]) for entry in found] == [("b", "c"), ("c", "a")]


def test_a_look_alike_of_either_side_bridges_nothing():
    prints = [plain_cloth("a", *TEAL), plain_cloth("b", *GOLD), plain_cloth("twin", 51, -24, -8)]
    _, found = bridged(prints, ["a", "b"])
    assert found[0]["print"] is None


def test_the_colour_to_look_for_closes_the_gap():
    a, b = plain_cloth("a", *TEAL), cloth("b", (PLUM, 0.7), (GOLD, 0.3))
    before = transition_graph([a, b]).edges["a", "b"]["cost"]
    wanted = shop_for(a, b)
    assert max(wanted["after"]) < 0.5 * before
    assert sum(colour["share"] for colour in wanted["palette"]) == pytest.approx(1)
    bought = cloth("bought", *((tuple(c["lab"]), c["share"]) for c in wanted["palette"]))
    graph = transition_graph([a, b, bought])
    after = [graph.edges[x, "bought"]["cost"] for x in ("a", "b")]
    assert after == pytest.approx(wanted["after"], abs=0.02)
    assert wanted["value"] == pytest.approx(bought.value, abs=0.02)
    assert all(colour["name"] for colour in wanted["palette"])


def test_sentence_and_json():
    _, found = bridged([plain_cloth("a", *TEAL), plain_cloth("b", *GOLD)], ["a", "b"])
    assert found[0]["text"].startswith("To bridge “a cloth” and “b cloth” look for a medium print")
    json.dumps(found)


def test_value_words_are_in_order():
    words = [value_word(float(v)) for v in np.linspace(0, 100, 21)]
    assert list(dict.fromkeys(words)) == ["dark", "medium", "light"]
