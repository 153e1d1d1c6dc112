"""What is said about a sequence, an alternative, and a hand-over."""

import json
from dataclasses import replace

import pytest

from sequencer.colour.differences import STRIP_UNIT
from sequencer.models import Alternative
from sequencer.order import transition_graph
from sequencer.order.words.advice import advise, called, family, listed, wide_family
from sequencer.order.words.compared import describe_alternative
from sequencer.order.words.hand_over import hand_over
from tests.made.cloths import cloth, plain_cloth, sequence_of

TEAL, GOLD, PLUM = (50.0, -25.0, -8.0), (75.0, 8.0, 55.0), (30.0, 25.0, -20.0)
CREAM = (92.0, 0.0, 12.0)


def advice(prints, order=None, loop=False, **changes):
    graph = transition_graph(prints)
    sequence = sequence_of(graph, order or [one.id for one in prints], loop)
    return advise(graph, replace(sequence, **changes), prints)


# ── hand-over ─────────────────────────────────────────────────────────────────────────────


def test_the_colour_in_both_is_named_with_its_place_in_both_palettes():
    a, b = cloth("a", (TEAL, 0.8), (CREAM, 0.2)), cloth("b", (GOLD, 0.7), (TEAL, 0.3))
    found = hand_over(a, b)
    assert found["shared"] == pytest.approx(0.3)
    assert [part["share"] for part in found["parts"]] == [0.3]
    part = found["parts"][0]
    assert (part["index_a"], part["index_b"]) == (0, 1)
    assert part["lab_a"] == part["lab_b"] == list(TEAL)
    assert part["difference"] == 0
    assert "blue-green" in part["colour"]
    assert f"The {part['colour']} is in both" in found["text"]
    json.dumps(found)


def test_parts_add_up_to_what_the_graph_calls_shared():
    a = cloth("a", (TEAL, 0.5), (GOLD, 0.3), (CREAM, 0.2))
    b = cloth("b", (GOLD, 0.45), (TEAL, 0.35), (PLUM, 0.2))
    found = hand_over(a, b)
    edge = transition_graph([a, b]).edges["a", "b"]
    assert found["shared"] == edge["shared"] == pytest.approx(0.65)
    assert sum(part["share"] for part in found["parts"]) == pytest.approx(0.65)
    assert [part["share"] for part in found["parts"]] == [0.35, 0.3]


def test_a_colour_beyond_reach_is_not_called_the_same():
    lighter = (TEAL[0] + 18.5 / STRIP_UNIT, *TEAL[1:])
    far = hand_over(plain_cloth("a", *TEAL), plain_cloth("b", *lighter))
    assert far["parts"] == []
    assert "no colour quite in common" in far["text"]
    reached = (TEAL[0] + 16.5 / STRIP_UNIT, *TEAL[1:])
    found = hand_over(plain_cloth("a", *TEAL), plain_cloth("b", *reached))
    assert [part["difference"] for part in found["parts"]] == [16.5]
    assert "in both" not in found["text"]
    assert "finds a lighter" in found["text"]


def test_strangers_hand_over_nothing():
    found = hand_over(plain_cloth("a", *TEAL), plain_cloth("b", *GOLD))
    assert found["parts"] == []
    assert "no colour in common" in found["text"]


# ── a sequence ────────────────────────────────────────────────────────────────────────────


def test_the_journey_names_heaps_of_colour_not_every_shade():
    told = advice([plain_cloth("a", *CREAM), plain_cloth("b", *GOLD),
                   plain_cloth("c", 70.0, 8.0, 50.0), plain_cloth("d", *PLUM)])[0]
    assert told == "Travels from the creams by way of the yellows to the purples."
    looped = advice([plain_cloth("a", *CREAM), plain_cloth("d", *PLUM)], loop=True)[0]
    assert looped.endswith("then home to the start.")


@pytest.mark.parametrize(("values", "says"), [
    ((20, 50, 90), "plenty to show the curve"),
    ((40, 55, 70), "enough to show the curve"),
    ((70, 72, 80), "One dark print more"),
    ((10, 15, 22), "One light print more"),
])
def test_value_range_is_judged(values, says):
    told = advice([plain_cloth(f"g{v}", v, 0.0, 0.0) for v in values])
    assert any(says in sentence for sentence in told)


def test_a_print_without_companion_is_named():
    kin = [cloth(f"k{k}", (TEAL, 0.5 + 0.1 * k), (CREAM, 0.5 - 0.1 * k)) for k in range(4)]
    told = advice([*kin, plain_cloth("odd", 45.0, 60.0, 40.0)])
    assert any(s.startswith("“odd cloth” has no companion") for s in told)
    assert not any("no companion" in s for s in advice(kin))


def test_jumps_are_counted_and_a_smooth_order_is_praised():
    smooth = [plain_cloth(f"g{k}", 30.0 + 12 * k, 0.0, 0.0) for k in range(4)]
    assert any(s.startswith("No step is a jump") for s in advice(smooth))
    rough = advice([plain_cloth("a", *TEAL), plain_cloth("b", *GOLD), plain_cloth("c", *PLUM),
                    plain_cloth("d", *CREAM)])
    assert any("3 of 3 steps are jumps" in s for s in rough)


def test_look_alikes_and_doubts_are_said():
    prints = [plain_cloth("a", *TEAL), plain_cloth("b", 52.0, -24.0, -9.0), plain_cloth("c", *GOLD)]
    told = advice(prints)
    assert any(s.startswith("Look-alikes side by side (“a cloth” with “b cloth”)") for s in told)
    graph = transition_graph(prints)
    sequence = sequence_of(graph, ["a", "b", "c"])
    unsure = (replace(sequence.neighbours[0], certain=False), sequence.neighbours[1])
    assert any("Not certain" in s and "“a cloth” beside “b cloth”" in s
               for s in advise(graph, replace(sequence, neighbours=unsure), prints))
    lost = tuple(replace(pair, certain=False) for pair in sequence.neighbours)
    assert any("white sheet" in s
               for s in advise(graph, replace(sequence, neighbours=lost), prints))


def test_a_print_that_blurs_with_another_is_no_loner():
    """A pattern whose mean is a plain's: no colour in common, and yet one strip from afar."""
    plain = plain_cloth("plain", 60.0, 0.0, 0.0)
    checks = replace(cloth("checks", ((95.0, 0.0, 0.0), 0.5), ((25.0, 0.0, 0.0), 0.5)), spread=2.0)
    kin = [cloth(f"k{k}", (TEAL, 0.5 + 0.1 * k), (CREAM, 0.5 - 0.1 * k)) for k in range(3)]
    assert transition_graph([plain, checks]).edges["plain", "checks"]["verdict"] == "blurs"
    assert not any("companion" in s for s in advice([plain, checks, *kin]))


def test_a_journey_that_returns_to_a_colour_is_not_spelt_out():
    colours = [CREAM, GOLD, CREAM, PLUM]
    told = advice([plain_cloth(n, *c) for n, c in zip("abcd", colours, strict=True)])[0]
    assert told.startswith("Sets out from the creams")


def test_many_look_alikes_are_counted():
    told = advice([plain_cloth(f"g{k}", 50.0 + k, 0.0, 0.0) for k in range(5)])
    assert any(s.startswith("4 of 4 neighbours are look-alikes: choose fewer") for s in told)


def test_nothing_is_said_of_one_print_or_of_strangers():
    one = [plain_cloth("a", *TEAL)]
    assert advice(one) == ()
    graph = transition_graph([*one, plain_cloth("b", *GOLD)])
    assert advise(graph, sequence_of(graph, ["a", "b"]), one) == ()


def test_words():
    assert listed(["a"]) == "a"
    assert listed("ab") == "a and b"
    assert listed("abc") == "a, b and c"
    teal = plain_cloth("a", *TEAL)
    assert called(teal) == "“a cloth”"
    assert called(replace(teal, name="a")).startswith("“a” (")
    assert family(plain_cloth("c", *CREAM)) == "cream"
    assert wide_family(plain_cloth("c", *CREAM)) == "creams"


# ── an alternative ────────────────────────────────────────────────────────────────────────


def told(order, other, loop=False, prints=None, total=None, worst=None):
    prints = prints or [plain_cloth(n, 20.0 + 8 * k, 5.0 * k, 30.0 - 9 * k)
                        for k, n in enumerate("abcdefgh")]
    graph = transition_graph(prints)
    best, second = (sequence_of(graph, list(o), loop) for o in (order, other))
    return describe_alternative(
        best, Alternative(tuple(other), second.total if total is None else total,
                          second.worst if worst is None else worst), prints)


def test_a_new_start_is_told_first():
    assert told("abcdefgh", "bacdefgh").startswith("Starts in the")


def test_a_moved_print_is_told_with_its_new_neighbours():
    assert "sews “c cloth” between “f cloth” and “g cloth”" in told(
        "abcdefgh", "abdefcgh", loop=True).lower().replace("Sews", "sews")


def test_a_turned_stretch_is_told():
    assert "urns the stretch from “c cloth” to “f cloth” round" in told("abcdefgh", "abfedcgh")


def test_other_prints_are_told():
    assert told("abcd", "abce").startswith("Takes in “e cloth” in place of “d cloth”")


def test_two_of_a_colour_kept_together():
    prints = [plain_cloth("a", *GOLD), plain_cloth("b", *TEAL), plain_cloth("c", 70.0, 8.0, 50.0),
              plain_cloth("d", *PLUM), plain_cloth("e", *CREAM)]
    assert "eeps the two golds, “a cloth” and “c cloth”, together" in told(
        "abcde", "acbde", loop=True, prints=prints)


def test_the_price_is_told():
    graph = transition_graph([plain_cloth(n, 20.0 + 8 * k, 5.0 * k, 30.0 - 9 * k)
                              for k, n in enumerate("abcdefgh")])
    best = sequence_of(graph, list("abcdefgh"))
    assert "costs 10.0% more" in told("abcdefgh", "hgabcdef", total=1.1 * best.total, worst=99)
    gentler = told("abcdefgh", "hgabcdef", total=1.1 * best.total, worst=1)
    assert "its largest step is gentler, 1 instead of" in gentler
