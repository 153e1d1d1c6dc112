"""`order --pick --enough`: what is picked can be cut, and it says what it went by.

Outside truth: the plan itself, which knows nothing of the pick; every print that was picked must
lack nothing in it, and each one left out must.
"""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from passalong.main import main

from sequencer.errors import SequenceError, UsageError
from sequencer.models import PaletteColour, Print
from sequencer.ordering.sequence import order
from sequencer.piece import Piece, load
from sequencer.plan.planner import plan_columns
from tests.made.pieces import old_piece

LARGE, SMALL = ((Fraction(20), Fraction(10)),), ((Fraction(6), Fraction(2)),)


def cloth(key: str, scraps: Any, seed: int) -> Print:
    lab = tuple(float(x) for x in np.random.default_rng(seed).uniform((30, -30, -30), (80, 30, 30)))
    return Print(key, key, "box.jpg", ((0, 0), (1, 0), (1, 1)), lab,  # type: ignore[arg-type]
                 (PaletteColour(lab, 1.0),), uncertainty=1.0, scraps=scraps)  # type: ignore[arg-type]


def box(*sizes: Any) -> Piece:
    return Piece(prints=tuple(cloth(f"p{k}", one, k) for k, one in enumerate(sizes)))


def test_every_print_that_is_picked_can_be_cut_and_those_left_out_cannot() -> None:
    piece = box(*([LARGE, SMALL] * 6))
    _, free = order(piece, {"pick": 5, "loop": True})
    _, found = order(piece, {"pick": 5, "loop": True, "enough": True})
    prints = {one.id: one for one in piece.prints}
    assert any(prints[key].scraps == SMALL for key in free.order)  # else nothing was asked
    assert all(need.short_by == 0 for need in plan_columns(list(piece.prints), found).fabric)
    small = [one.id for one in piece.prints if one.scraps == SMALL]
    for key in small:
        trial = plan_columns(list(piece.prints), [key, *found.order[1:]])
        assert trial.fabric[0].short_by > 0
    said = next(note for note in found.notes if note.startswith("Only prints with enough"))
    assert said.endswith(f"Left out as too small: {', '.join(small)}.")
    need = plan_columns([replace(one, scraps=()) for one in piece.prints], found).fabric[0]
    assert need.needed_length == Fraction("53.25")
    assert "53 1/4 in of strip 3/4 in wide of each print in a piece of 5" in said


def test_the_choice_is_the_best_of_those_that_have_enough() -> None:
    piece = box(*([LARGE, SMALL] * 6))
    _, found = order(piece, {"pick": 5, "loop": True, "enough": True})
    _, same = order(piece, {"pick": 5, "loop": True,
                            "exclude": [one.id for one in piece.prints if one.scraps == SMALL]})
    assert (found.order, found.total, found.status) == (same.order, same.total, "optimal")


def test_what_was_planned_decides() -> None:
    """6 × 2 in are too little for the plain piece, and enough for one of 2 × 2 in."""
    piece = replace(box(*([SMALL] * 4), *([LARGE] * 4)), plan_wishes={"size": "2x2"})
    _, found = order(piece, {"pick": 4, "loop": True, "enough": True})
    assert "Left out" not in " ".join(found.notes)
    with pytest.raises(SequenceError, match="Only 4 prints have enough cloth, and 5 are to be"):
        order(replace(piece, plan_wishes={}), {"pick": 5, "loop": True, "enough": True})


def test_cloth_of_unknown_size_is_taken_and_told() -> None:
    piece = box((), (), LARGE, LARGE, SMALL, LARGE)
    _, found = order(piece, {"pick": (3, 5), "loop": True, "enough": True})
    note = next(note for note in found.notes if note.startswith("Only prints"))
    assert "Left out as too small: p4. Taken as enough, for no size is known: p0, p1." in note
    assert "in a piece of 3 and" in note
    assert note.split("Left")[0].endswith("in a piece of 5. ")
    assert "p4" not in {key for one in found.sizes for key in one.order}


@pytest.mark.parametrize(("wishes", "error", "words"), [
    ({"enough": True}, UsageError, "add --pick, e.g. --pick 7 --enough"),
    ({"enough": True, "pick": 3, "include": ["p1"]}, SequenceError,
     r"p1 must be in, but has not enough cloth \(.*\)\. Leave it out"),
    ({"enough": True, "pick": 3, "together": [("p1", "p3")]}, SequenceError,
     "p1, p3 must be in, but have not enough cloth"),
    ({"enough": True, "sequence": ["p0", "p2"]}, SequenceError, "leave out enough"),
])
def test_what_cannot_be_is_said(wishes: dict[str, Any], error: type, words: str) -> None:
    with pytest.raises(error, match=words):
        order(box(*([LARGE, SMALL] * 3)), {"loop": True, **wishes})


def test_from_the_terminal_and_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = old_piece(tmp_path / "box")
    assert main(["size", str(folder), "table-1=2x1", "table-2=20x10",
                 "table-3=20x10", "reed=20x10"]) == 0
    assert main(["order", str(folder), "--pick", "4", "--enough", "--with", "table-2"]) == 0
    capsys.readouterr()
    assert load(folder).order_wishes["enough"] is True
    assert main(["order", str(folder), "--pick", "4", "--enough", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert "table-1" in told["left_out"]
    assert any("table-1" in note and "too small" in note for note in told["notes"])
    assert main(["order", str(folder), "--enough"]) == 2
    assert "needs to know how many to pick" in capsys.readouterr().err
