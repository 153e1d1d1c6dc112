"""The parts that the sheets are made of: letters, lengths, typeface, trail, drawings."""

from __future__ import annotations

import io
import itertools
import re
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from sequencer import plan_columns
from sequencer.inches import parse_length, show_cm, show_inches
from sequencer.keys import key_letters
from sequencer.lettering import drawable
from sequencer.models import Plan
from sequencer.plan.telling import exact, tell, tell_all
from sequencer.sheets.drawn.drawing_pen import Pen
from sequencer.sheets.drawn.drawings import DRAWINGS, HEIGHT, WIDTH, StepDrawing, Ways
from sequencer.sheets.followed.following import follow
from sequencer.sheets.paper.fonts import REGULAR, fitted, printable
from sequencer.sheets.paper.layout import PAPERS
from sequencer.sheets.paper.marks import boxes_for
from sequencer.sheets.paper.measure import Measure, kept_together
from tests.made.sheets.ink import ink_of
from tests.made.sheets.made import made_plan, made_prints, wave

OPS = {
    "cut_strip", "join_ends", "sew_strips", "square_end", "cut_segment", "stack", "close_loop",
    "open_seam", "sew_columns", "add_border", "trim", "bind",
}  # fmt: skip
"""Every ``op`` that a plan's steps may hold."""


# ── letters and lengths ───────────────────────────────────────────────────────────────────


def test_letters_are_distinct_and_never_look_like_figures() -> None:
    keys = list(key_letters([str(k) for k in range(600)]).values())
    assert len(set(keys)) == 600
    assert not set("".join(keys)) & set("IO0123456789")
    assert keys[:3] == ["A", "B", "C"]
    assert keys[23:26] == ["Z", "AA", "AB"]


@pytest.mark.parametrize(
    ("length", "units", "shown"),
    [("5/2", "in", "2 1/2"), ("19/6", "in", "3 1/6"), ("30/127", "in", "≈ 0.24"),
     ("5/2", "cm", "6.35"), ("30/127", "cm", "0.6"), ("1/4", "cm", "0.64")],
)  # fmt: skip
def test_lengths_as_a_ruler_shows_them(length: str, units: str, shown: str) -> None:
    """3 1/6: cut width of a published teaching example (72 in high, 27 strips)."""
    assert Measure(units).bare(Fraction(length)) == shown.replace(" ", "\u00a0")


def test_paper_sizes() -> None:
    """ANSI/ASME Y14.1 size A and ISO 216 A4, in points of 1/72 in."""
    assert PAPERS["letter"] == (612, 792)
    assert PAPERS["a4"] == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72))


@given(st.fractions(min_value=Fraction(1, 64), max_value=400, max_denominator=64))
def test_sentences_are_told_in_either_unit(length: Fraction) -> None:
    """Lengths alone change; the rest of the sentence is left as it is, numbers and all."""
    said = f"Cut 3 in each row, {exact(length)} wide; 2 in all from Bath 7 in column 4."
    own, inches, metric = tell_all(said, "in")
    assert own == inches == said.replace(exact(length), f"{show_inches(length)} in")
    assert metric == said.replace(exact(length), f"{show_cm(length)} cm")
    rounded = tell(said, "in", own="cm")
    shown = re.fullmatch(r"Cut 3 in each row, (?:≈ )?(.*) in wide; 2 in all.*", rounded)
    assert shown
    assert abs(parse_length(shown[1]) - length) < Fraction(1, 100)
    assert kept_together("cut 2 1/2 in wide, 3 in all") == (
        "cut 2\u00a01/2\u00a0in wide, 3\u00a0in all"
    )


def test_yards_and_metres_from_the_bolt() -> None:
    """A yard is 36 in and exactly 0.9144 m (International yard and pound agreement, 1959)."""
    assert Measure("in").off_the_bolt(Fraction(9, 2)) == "1/8 yd"
    assert Measure("in").off_the_bolt(Fraction(37)) == "1 1/8 yd"
    assert Measure("cm").off_the_bolt(Fraction(36)) == "92 cm"
    assert Measure("cm").long(Fraction(360)) == "9.1 m"
    assert Measure("in").long(Fraction(360)) == "10.0 yd"


@pytest.mark.parametrize("count", [1, 40, 41, 400, 401, 5000])
def test_never_more_boxes_than_anybody_checks(count: int) -> None:
    boxes, each = boxes_for(count)
    assert boxes <= 40
    assert boxes * each >= count > (boxes - 1) * each


# ── typeface ──────────────────────────────────────────────────────────────────────────────


@settings(deadline=None)
@given(st.text(max_size=80))
def test_any_text_becomes_printable(text: str) -> None:
    shown = printable(text, 40)
    assert len(shown) <= 40
    assert all(drawable(sign) for sign in shown)
    assert printable(shown) == shown


def test_known_signs_keep_their_meaning() -> None:
    meant = [printable(part) for part in ("6\u2033", "3⅛", "→", "żółty")]
    assert printable("6\u2033 × ½, 3⅛ → Öl\nżółty") == "{} × ½, {} {} Öl {}".format(*meant)
    assert not any("?" in part for part in meant)
    assert printable("𒀀 ཀ") == "? ?"
    assert printable("e\u0301\u200b\u0007") == "é"


@settings(deadline=None)
@given(st.text(max_size=60), st.floats(30, 200))
def test_a_fitted_name_stays_in_its_width(text: str, width: float) -> None:
    shown = fitted(text, width, 10)
    assert stringWidth(shown, REGULAR, 10) <= width
    assert shown == printable(text) or "…" in shown


def test_a_fitted_name_keeps_both_ends() -> None:
    assert fitted("checkered_00095-12", 80, 10).startswith("check")
    assert fitted("checkered_00095-12", 80, 10).endswith("95-12")


# ── trail ─────────────────────────────────────────────────────────────────────────────────


def column_down(plan: Plan, column: int) -> tuple[str, ...]:
    return tuple(plan.patch_print(row, column) for row in range(plan.rows))


def check_trail(plan: Plan) -> None:
    trail = follow(plan)
    assert trail is not None
    numbers: dict[int, list[int]] = {}
    for place, column in enumerate(trail.columns):
        assert column.patches == column_down(plan, place)
        for cut in column.cuts:
            assert cut.width == plan.columns[place].cut_width
            numbers.setdefault(cut.of, []).append(cut.number)
        for seam in column.opened:
            order = plan.prints
            assert order.index(seam.below) == (order.index(seam.above) + 1) % len(order)
            assert seam.below == order[plan.columns[place].offset]
    assert sorted(numbers) == [one.number for one in trail.sets]
    for cuts in numbers.values():
        assert sorted(cuts) == list(range(1, len(cuts) + 1))
    opened = sum(step["op"] == "open_seam" for step in plan.steps)
    assert sum(len(column.opened) for column in trail.columns) == opened


@settings(max_examples=60, deadline=None)
@given(
    count=st.integers(2, 7),
    columns=st.integers(1, 15),
    repeats=st.integers(1, 4),
    method=st.sampled_from(["loop", "flat"]),
    sets=st.integers(1, 3),
)
def test_trail_of_steps_written_by_hand(
    count: int, columns: int, repeats: int, method: str, sets: int
) -> None:
    widths = [Fraction(1 + k % 4, 2) for k in range(columns)]
    check_trail(
        made_plan(made_prints(count), wave(columns), widths, repeats=repeats, method=method,
                  sets=min(sets, columns))
    )  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(
    count=st.integers(2, 8),
    offsets=st.lists(st.integers(0, 7), min_size=1, max_size=20),
    repeats=st.integers(1, 4),
    method=st.sampled_from(["loop", "flat"]),
    press=st.sampled_from(["open", "nested"]),
    sets=st.sampled_from(["tall", "repeat", "auto"]),
)
def test_trail_of_planned_steps(
    count: int, offsets: list[int], repeats: int, method: str, press: str, sets: str
) -> None:
    prints = made_prints(count)
    check_trail(
        plan_columns(
            prints, [one.id for one in prints], columns=["1"] * len(offsets),
            offsets=[offset % count for offset in offsets], repeats=repeats, method=method,
            press=press, sets=sets,
        )
    )  # fmt: skip


def test_no_trail_where_steps_do_not_lead_to_the_columns() -> None:
    from dataclasses import replace

    plan = made_plan(made_prints(3), wave(4), [Fraction(1)] * 4)
    assert follow(replace(plan, steps=())) is None
    assert follow(replace(plan, steps=plan.steps[:-2])) is None
    assert follow(replace(plan, steps=({"op": "bind", "takes": "nothing"},))) is None


# ── drawings ──────────────────────────────────────────────────────────────────────────────


def test_a_drawing_for_every_kind_of_step() -> None:
    assert set(DRAWINGS) == OPS


@pytest.mark.parametrize(
    ("kind", "loop", "pressed_open", "diagonal"),
    [(kind, *ways) for kind in sorted(OPS) for ways in itertools.product([True, False], repeat=3)],
)
def test_drawings_stay_in_their_field(
    kind: str, loop: bool, pressed_open: bool, diagonal: bool
) -> None:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(WIDTH + 200, HEIGHT + 200), initialFontName=REGULAR)
    drawing = StepDrawing(kind, Ways(loop, pressed_open, diagonal))
    assert drawing.wrap(10, 10) == (WIDTH, HEIGHT)
    drawing.drawOn(canvas, 100, 100)
    canvas.save()
    reader = PdfReader(out)
    ink = ink_of(reader.pages[0], reader)
    assert len(ink.boxes()) >= 4
    for box in ink.boxes():
        assert box[0] >= 100
        assert box[1] >= 100
        assert box[2] <= 100 + WIDTH
        assert box[3] <= 100 + HEIGHT
    assert all(run.size >= 9 for run in ink.runs)


def test_drawings_of_different_ways_differ() -> None:
    def drawn(kind: str, ways: Ways) -> bytes:
        out = io.BytesIO()
        canvas = Canvas(out, invariant=1, pageCompression=0, initialFontName=REGULAR)
        StepDrawing(kind, ways).drawOn(canvas, 0, 0)
        canvas.save()
        return out.getvalue()

    usual = Ways()
    assert drawn("open_seam", usual) != drawn("open_seam", Ways(loop=False))
    assert drawn("sew_strips", usual) != drawn("sew_strips", Ways(open=False))
    assert drawn("join_ends", usual) != drawn("join_ends", Ways(diagonal=False))
    assert drawn("trim", usual) == drawn("trim", Ways(False, False, False))


def test_a_wheel_ends_each_cut() -> None:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(100, 100))
    Pen(canvas).cut(10, 10, 80, 10)
    canvas.save()
    reader = PdfReader(out)
    assert max(box[2] for box in ink_of(reader.pages[0], reader).marks) == pytest.approx(83.6)


def test_importing_the_room_loads_no_pdf_library() -> None:
    code = "import sequencer.sheets, sys; sys.exit('reportlab' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
