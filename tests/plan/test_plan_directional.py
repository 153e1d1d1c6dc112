"""Prints with an up and a down: strips cut along only, no segment turned, no tube twisted."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from tests.made.sewing import Band, Patch, Table

F = Fraction
TURNING = {"turn", "flip", "rotate", "turn_segment"}


def box(n: int, scraps: tuple[tuple[Fraction, Fraction], ...] = ()) -> list[Print]:
    return [
        Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), (), scraps=scraps or ((F(40), F(20)),))
        for i in range(n)
    ]


def make(n: int = 5, **options: Any) -> Plan:
    return plan_columns(box(n), [f"p{i}" for i in range(n)], **options)


@pytest.mark.parametrize("prove", [False, True])
def test_strips_run_along_the_first_side_only(prove: bool) -> None:
    """A scrap of 5 x 20 in: plain, 6 strips of 20 in; directional, 26 strips of 5 in."""
    prints = box(4)
    prints[0] = Print("p0", "Birds", "", (), (20.0, 0, 0), (), scraps=((F(5), F(20)),))
    ids = [item.id for item in prints]
    wanted: dict[str, Any] = {"repeats": 1, "prove": prove, "columns": ["1 1/2"] * 5,
                              "straighten": 0, "offsets": [0, 1, 2, 1, 0]}  # fmt: skip
    free = plan_columns(prints, ids, **wanted).fabric[0]
    bound = plan_columns(prints, ids, directional=["p0"], **wanted).fabric[0]
    assert free.have_length >= max(6 * 20, 26 * 5)
    assert free.joins == 0
    assert max(strip.length for strip in free.strips) > 5
    assert bound.have_length == 26 * 5
    assert all(strip.length <= 5 for strip in bound.strips)
    assert bound.short_by == 0


@given(
    st.integers(3, 6), st.integers(1, 3), st.sampled_from(["loop", "flat"]),
    st.sampled_from(["open", "nested"]), st.lists(st.integers(0, 5), min_size=1, max_size=7),
)  # fmt: skip
@settings(max_examples=80, deadline=None, derandomize=True, database=None)
def test_every_patch_ends_the_right_way_up(
    n: int, repeats: int, method: str, press: str, offsets: list[int]
) -> None:
    """Each patch is marked at its top edge; after sewing every mark is still at the top."""
    plan = make(n, repeats=repeats, method=method, press=press, offsets=offsets,
                columns=["1"] * len(offsets), directional=["p0", "p1"])  # fmt: skip
    table = Marked(json.loads(json.dumps(plan.to_json())))
    table.run()
    assert table.centre is not None
    patches = [patch for column in table.centre.columns for patch in column.patches]
    assert len(patches) == len(offsets) * plan.rows
    assert all(isinstance(patch, MarkedPatch) and patch.up for patch in patches)
    assert not {step["op"] for step in plan.steps} & TURNING


def test_a_turned_segment_would_be_noticed() -> None:
    """The same table, with one segment laid upside down: its marks stand at the bottom."""
    plan = make(5, directional=["p0"])
    document = json.loads(json.dumps(plan.to_json()))
    table = Marked(document, turned="column 2 segment")
    table.run()
    assert table.centre is not None
    down = [c for c, column in enumerate(table.centre.columns, 1)
            if not all(patch.up for patch in column.patches)]  # type: ignore[attr-defined]
    assert down == [2]


class MarkedPatch(Patch):
    """A patch that knows whether the edge marked when its strip was cut is at the top."""

    up: bool = True


class Marked(Table):
    """Virtual sewing with marked edges; ``turned`` is a piece that is laid upside down."""

    def __init__(self, document: dict[str, Any], turned: str = "") -> None:
        super().__init__(document)
        self.turned = turned

    def make(self, name: str, piece: Any) -> None:
        if isinstance(piece, Band):
            fresh = [self._marked(patch) for patch in piece.patches]
            if name == self.turned:
                fresh = [self._marked(patch, turn=True) for patch in fresh[::-1]]
            piece.patches = list(fresh)
        super().make(name, piece)

    @staticmethod
    def _marked(patch: Patch, turn: bool = False) -> MarkedPatch:
        made = MarkedPatch(patch.print, patch.raw)
        made.up = getattr(patch, "up", True) != turn
        return made


def test_the_tube_is_closed_top_to_bottom_and_told_not_to_twist() -> None:
    """The last strip meets the first; arrows then tell the rings' tops."""
    plan = make(5, method="loop", directional=["p0"])
    closing = next(one.text for one in plan.instructions if one.kind == "close_loop")
    assert "see that it is not twisted" in closing
    rings = [one.text for one in plan.instructions if one.kind == "cut_segment"]
    assert "an arrow towards the set's top" in rings[-1]
    told = next(one.text for one in plan.warnings if one.code == "directional")
    assert "No step here turns a segment over." in told
