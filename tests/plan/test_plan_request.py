"""What cannot be planned is refused with what was found and what to do; never a traceback."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import partial
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequencer.errors import PassalongError, PlanError, UsageError
from sequencer.inches import to_mm
from sequencer.models import Neighbours, Plan, Print, Sequence
from sequencer.plan import plan_columns
from sequencer.plan.asked.loose import read_size
from sequencer.plan.planner import replan
from tests.made.work import calls

F = Fraction


def box(n: int) -> list[Print]:
    return [Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), ()) for i in range(n)]


def make(n: int = 5, **options: Any) -> Plan:
    return plan_columns(box(n), [f"p{i}" for i in range(n)], **options)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"strip": "1/8"}, "narrower than the seam allowance"),
        ({"columns": "1/2,1/8,1"}, "Column 2.*narrower than the seam allowance"),
        ({"smallest": "1/8"}, "narrower than the seam allowance"),
        ({"border": "1/8"}, "narrower than the seam allowance"),
        ({"size": "1/8x10"}, "holds no column"),
        ({"size": "10x10", "strip": "1/4", "repeats": 3}, "Nearest: 10 in \\(8 repeats\\)"),
        ({"size": "10x9", "strip": "1/2"}, "Nearest: 7 1/2 in \\(3 repeats\\) or 10 in"),
        ({"size": "8.3x10"}, "Nearest: 8 1/4 in or 8 3/8 in"),
        ({"size": "7x10", "smallest": 4, "largest": 5}, "Nearest: 5 in or 8 in"),
        ({"size": "10x3", "repeats": 9}, "cannot fill 3 in exactly"),
        ({"repeats": 10_000}, "50000 rows"),
        ({"strip": "40"}, "larger than any bed"),
        ({"size": "900x900"}, "wider than any bed"),
        ({"columns": ["1"] * 2000}, "too many"),
        ({"columns": ["1"] * 500}, "larger than any bed"),
        ({"columns": "1,2", "size": "4x10", "strip": "1", "repeats": 2}, "add up to 3 in"),
        ({"offsets": [0, 1] * 40}, "do not fit"),
        ({"border": "50"}, "wider than most"),
        ({"border": ",".join(["1"] * 9)}, "too many"),
    ],
)
def test_impossible_panels(options: dict[str, Any], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        make(**options)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"strip": "wide"}, "'wide' is not a length"), ({"strip": 0}, "Strip: .* more than zero"),
        ({"strip": -1}, "Strip -1 is too small"), ({"strip": math.nan}, "Strip nan is not"),
        ({"strip": ["1", "2"]}, "2 strip widths for 5 prints"),
        ({"strip": {"p0": "1"}}, "No strip width for p1, p2, p3, p4"),
        ({"strip": {"p9": "1"}}, "Strip widths for p9: not in"),
        ({"strip": "fit"}, "needs a size"), ({"repeats": 0}, "Repeats 0: at least 1"),
        ({"repeats": 2.5}, "Repeats 2.5 is not a whole"), ({"repeats": "3"}, "not a whole number"),
        ({"size": "8"}, "'8' is not a size"), ({"size": (1, 2, 3)}, "is not width and height"),
        ({"size": "0x5"}, "'0x5' is not a size"), ({"columns": ""}, "'' is not a length"),
        ({"columns": []}, "Columns lists no widths"), ({"columns": "1,,2"}, "'' is not a length"),
        ({"columns": "0,1"}, "Columns: every width must be more than zero"),
        ({"offsets": "a,b"}, "Offsets 'a,b' are not whole"), ({"offsets": []}, "no numbers"),
        ({"offsets": [10**9]}, "a million is too many"),
        ({"columns": "1,2", "offsets": "1,2,3"}, "2 column widths but 3 offsets"),
        ({"seam": 0}, "Seam: .* more than zero"), ({"seam": "-1/4"}, "Seam -1/4 is too small"),
        ({"method": "magic"}, "Method 'magic'"), ({"press": "hard"}, "Press 'hard'"),
        ({"units": "ell"}, "Units 'ell'"), ({"sets": "none"}, "Sets 'none'"),
        ({"join": "glue"}, "Join 'glue'"), ({"corners": "round"}, "Corners 'round'"),
        ({"steps": ()}, r"Steps \(\)"), ({"steps": (0,)}, r"Steps \(0,\)"),
        ({"steps": (3,)}, r"Steps \(3,\)"), ({"price": -1}, "Price -1 makes no sense"),
        ({"price": math.inf}, "Price inf makes no sense"), ({"grid": 0}, "Grid 0: a ruler"),
        ({"grid": "3"}, "Grid 3: a ruler"), ({"binding": "1/2"}, "cannot wrap the edge"),
        ({"binding": "20"}, "wider than any binding"), ({"border_print": "p9"}, "no print 'p9'"),
        ({"directional": ["p9"]}, "Directional: p9 is not in"), ({"curve": "loop"}, "is no curve"),
        ({"usable": "1"}, "Usable width 1 is too small"), ({"squaring": "-1"}, "Squaring -1"),
        ({"pieces": 3}, "Pieces: give a mapping"), ({"pieces": {"p0": 3}}, "Pieces 3 is not a"),
        ({"pieces": {"p9": []}}, "Pieces: p9 is not in"),
    ],
    ids=str,
)  # fmt: skip
def test_requests_that_make_no_sense(options: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        make(**options)


def test_sequences_that_do_not_match_the_prints() -> None:
    with pytest.raises(UsageError, match="no such print"):
        plan_columns(box(3), ["p0", "p7"])
    with pytest.raises(UsageError, match="more than once"):
        plan_columns(box(3), ["p0", "p1", "p0"])
    with pytest.raises(PlanError, match="two prints or more"):
        plan_columns(box(3), ["p0"])
    with pytest.raises(PlanError, match="two prints or more; the sequence has 0"):
        plan_columns([], [])


def test_the_nearest_sizes_named_can_be_made() -> None:
    for size in ("10x3 3/4", "10x5"):
        assert make(size=size, strip="1/4").centre[0] == 10
    assert make(size="8 1/4x10").centre == (F(33, 4), 10)
    assert make(size="5x10", smallest=4, largest=5).centre[0] == 5
    assert make(size="8x10", smallest=4, largest=5).centre[0] == 8


@pytest.mark.parametrize(
    ("n", "options"),
    [(7, {"size": "20x27.01cm", "units": "cm"}), (5, {"size": "10x3", "repeats": 9}),
     (13, {"size": ("10", "10 1/3")}), (13, {"size": "3x1/2"}), (6, {"size": "30x40.3"})],
)  # fmt: skip
def test_the_nearest_heights_named_can_be_filled(n: int, options: dict[str, Any]) -> None:
    with pytest.raises(PlanError, match="Nearest: ") as raised:
        make(n, **options)
    named = re.search(r"Nearest: (.*?)\. Or", str(raised.value))
    assert named
    width = str(options["size"][0] if isinstance(options["size"], tuple) else 10)
    for height in named[1].split(" or "):
        assert make(n, **{**options, "size": (width, height)}).centre[1] > 0


@pytest.mark.parametrize("size", ["8x10", "5x7", "60x80", "11x14"])
@pytest.mark.parametrize("n", [5, 9, 12, 20])
def test_a_size_alone_is_filled_exactly(size: str, n: int) -> None:
    width, height = map(int, size.split("x"))
    if n == 20 and height == 7:
        assert make(n, size=size).repeats == 1
    plan = make(n, size=size)
    assert plan.centre == (width, height)
    assert plan.repeats * sum(plan.finished_strip.values()) == height
    assert len(set(plan.finished_strip.values())) <= 2


ISO_216 = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148), "A7": (74, 105), "A8": (52, 74), "A9": (37, 52),
    "A10": (26, 37),
}  # fmt: skip
"""Millimetres, ISO 216:2007 table of the A series (from memory of the standard)."""


@pytest.mark.parametrize("name", ISO_216)
def test_sizes_by_iso_216(name: str) -> None:
    size = read_size(name)
    assert size is not None
    assert tuple(to_mm(side) for side in size) == ISO_216[name]


def test_an_a4_piece_in_millimetres() -> None:
    plan = make(9, size="a4", units="cm")
    assert [to_mm(side) for side in plan.centre] == [210, 297]
    assert all(to_mm(width).denominator == 1 for width in plan.finished_strip.values())
    assert plan.repeats > 1


def test_defaults_suit_a_small_wall() -> None:
    plan = make(12)
    assert plan.repeats == 3
    assert plan.rows == 36
    assert 8 <= plan.centre[0] <= 12
    assert set(plan.finished_strip.values()) == {F(1, 4)}
    assert make(2).rows == 6


def test_an_open_sequence_is_told() -> None:
    pair = Neighbours("p0", "p1", 1.0)
    seq = Sequence(("p0", "p1"), False, "even", 1, 1, "optimal", 1, 0, (pair,))
    codes = {warning.code for warning in plan_columns(box(2), seq).warnings}
    assert {"open_sequence", "sizes_unknown"} <= codes


def test_replan_changes_one_thing() -> None:
    plan = make(6, method="flat", border="1/2")
    other = replan(plan, box(6), repeats=2)
    assert other.rows == 12
    assert other.method == "flat"
    assert other.border is not None
    assert other.border["width"] == F(1, 2)
    assert replan(other, box(6), repeats=None).to_json() == plan.to_json()
    with pytest.raises(UsageError, match="frills"):
        replan(plan, box(6), frills=3)


CONTRACT = {
    "schema", "prints", "seam", "repeats", "rows", "finished_strip", "columns", "finished",
    "fabric", "layers", "seams", "border", "binding", "backing", "batting", "steps", "warnings",
    "fit",
}  # fmt: skip


def test_the_document_keeps_its_contract() -> None:
    """Format passalong.plan/1; fractions are texts that Fraction reads."""
    document = make(5, method="flat").to_json()
    assert set(document) >= CONTRACT
    assert document["schema"] == "passalong.plan/1"
    assert set(document["columns"][0]) == {"cut_width", "finished_width", "offset"}
    assert set(document["finished"]) == {"centre", "bordered"}
    need = document["fabric"][0]
    assert set(need) >= {"print", "strips", "needed_length", "have_length", "short_by", "joins"}
    assert set(document["layers"]) >= {"column_seam_max", "column_seam_typical"}
    assert set(document["seams"]) >= {"count", "opened", "length"}
    assert F(need["needed_length"]) == sum(F(strip["length"]) for strip in need["strips"])
    names = [name for step in document["steps"] for name in _names(step)]
    assert all(isinstance(name, str) for name in names)
    assert len(set(names)) == len(names)


def _names(step: dict[str, Any]) -> list[str]:
    makes = step.get("makes", [])
    left = [step["leaves"]] if "leaves" in step else []
    return [*(makes if isinstance(makes, list) else [makes]), *left]


def test_a_bed_is_planned_at_once() -> None:
    """60 x 80 in, 20 prints, 80 columns: some 65,000 calls, and as many for a change."""
    prints, ids = box(20), [f"p{i}" for i in range(20)]
    wanted: dict[str, Any] = {"strip": "1", "repeats": 4, "curve_count": 2, "curve_height": 20}
    plan = plan_columns(prints, ids, size="60x80", **wanted)
    assert 70 <= len(plan.columns) <= 90
    for height in (19, 17, 15):
        assert calls(partial(replan, plan, prints, curve_height=height)) < 400_000


LOOSE = st.one_of(
    st.none(), st.integers(-3, 60), st.floats(), st.text(max_size=6),
    st.sampled_from(["1/4", "1/2", "2.5cm", "8x10", "3,4", "wave", "loop", "cm", "fit", "p0=1"]),
    st.lists(st.one_of(st.integers(-2, 9), st.text(max_size=3), st.floats()), max_size=4),
    st.fractions(-1, 50), st.booleans(),
)  # fmt: skip
NAMES = st.sampled_from([
    "size", "strip", "repeats", "columns", "offsets", "seam", "method", "press", "border",
    "binding", "units", "curve", "curve_height", "curve_count", "curve_phase", "smallest",
    "largest", "price", "grid", "sets", "set_length", "squaring", "usable", "join", "backing",
    "corners", "tolerance", "pieces", "directional", "border_print", "steps",
])  # fmt: skip


@settings(max_examples=1500, deadline=None, derandomize=True, database=None)
@given(st.dictionaries(NAMES, LOOSE, max_size=3))
def test_nothing_but_our_own_errors(options: dict[str, Any]) -> None:
    """Whatever is passed, the answer is a plan or an error of the tree."""
    try:
        plan = make(3, **options)
    except PassalongError as error:
        assert str(error).endswith(".")  # noqa: PT017 - an error is one of two right answers
    else:
        assert plan.to_json()["schema"] == "passalong.plan/1"


def test_strips_stay_with_their_prints_in_any_order() -> None:
    """Two widths that 'fit' found, and widths listed in sequence: a moved cloth keeps its own."""
    order = ["p3", "p0", "p4", "p2", "p1"]
    for wishes in ({"size": "8x7"}, {"strip": "1/4,1/2,3/8,1,3/4"}):
        plan = make(5, **wishes)
        assert len(set(plan.finished_strip.values())) > 1
        moved = replan(plan, box(5), order)
        assert moved.prints == tuple(order)
        assert dict(moved.finished_strip) == dict(plan.finished_strip)
        assert moved.columns == plan.columns
        assert moved.centre == plan.centre
    fitted = make(5, size="8x7").options["asked"]["fitted"]
    assert make(5, size="8x7", fitted=fitted) == make(5, size="8x7")
    fewer = plan_columns(box(4), [f"p{i}" for i in range(4)], size="8x7", fitted=fitted)
    assert fewer.finished_strip == make(4, size="8x7").finished_strip
    assert make(5, size="8x10", fitted=fitted).centre[1] == 10
