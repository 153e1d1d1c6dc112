"""Border and binding from the scraps: laid where strips leave cloth, else bought."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from sequencer.models import Plan, Print
from sequencer.plan import best_piece, plan_columns, plan_from_json
from tests.made.scrap_table import Spoilt, lay, lay_edges

F = Fraction


def fabric(key: str, *sizes: tuple[Any, Any], light: float = 50.0) -> Print:
    exact = tuple((F(long), F(short)) for long, short in sizes)
    return Print(key, f"Print {key}", "", (), (light, 0.0, 0.0), (), scraps=exact)


def box(*sizes: tuple[Any, Any], count: int = 4) -> list[Print]:
    return [fabric(f"p{i}", *sizes, light=20.0 + 20 * i) for i in range(count)]


def plan(prints: list[Print], **wishes: Any) -> Plan:
    ids = [one.id for one in prints if one.id.startswith("p")]
    return plan_columns(prints, ids, **{"size": "6x8", **wishes}, prove=True)


def told(one: Plan) -> dict[str, int]:
    document = json.loads(json.dumps(one.to_json()))
    lay(document, F(1, 8))
    assert plan_from_json(document).to_json() == document
    return lay_edges(document)


def words(one: Plan) -> str:
    return " ".join(step.text for step in one.instructions)


def test_border_and_binding_come_from_one_print() -> None:
    one = plan(box((18, 22)))
    assert told(one) == {"border": 4, "binding": one.binding["strips"]}
    assert one.border["from_scraps"]
    assert one.binding["from_scraps"]
    assert {edge.print for edge in one.edges} == {one.border["print"]}
    lengths = sorted(cut.length for edge in one.edges for cut in edge.use.cuts
                     if cut.makes.startswith("border"))  # fmt: skip
    parts = one.border["sides"]["length"], one.border["top_bottom"]["length"]
    assert lengths == sorted([*parts, *parts])
    assert words(one).count("from its scraps, where their drawings show it") == 3


def test_binding_pieces_reach_all_round_with_their_joins() -> None:
    one = plan(box((18, 22)), border=0)
    pieces = [cut.length for edge in one.edges for cut in edge.use.cuts]
    assert len(pieces) > 1
    reach = sum(pieces) - (len(pieces) - 1) * one.binding["cut_width"]
    assert reach >= one.binding["length"]
    assert (one.border, one.binding["joins"]) == (None, len(pieces) - 1)


def test_what_no_scrap_holds_is_bought() -> None:
    """Scraps of 9 in hold no border of 10 1/2 in, but a binding in pieces."""
    one = plan(box((9, 9), (9, 9)), size="6x10")
    assert "border" not in told(one)
    assert not one.border["from_scraps"]
    border = next(step.text for step in one.instructions if step.text.startswith("Border"))
    assert "from its scraps" not in border


def test_a_print_that_is_not_in_the_sequence_may_frame() -> None:
    prints = [*box((9, 5), (9, 5)), fabric("spare", (18, 22), light=0.0)]
    one = plan(prints, size="4x6", border_print="spare")
    assert told(one)["border"] == 4
    assert {edge.print for edge in one.edges} == {"spare"}


def test_cloth_weighs_against_melting() -> None:
    """The print that is told apart best has no cloth for a border, the next one has."""
    prints = [*box((9, 5), (9, 5)), fabric("dark", (3, 3), light=0.0),
              fabric("grey", (18, 22), light=4.0)]  # fmt: skip
    assert plan(prints, size="4x6").border["print"] == "grey"
    both = [*prints[:-2], fabric("dark", (18, 22), light=0.0), prints[-1]]
    assert plan(both, size="4x6").border["print"] == "dark"


def test_a_print_with_an_up_keeps_its_pieces_upright() -> None:
    one = plan(box((22, 18)), directional=("p0",), border_print="p0")
    ways = {cut.along for edge in one.edges for cut in edge.use.cuts}
    assert ways == {"long"}
    told(one)


@pytest.mark.parametrize("seed", range(25))
def test_random_boxes_lay_every_piece(seed: int) -> None:
    rnd = random.Random(seed)
    prints = [
        replace(one, scraps=tuple((F(rnd.randint(40, 180), 8), F(rnd.randint(20, 150), 8))
                                  for _ in range(rnd.randint(1, 3))))
        for one in box(count=3)
    ]  # fmt: skip
    wishes = {"border": rnd.choice([None, "1/2", "1,1/2", 0]), "size": None, "repeats": 2,
              "corners": rnd.choice(["butted", "mitred"]), "join": rnd.choice(["diagonal"]),
              "directional": rnd.choice([(), ("p1",)])}  # fmt: skip
    found = told(plan(prints, **wishes))
    assert all(count == 4 for kind, count in found.items() if kind.startswith("border"))


def test_the_search_weighs_a_border_that_must_be_bought() -> None:
    """Of two alike the one framed from the box is worth more; without a border none is bought."""
    prints = box((22, 18), count=3)
    one = best_piece(prints, ["p0", "p1", "p2"])
    bare = best_piece(prints, ["p0", "p1", "p2"], border=0)
    assert bare.centre[0] * bare.centre[1] >= one.centre[0] * one.centre[1]
    assert one.border["from_scraps"] or one.centre == bare.centre
    assert "a bought border" in one.search["what"]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda edge: edge["cuts"][1].update(at=edge["cuts"][0]["at"]), "cannot be cut|share|lost"),
        (lambda edge: edge["cuts"][0].update(at=["0", "0"], along="long"), "lies where|lost|cut"),
        (lambda edge: edge["left"].pop(), "got lost"),
        (lambda edge: edge.update(at_least=["1", "1"]), "at_least"),
        (lambda edge: edge.update(size=["1", "1"]), "two sizes"),
    ],
)
def test_the_table_notices_spoilt_edges(spoil: Any, said: str) -> None:
    document = json.loads(json.dumps(plan(box((18, 22))).to_json()))
    assert lay_edges(document)
    spoil(document["edges"][0])
    with pytest.raises(Spoilt, match=said):
        lay_edges(document)
