"""Instructions say everything the steps do, once, in the piece's own units."""

from __future__ import annotations

import re
from typing import Any

import pytest

from sequencer.inches import show_length
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns

NAMES = ["Harbour", "Slate", "Fog", "Oat", "Rust", "Brick"]


def make(**options: Any) -> Plan:
    prints = [Print(f"p{i}", name, "", (), (20.0 + i, 0, 0), ()) for i, name in enumerate(NAMES)]
    return plan_columns(prints, [item.id for item in prints], **options)


ALL = [
    {"method": method, "press": press, "units": units, "sets": sets}
    for method in ("loop", "flat")
    for press in ("open", "nested")
    for units in ("in", "cm")
    for sets in ("tall", "repeat")
]


@pytest.mark.parametrize("options", ALL, ids=str)
def test_every_step_is_said_once(options: dict[str, Any]) -> None:
    plan = make(**options)
    covered = [step for said in plan.instructions for step in range(*said.steps)]
    assert covered == list(range(len(plan.steps)))
    for said in plan.instructions:
        assert {plan.steps[i]["op"] for i in range(*said.steps)} == {said.kind}
    assert len(plan.instructions) < 40


@pytest.mark.parametrize("options", ALL, ids=str)
def test_words_carry_the_steps_figures(options: dict[str, Any]) -> None:
    plan = make(**options)
    units = options["units"]
    for said in plan.instructions:
        for step in (plan.steps[i] for i in range(*said.steps)):
            if step["op"] in {"cut_segment", "add_border"}:
                width = step["width"] if step["op"] == "cut_segment" else step["cut_width"]
                assert show_length(width, units) in said.text
            if step["op"] == "cut_segment":
                number = step["makes"].split(" ")[1]
                assert re.search(rf"\b{number}\b", said.text)
            if step["op"] == "sew_strips":
                assert all(name in said.text for name in NAMES)
            if step["op"] == "bind":
                assert show_length(step["length"], units) in said.text


@pytest.mark.parametrize("options", ALL, ids=str)
def test_words_read_well(options: dict[str, Any]) -> None:
    for said in make(**options).instructions:
        assert said.text[0].isupper()
        assert said.text.endswith(".")
        assert "  " not in said.text
        assert not re.search(r"\. [a-z]", said.text), said.text
        assert not re.search(r"\b1 (strips|segments|rings|joins|columns)\b", said.text)
        assert not re.search(r"\bp\d\b", said.text), "ids do not belong into sentences"
        other = " cm" if options["units"] == "in" else " in[ ,.;]\\d"
        assert not re.search(other, said.text)


def test_opened_seams_are_named_by_their_prints() -> None:
    """The seam named lies between the print above and the print that becomes the top."""
    plan = make(method="loop", offsets=[0, 0, 2, 5], columns=["1/2"] * 4)
    said = next(item.text for item in plan.instructions if item.kind == "open_seam")
    assert "between Slate and Fog in column 3" in said
    assert "between Rust and Brick in column 4" in said
    assert plan.patch_print(0, 2) == "p2"


def test_the_tube_is_not_twisted_and_directional_prints_stay_upright() -> None:
    plan = make(method="loop", directional=["p3"])
    tube = next(item.text for item in plan.instructions if item.kind == "close_loop")
    assert "twisted" in tube
    told = next(item.text for item in plan.warnings if item.code == "directional")
    assert "Oat" in told
