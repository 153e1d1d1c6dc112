"""What she reads on the terminal: short, in her units, by name, weightiest first."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from passalong import show_plan

from sequencer import plan_columns, planning
from sequencer.inches import parse_length, parse_size, show_ruled, with_units
from sequencer.make import Made
from sequencer.models import ContrastReport, Plan, Print, Rejected
from sequencer.piece import Piece
from sequencer.plan.scaling import scale
from sequencer.summary import hours, outside, summary
from tests.made.sheets.made import LONG_NAME, made_prints, made_sequence

INCH = Fraction(254, 100)
"""Centimetres in an inch, exactly (International yard and pound agreement, 1959)."""


def made(prints: list[Print], **wishes: object) -> Made:
    sequence = made_sequence(prints)
    plan = plan_columns(prints, sequence, **wishes)
    report = ContrastReport(sequence.neighbours, ("A sentence.",) * 30, 60.0)
    piece = Piece(prints=tuple(prints), rejected=tuple(
        Rejected(f"blurred-{k}.jpg", "no cloth was found in it " * 9) for k in range(12)))
    files = {name: Path("folder") / name for name in ("piece", "preview.png", "sheets.pdf")}
    return Made(piece, sequence, report, plan, files)


def shown(capsys: pytest.CaptureFixture[str], result: Made, everything: bool = False) -> str:
    show_plan.made(result, everything)
    return capsys.readouterr().out


@pytest.mark.parametrize("count", [2, 7, 40])
@pytest.mark.parametrize("columns", ["80", "100"])
def test_make_prints_25_lines_at_most(count, columns, capsys, monkeypatch) -> None:
    """Everything at once: no sizes, long names, no reference, jumps, photos not used."""
    monkeypatch.setenv("COLUMNS", columns)
    prints = [replace(one, name=LONG_NAME + str(k), size_in=None if k % 2 else (9.0, 2.0))
              for k, one in enumerate(made_prints(count))]  # fmt: skip
    lines = shown(capsys, made(prints, size="30x40", repeats=1, strip="fit")).splitlines()
    assert 8 < len(lines) <= 25
    assert max(map(len, lines)) <= 100


def test_figures_of_colour_only_with_all(capsys) -> None:
    result = made(made_prints(5))
    short, whole = shown(capsys, result), shown(capsys, result, everything=True)
    for words in ("ΔE", "total", "cost"):
        assert words not in short
    assert "±ΔE00" in whole
    assert "total" in whole


def test_names_not_ids_and_each_sentence_once(capsys) -> None:
    result = made(made_prints(6))
    short = shown(capsys, result)
    assert "cloth-" not in short
    assert "Dye bath 3" in short
    sentences = [part.strip() for part in re.split(r"[.:]\s", " ".join(short.split()))]
    long = [part for part in sentences if len(part) > 30]
    assert len(long) == len(set(long))


def test_the_first_lines_say_size_columns_joins_and_hours(capsys) -> None:
    prints = [replace(one, size_in=(8.0, 9.0)) for one in made_prints(5)]
    result = made(prints, columns=["1"] * 9, repeats=2)
    plan = result.plan
    first = " ".join(shown(capsys, result).split("Do first")[0].split())
    assert f"{len(plan.columns)} columns and {plan.rows} rows" in first
    joins = sum(need.joins for need in plan.fabric)
    assert f"{joins or 'no'} join" in first
    assert f"{plan.seams['count']} seams, about {round(hours(plan))} hours" in first


def test_short_cloth_comes_first_and_the_trial_last() -> None:
    prints = [replace(one, size_in=(5.0, 2.0), reference="none") for one in made_prints(4)]
    result = made(prints, size="30x40", repeats=5, strip="2")
    told = summary(result.piece, result.plan, result.contrast).first
    assert told[0].startswith("Too little cloth")
    assert told[0].endswith("passalong plan FOLDER --ways-out.")
    here = summary(result.piece, result.plan, folder=Path("my box")).first
    assert here[0].endswith("passalong plan 'my box' --ways-out.")
    none = summary(result.piece, result.plan, ways=()).first
    assert none[0].endswith("No way out that was tried helps: add scraps or another print.")
    assert len(told) == 5
    assert "sew three strips 2 1/2 in wide: they must measure 6 1/2 in across" in told[-1]


def test_the_first_way_out_is_offered_with_its_price() -> None:
    prints = [replace(one, size_in=(9.0, 6.0)) for one in made_prints(4)]
    result = made(prints, size="20x16")
    ways = planning.ways_out(result.piece, result.plan, Path("my box"))
    told = summary(result.piece, result.plan, folder=Path("my box"), ways=ways).first
    assert told[0].startswith("Too little cloth")
    taken = "A way out: passalong plan 'my box' --way-out 1. "
    assert told[1].startswith(f"{taken}{ways[0].text} Costs: ")
    assert told[1].endswith(f"{len(ways) - 1} more: --ways-out.")


def test_finished_size_counts_the_binding() -> None:
    plan = plan_columns(made_prints(3), ["cloth-1", "cloth-2", "cloth-3"], size="12x9 3/4",
                        strip="1/4", border="1")  # fmt: skip
    assert outside(plan) == (Fraction(29, 2), Fraction(49, 4))


# ── units ─────────────────────────────────────────────────────────────────────────────────


def planned(**wishes: object) -> Plan:
    prints = made_prints(4)
    return plan_columns(prints, [one.id for one in prints], **wishes)


def test_bare_numbers_are_in_the_pieces_units() -> None:
    for typed in ({"size": "20x20", "border": "2.5", "strip": "1"},
                  {"size": (20, 20), "border": 2.5, "strip": 1},
                  {"size": "20x20cm", "border": "25mm", "strip": "1 cm"}):  # fmt: skip
        plan = planned(units="cm", **typed)
        assert [side * INCH for side in plan.centre] == [20, 20]
        assert plan.border["width"] * INCH == Fraction(5, 2)
        assert set(plan.finished_strip.values()) == {1 / INCH}
    assert planned(size="20x20", strip="1").centre == (20, 20)


def test_a_plan_that_is_planned_again_stays_as_it_is() -> None:
    plan = planned(units="cm", size="20x20", strip="1", border="2,3")
    asked = {name: value for name, value in plan.options["asked"].items()
             if name in {"size", "strip", "border", "units"}}  # fmt: skip
    assert planned(**asked).to_json() == plan.to_json()


@given(st.fractions(0, 300, max_denominator=32), st.sampled_from(["", " in", " cm", "mm", '"']))
def test_a_unit_that_was_typed_stays(length: Fraction, unit: str) -> None:
    typed = f"{length}{unit}"
    factor = 1 / INCH if not unit else 1
    assert parse_length(with_units(typed, "cm")) == parse_length(typed) * factor
    assert with_units(typed, "in") == typed
    assert with_units(length, "cm") == length


def test_words_and_papers_are_no_lengths() -> None:
    for word in ("fit", "auto", "A4", "a10"):
        assert with_units(word, "cm") == word
    assert parse_size(with_units("8in x 20", "cm")) == (8, 20 / INCH)
    assert with_units({"a": "1", "b": ["2 in", "3"]}, "cm") == {"a": "1cm", "b": ["2 in", "3cm"]}


@given(st.fractions(0, 400, max_denominator=5000))
def test_no_length_is_shown_as_a_fraction_that_no_ruler_has(length: Fraction) -> None:
    for units in ("in", "cm"):
        told = show_ruled(length, units)
        found = re.search(r"/(\d+)", told)
        assert not found or int(found[1]) in {2, 3, 4, 6, 8, 12, 16, 32}
        value = parse_length(told.removeprefix("≈ ")) / (INCH if units == "cm" else 1)
        assert abs(value - length) <= Fraction(1, 200)
        if value != length and units == "in":
            assert told.startswith("≈")


# ── scale ─────────────────────────────────────────────────────────────────────────────────


def small_box(sizes: tuple[float, float] = (6.0, 3.0)) -> list[Print]:
    return [replace(one, size_in=sizes) for one in made_prints(6)]


@pytest.mark.parametrize(("size", "border"), [("6x6", "1/2"), ("24x24", "2"), ("9x9", "3/4")])
def test_a_border_keeps_its_proportion(size: str, border: str) -> None:
    """The custom border too, not only one that was asked for: on the ruler's nearest line."""
    prints = small_box()
    plan = plan_columns(prints, made_sequence(prints), size="12x12", strip="fit", repeats=2)
    assert plan.border["width"] == 1
    assert scale(plan, prints, size).plan.border["width"] == Fraction(border)


@pytest.mark.parametrize("size", ["4x4", "8x8", "20x20", "40x40"])
def test_three_answers_never_contradict_each_other(size: str) -> None:
    prints = small_box()
    plan = plan_columns(prints, made_sequence(prints), size="12x12", strip="fit", repeats=2)
    scaled = scale(plan, prints, size)
    if scaled.sewn.verdict == "no":
        assert scaled.worth.verdict != "yes"
        assert scaled.worth.reason.startswith("Only once it can be sewn: ")
    if scaled.look.verdict == "no":
        assert scaled.worth.verdict != "yes"
    short = any(need.short_by for need in scaled.plan.fabric)
    assert (scaled.sewn.verdict == "no") >= short
    for answer in scaled.answers:
        assert "ΔE" not in answer.reason
        assert "cloth-" not in answer.reason


def test_scale_speaks_in_the_pieces_units() -> None:
    prints = small_box()
    plan = plan_columns(prints, made_sequence(prints), size="30x30", units="cm", strip="fit",
                        repeats=2)  # fmt: skip
    scaled = scale(plan, prints, "20x20")
    assert [side * INCH for side in scaled.plan.centre] == [20, 20]
    told = " ".join(answer.reason for answer in scaled.answers) + str(
        [rule["text"] for answer in scaled.answers for rule in answer.rules])  # fmt: skip
    assert not re.search(r"\d in\b|\d/\d", told)
    assert " cm" in told
