"""One plan, one truth: what was planned is what is kept, shown, drawn and printed."""

from __future__ import annotations

import io
import json
import shlex
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from passalong.main import main
from pypdf import PdfReader

from sequencer import planning
from sequencer.errors import PlanError
from sequencer.inches import show_length
from sequencer.models import Print
from sequencer.piece import load, save, worked
from sequencer.plan import plan_columns, plan_from_json
from sequencer.rendering import render
from tests.made.pieces import old_piece

F = Fraction
ASKED: dict[str, list[str]] = {
    "nothing": [],
    "size": ["--size", "6x4"],
    "largest": ["--largest"],
    "best": ["--best", "5x3"],
    "flat": ["--size", "6x4", "--method", "flat", "--press", "nested", "--border", "1/2,1"],
    "cm": ["--units", "cm", "--joins", "few"],
    "columns": ["--columns", "1/2,3/4,1,3/4", "--offsets", "0,1,2,1"],
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = old_piece(tmp_path / "box")
    piece = load(folder)
    sizes = [((F(12), F(5)), (F(9), F(4))), ((F(14), F(6)),), ((F(20), F(3)),)]
    prints = tuple(
        replace(one, scraps=sizes[i % 3]) for i, one in enumerate(piece.prints)
    )
    save(replace(piece, prints=prints, sewn={}, plan=None), folder, "test")
    run("size", folder, *(f"{p.id}={long}x{short}" for p in prints for long, short in p.scraps[:1]))
    return folder


def run(command: str, folder: Path, *more: str) -> dict[str, Any]:
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(io.StringIO()):
        code = main([command, str(folder), "--json", *more])
    assert code == 0, out.getvalue()
    document: dict[str, Any] = json.loads(out.getvalue())
    return document


@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
def test_plan_json_preview_and_sheets_speak_of_one_plan(
    folder: Path, tmp_path: Path, asked: list[str]
) -> None:
    shown = run("plan", folder, *asked)
    piece, plan = planning.planned(load(folder))
    assert plan.to_json() == shown
    _, anew = planning.plan_columns(replace(piece, plan=None))
    assert anew.to_json() == shown, "the wishes kept do not fix the plan"
    run("preview", folder, "--out", str(tmp_path / "a.png"), "--ppi", "30")
    picture = render(plan_from_json(shown), list(piece.prints), ppi=30)
    buffer = io.BytesIO()
    picture.save(buffer, "PNG")
    assert (tmp_path / "a.png").read_bytes() == buffer.getvalue()
    run("sheets", folder, "--out", str(tmp_path / "a.pdf"))
    pages = [page.extract_text() for page in PdfReader(tmp_path / "a.pdf").pages]
    text = " ".join(" ".join(pages).split())
    units = shown["options"]["units"]
    for side in shown["finished"]["centre"]:
        assert show_length(F(side), units).removesuffix(f" {units}") in text
    for one in shown["sets"]:
        assert show_length(F(one["length"]), units).removesuffix(f" {units}") in text


def box() -> list[Print]:
    return [Print(str(i), f"P{i}", "", (), (20.0 + 9 * i, 0, 0), (),
                  scraps=((F(12), F(5)), (F(9), F(4)))) for i in range(4)]  # fmt: skip


@pytest.mark.parametrize("units", ["in", "cm"])
def test_nothing_is_lost_on_the_way_to_json_and_back(units: str) -> None:
    """Prints whose ids look like numbers, borders, joins, unknown sizes."""
    prints = [*box(), Print("1/2", "half", "", (), (60.0, 0, 0), ())]
    plan = plan_columns(prints, [p.id for p in prints], units=units, border="1,2", repeats=2)
    document = json.loads(json.dumps(plan.to_json()))
    back = plan_from_json(document)
    assert back.to_json() == document
    assert back.fabric == plan.fabric
    assert back.sets == plan.sets
    assert back.columns == plan.columns
    assert (back.border, back.binding, back.backing) == (plan.border, plan.binding, plan.backing)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda d: d.pop("columns"), r"cannot be read \(KeyError: 'columns'\)"),
        (lambda d: d.update(seam="wide"), "cannot be read .ValueError"),
        (lambda d: d.update(seam="1/0"), "cannot be read .ZeroDivisionError"),
        (lambda d: d.update(rows=3), "is not whole"),
        (lambda d: d.update(columns=[]), "is not whole"),
        (lambda d: d.update(schema="passalong.plan/9"), "is not whole"),
        (lambda d: d.update(steps=None), "cannot be read .TypeError"),
    ],
)
def test_a_spoilt_plan_is_refused_in_words(spoil: Any, words: str) -> None:
    document = json.loads(json.dumps(plan_columns(box(), ["0", "1", "2", "3"]).to_json()))
    spoil(document)
    with pytest.raises(PlanError, match=words):
        plan_from_json(document)


def test_a_way_out_is_taken_and_kept(folder: Path) -> None:
    """Each way was planned before it is offered; taking it gives that very plan."""
    asked = run("plan", folder, "--size", "20x16", "--ways-out")
    ways = asked["ways_out"]
    lacking = sum(F(need["short_by"]) for need in asked["fabric"])
    assert lacking > 0
    assert ways[0]["enough"]
    assert {"best piece"} <= {way["kind"] for way in ways}
    for number, way in enumerate(ways, 1):
        assert way["command"] == f"passalong plan {shlex.quote(str(folder))} --way-out {number}"
        assert way["price"].startswith("Costs")
        assert way["lacking"] == "Then nothing lacks." or "Still lacking" in way["lacking"]
    for number in (1, len(ways)):
        run("plan", folder, "--size", "20x16")
        taken = run("plan", folder, "--way-out", str(number))
        still = {n["print"]: n["short_by"] for n in taken["fabric"] if F(n["short_by"])}
        assert still == ways[number - 1]["short"]
        piece, plan = planning.planned(load(folder))
        assert plan.to_json() == taken
        again = planning.plan_columns(replace(piece, plan=None))[1].to_json()
        for key in ("columns", "finished", "fabric", "steps"):
            assert again[key] == taken[key], "the wishes kept do not fix the plan"


def test_columns_that_are_sewn_are_kept_and_can_be_taken_back(folder: Path) -> None:
    before = run("plan", folder, "--size", "6x4")
    after = run("plan", folder, "--sewn", "3", "--left", "4 in")
    assert after["columns"][:3] == before["columns"][:3]
    assert len(after["columns"]) < len(before["columns"])
    piece, plan = planning.planned(load(folder))
    assert piece.sewn["columns"] == [1, 2, 3]
    assert plan.to_json() == after
    assert run("plan", folder, "--sewn", "1,2,3")["columns"] == after["columns"]
    run("undo", folder)
    run("undo", folder)
    piece, plan = planning.planned(load(folder))
    assert not piece.sewn
    assert plan.to_json() == before


def test_a_way_out_that_is_not_offered(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("plan", folder, "--size", "4x3")
    assert main(["plan", str(folder), "--way-out", "9"]) == 2
    assert "nothing lacks" in capsys.readouterr().err


def test_a_way_out_keeps_every_wish_it_rests_on(folder: Path) -> None:
    """Set length, price of a column, tolerance and seed can only be wished from Python."""
    odd = {"size": "20x16", "set_length": "12 in", "price": 0.3, "seed": 7, "tolerance": "1/16 in"}
    worked(folder, "plan", lambda piece: planning.plan_columns(piece, odd))
    piece, _ = planning.take_way_out(load(folder), 1)
    kept = {key: piece.plan_wishes.get(key) for key in ("price", "seed", "tolerance")}
    assert kept == {"price": 0.3, "seed": 7, "tolerance": "1/16 in"}
    save(piece, folder, "plan")
    again = planning.plan_columns(replace(load(folder), plan=None))[1].to_json()
    for key in ("columns", "finished", "fabric", "steps"):
        assert again[key] == piece.plan[key]


def test_a_way_out_that_swaps_a_print_keeps_how_orders_are_made(folder: Path) -> None:
    boxed = load(folder).prints[0].id
    run("order", folder, "--aim", "worst", "--without", boxed)
    short = load(folder).sequence.order[1]
    run("size", folder, f"{short}=3x1", f"{boxed}=20x10")
    run("plan", folder, "--size", "8x6", "--strip", "1")
    piece, plan = planning.planned(load(folder))
    ways = planning.ways_out(piece, plan)
    swap = next(way for way in ways if way.seq != plan.prints)
    piece, _ = planning.take_way_out(load(folder), ways.index(swap) + 1)
    assert piece.sequence.order == swap.seq
    assert piece.sequence.aim == "worst"
    assert piece.order_wishes["aim"] == "worst"
