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
    assert "between B Slate and C Fog in column 3" in said
    assert "between E Rust and F Brick in column 4" in said
    assert plan.patch_print(0, 2) == "p2"


def test_the_tube_is_not_twisted_and_directional_prints_stay_upright() -> None:
    plan = make(method="loop", directional=["p3"])
    tube = next(item.text for item in plan.instructions if item.kind == "close_loop")
    assert "see that it is not twisted" in tube
    told = next(item.text for item in plan.warnings if item.code == "directional")
    assert "Oat has an up and a down" in told
    cut, sewn = (next(item.text for item in plan.instructions if item.kind == kind)
                 for kind in ("cut_strip", "sew_strips"))  # fmt: skip
    assert "Cut D Oat along the scrap only and mark the top edge of each." in cut
    assert "Keep every strip of D Oat the right way up." in sewn
    plain = make(method="loop").instructions
    assert not any("right way up." in item.text or "along the scrap" in item.text for item in plain)


@pytest.mark.parametrize("options", ALL, ids=str)
def test_sentences_come_in_both_units(options: dict[str, Any]) -> None:
    """The figures of the other unit are those of the steps, not of the finished sentence."""
    plan = make(**options)
    for said in (*plan.instructions, *plan.warnings):
        assert said.said(options["units"]) == said.text
        assert not re.search(r"\d cm", said.said("in"))
        assert not re.search(r"\d in(?! (all|each|every|the|columns?)\b)", said.said("cm"))
        assert "\x1f" not in said.text + said.text_in + said.text_cm
    for said in plan.instructions:
        for step in (plan.steps[i] for i in range(*said.steps)):
            if step["op"] == "cut_segment":
                assert show_length(step["width"], "cm") in said.said("cm")


def test_sets_go_by_number_since_prints_have_letters() -> None:
    plan = make(press="nested", set_length=9)
    text = " ".join(item.text for item in plan.instructions)
    numbers = set(map(int, re.findall(r"[Ss]trip set (\d+)", text)))
    assert numbers == set(range(1, max(numbers) + 1))
    assert max(numbers) >= 3
    assert not re.search(r"\b([Ss]et|[Tt]ube) [A-Z]", text)


def test_a_name_that_ends_in_a_number_stands_apart_from_the_width() -> None:
    prints = [Print(f"p{i}", f"Dye bath {i}", "", (), (20.0 + i, 0, 0), ()) for i in range(4)]
    plan = plan_columns(prints, [item.id for item in prints], border="1", border_print="p1")
    text = next(item.text for item in plan.instructions if item.kind == "add_border")
    assert "cut two strips of B Dye bath 1, 1 1/2 in wide" in text
    assert not any(re.search(r"Dye bath \d \d", item.text) for item in plan.instructions)


def test_cloth_that_is_lacking_is_said_before_the_first_cut() -> None:
    sizes = [(40.0, 20.0)] * 5 + [(8.0, 2.0)]
    prints = [Print(f"p{i}", name, "", (), (20.0 + i, 0, 0), (), size_in=size)
              for i, (name, size) in enumerate(zip(NAMES, sizes, strict=True))]  # fmt: skip
    plan = plan_columns(prints, [item.id for item in prints])
    said = [item.text for item in plan.instructions if "still lacking" in item.text]
    assert said == [plan.instructions[0].text]
    assert "Some strip of F Brick is still lacking, see the cutting list." in said[0]
