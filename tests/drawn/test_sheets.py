"""The sheets as a reader of the PDF finds them: complete, true to scale, inside the paper."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PageObject, PdfReader

from sequencer import plan_columns
from sequencer.inches import show_cm, show_inches
from sequencer.keys import key_letters
from sequencer.models import ContrastReport, FabricNeed, StripCut
from sequencer.sheets.paper.fonts import REGULAR
from tests.made.sheets.ink import Ink, ink_of
from tests.made.sheets.made import LONG_NAME, made_plan, made_prints, made_sequence, wave
from tests.made.sheets.read import A4, LETTER, POINT, check_ink, inks_of, planned, text_of, written

CASES = {
    "seven": (7, {}, {}),
    "flat, a4, cm": (5, {"method": "flat"}, {"paper": "a4", "units": "cm"}),
    "metric, nested": (4, {"units": "cm", "press": "nested"}, {"paper": "a4", "units": "cm"}),
    "two prints": (2, {"columns": ["1", "2", "1/2", "1", "3"], "offsets": [0, 1, 0, 1, 0]}, {}),
    "two borders, short": (
        6, {"size": "40x45", "strip": "1 1/2", "repeats": 5, "border": ["1", "3"]}, {"units": "cm"},
    ),
    "no border": (3, {"border": 0, "binding": 0, "curve": "zigzag"}, {"paper": "a4"}),
    "sixty prints": (60, {"repeats": 1, "columns": ["1/2"] * 40}, {}),
    "many columns": (4, {"columns": ["1/4"] * 120, "repeats": 2}, {"units": "cm"}),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_every_page_keeps_to_its_paper(case: str, tmp_path: Path) -> None:
    count, plan_wishes, sheet_wishes = CASES[case]
    prints = made_prints(count, {0: LONG_NAME, 1: "W" * 200})
    plan = planned(prints, **plan_wishes)
    reader = written(tmp_path / "s.pdf", plan, prints, seq=made_sequence(prints), **sheet_wishes)
    check_ink(reader)
    wanted = A4 if sheet_wishes.get("paper") == "a4" else LETTER
    for page in reader.pages:
        assert [float(side) for side in page.mediabox] == pytest.approx([0, 0, *wanted], abs=0.01)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    names=st.lists(st.text(max_size=60), min_size=2, max_size=5),
    columns=st.integers(1, 24),
    method=st.sampled_from(["loop", "flat"]),
    units=st.sampled_from(["in", "cm"]),
    title=st.text(max_size=200),
)
def test_any_names_and_titles_stay_inside(
    names: list[str], columns: int, method: str, units: str, title: str, tmp_path: Path
) -> None:
    prints = [replace(one, name=name) for one, name in
              zip(made_prints(len(names)), names, strict=True)]  # fmt: skip
    plan = made_plan(prints, wave(columns), [Fraction(1 + k % 5, 4) for k in range(columns)],
                     method=method)  # fmt: skip
    check_ink(written(tmp_path / "s.pdf", plan, prints, units=units, title=title))


def test_the_reader_of_ink_finds_planted_faults(tmp_path: Path) -> None:
    from reportlab.pdfgen.canvas import Canvas

    planted = {
        "off the page": [(580, 400, 10)], "small type": [(100, 400, 8)],
        "words on words": [(100, 400, 10), (110, 404, 10)],
    }  # fmt: skip
    for fault, words in planted.items():
        canvas = Canvas(str(tmp_path / "bad.pdf"), pagesize=LETTER)
        for x, y, size in words:
            canvas.setFont(REGULAR, size)
            canvas.drawString(x, y, "planted words")
        canvas.save()
        with pytest.raises(AssertionError, match=fault):
            check_ink(PdfReader(tmp_path / "bad.pdf"))


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_scale_squares_measure_one_inch_and_five_centimetres(paper: str, tmp_path: Path) -> None:
    prints = made_prints(4)
    reader = written(tmp_path / "s.pdf", planned(prints), prints, paper=paper)
    sides = [
        (box[2] - box[0], box[3] - box[1]) for box in ink_of(reader.pages[0], reader).rects
    ]
    for wanted in (1 * POINT, 5 / 2.54 * POINT):
        assert any(side == pytest.approx((wanted, wanted), abs=1e-3) for side in sides), sides
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
    assert "Print at 100 %" in text_of(reader)


@pytest.mark.parametrize("units", ["in", "cm"])
@pytest.mark.parametrize("method", ["loop", "flat"])
def test_every_print_and_every_column_is_there(units: str, method: str, tmp_path: Path) -> None:
    prints = made_prints(7)
    plan = planned(prints, method=method)
    reader = written(tmp_path / "s.pdf", plan, prints, units=units)
    text, keys = text_of(reader), key_letters(plan.prints)
    show = show_cm if units == "cm" else show_inches
    for one in prints:
        assert f"{keys[one.id]} {one.name}" in text
    for number, column in enumerate(plan.columns, 1):
        top = plan.prints[column.offset]
        name = next(one.name for one in prints if one.id == top)
        row = (f"{number} {show(column.cut_width)} {show(column.finished_width)} "
               f"{column.offset} {keys[top]} {name} ")  # fmt: skip
        assert row in text
    for side in plan.bordered:
        assert show(side) in text


@pytest.mark.parametrize("method", ["loop", "flat"])
def test_the_seam_to_open_is_above_the_columns_top(method: str, tmp_path: Path) -> None:
    prints = made_prints(6)
    plan = planned(prints, method=method)
    text, keys = text_of(written(tmp_path / "s.pdf", plan, prints)), key_letters(plan.prints)
    opened = 0
    for number, column in enumerate(plan.columns, 1):
        row = re.search(
            rf"(?<!\S){number} {re.escape(show_inches(column.cut_width))} \S+(?: \d+/\d+)? "
            rf"{column.offset} [A-Z] Dye bath \d+ (none|[A-Z] \| [A-Z])", text,
        )  # fmt: skip
        assert row, number
        if row[1] != "none":
            opened += 1
            above, below = plan.prints[column.offset - 1], plan.prints[column.offset]
            assert row[1] == f"{keys[above]} | {keys[below]}"
    assert opened == plan.seams["opened"]


def test_cutting_order_of_a_set_says_when_to_sew_the_tube(tmp_path: Path) -> None:
    prints = made_prints(3)
    order = [one.id for one in prints]
    plan = plan_columns(prints, order, columns=["1", "2", "1/2"], offsets=[0, 1, 2])
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    cuts = [(int(str(step["makes"]).split()[1]), step["width"], "tube" in str(step["takes"]))
            for step in plan.steps if step["op"] == "cut_segment"]  # fmt: skip
    flat = " ".join(f"{c}: {show_inches(width)}" for c, width, ring in cuts if not ring)
    rings = " ".join(f"{c}: {show_inches(width)}" for c, width, ring in cuts if ring)
    assert flat
    assert rings
    assert text.count(flat) == 1
    between = text[text.index(flat) + len(flat) : text.index(rings)]
    assert re.match(r" Sew the tube\. .* Then cut rings\. ", between)


def test_no_inches_are_left_on_a_sheet_in_centimetres(tmp_path: Path) -> None:
    prints = made_prints(6)
    for wishes in ({}, {"method": "flat"}, {"size": "20x27", "strip": "1 1/2"}):
        text = text_of(written(tmp_path / "s.pdf", planned(prints, **wishes), prints, units="cm"))
        text = text.replace("5 cm 1 in Print at 100 %", "")
        assert not re.findall(r"\d in\b(?! (?:all|each|every|the|columns?)\b)", text)
        metric = planned(prints, units="cm")
        text = text_of(written(tmp_path / "m.pdf", metric, prints, units="in"))
        assert not re.findall(r"\d cm\b", text.replace("5 cm", ""))


@pytest.mark.parametrize(("units", "word"), [("in", "inches"), ("cm", "centimetres")])
def test_sheets_speak_the_plans_own_unit(units: str, word: str, tmp_path: Path) -> None:
    prints = made_prints(3)
    text = text_of(written(tmp_path / "s.pdf", planned(prints, units=units), prints))
    assert f"Lengths in {word}" in text
    assert "≈" not in text.replace("≈ marks a length", "")


def test_cutting_list_says_cut_finished_needed_and_short(tmp_path: Path) -> None:
    prints = made_prints(3)
    plan = planned(prints)
    ids = plan.prints
    strips = (StripCut(Fraction(7, 8), Fraction(61, 4)),) * 3
    fabric = (
        FabricNeed(ids[0], strips, Fraction(46), Fraction(30), Fraction(16), 2),
        FabricNeed(ids[1], strips, Fraction(46), None, Fraction(0), 0),
        FabricNeed(ids[2], strips[:1] * 117, Fraction(46), Fraction(46), Fraction(0), 0),
    )
    text = text_of(written(tmp_path / "s.pdf", replace(plan, fabric=fabric), prints))
    assert "3 of 7/8 × 15 1/4" in text
    assert "needs 46 lacks 16" in text
    assert "2 joins end to end" in text
    assert "not measured" in text
    assert "117 of 7/8 × 15 1/4, box = 10" in text


def test_a_box_for_every_strip_cut_and_column(tmp_path: Path) -> None:
    prints = made_prints(3)
    plan = planned(prints)
    reader = written(tmp_path / "s.pdf", plan, prints)
    sides = [(box[2] - box[0], box[3] - box[1]) for ink in inks_of(reader) for box in ink.rects]
    boxes = sides.count(pytest.approx((9.5, 9.5), abs=1e-3))
    ops = [step["op"] for step in plan.steps]
    listed = sum(len(need.strips) for need in plan.fabric)
    finishing = 4 + plan.binding["strips"] + plan.backing["panels"] + 2
    per_set = 4 + 2 * ("close_loop" in ops)
    least = (2 * listed + finishing + ops.count("cut_segment") + len(plan.columns)
             + per_set * ops.count("sew_strips"))  # fmt: skip
    assert least <= boxes <= least + 24


def fill_of(page: PageObject, ink: Ink) -> float:
    """How far down the page's ink reaches, as a share of the room between header and footer."""
    height = float(page.mediabox.height)
    inside = [box for box in ink.boxes() if box[1] > 50 and box[3] < height - 55]
    return (height - 62 - min((box[1] for box in inside), default=height - 62)) / (height - 116)


FILLS = {
    "small": (3, {"columns": ["1"] * 5}),
    "seven": (7, {}),
    "large": (24, {"size": "90x108"}),
    "short scraps": (6, {"size": "20x30", "strip": "1", "repeats": 5}),
    "one repeat": (12, {"sets": "repeat", "method": "flat", "repeats": 3}),
    "many columns": (4, {"columns": ["1/2"] * 90}),
}  # fmt: skip


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("case", FILLS, ids=str)
def test_no_page_is_less_than_a_third_filled(case: str, paper: str, tmp_path: Path) -> None:
    count, wishes = FILLS[case]
    prints = made_prints(count)
    reader = written(tmp_path / "s.pdf", planned(prints, **wishes), prints, paper=paper,
                     seq=made_sequence(prints))  # fmt: skip
    fills = [fill_of(page, ink) for page, ink in zip(reader.pages, inks_of(reader), strict=True)]
    assert min(fills) >= 1 / 3, fills
    assert len(reader.pages) <= 36, "still a handful of paper for a bed quilt"


def test_finished_size_counts_the_binding(tmp_path: Path) -> None:
    """A panel of 14 × 11 3/4 in finished inside its binding is 14 1/2 × 12 1/4 with it: the
    binding shows outside the seam that sews it on, one allowance on each side."""
    prints = made_prints(3)
    plan = planned(prints, size="12x9 3/4", strip="1/4", border="1")
    assert plan.bordered == (14, Fraction(47, 4))
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    assert "Finished 14 1/2 × 12 1/4 in, with binding" in text
    bare = planned(prints, size="12x9 3/4", strip="1/4", border="1", binding=0)
    assert "Finished 14 × 11 3/4 in " in text_of(written(tmp_path / "b.pdf", bare, prints))


@pytest.mark.parametrize(("strip", "measured"), [("1/4", "1 1/4"), ("1", "3 1/2")])
def test_the_trial_comes_before_the_first_strip(
    strip: str, measured: str, tmp_path: Path
) -> None:
    """Three strips cut 1 1/2 in with true 1/4 in allowances measure 3 1/2 in (published teaching
    example); by the same sum three cut 3/4 in measure 1 1/4 in."""
    prints = made_prints(3)
    text = text_of(written(tmp_path / "s.pdf", planned(prints, strip=strip), prints))
    assert f"Sew three strips, measure {measured} in." in text
    assert text.index("Sew three strips") < text.index("Close the blade") < text.index("Cutting l")


def test_pin_labels_name_the_seam_and_how_many_will_do(tmp_path: Path) -> None:
    prints = made_prints(6)
    plan = planned(prints, repeats=3)
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    text = text[text.index("Cut apart on the dashed lines") :]
    keys, show = key_letters(plan.prints), show_inches
    rings = {str(s["makes"][0]) for s in plan.steps if s["op"] == "open_seam"}
    assert rings
    for number, column in enumerate(plan.columns, 1):
        ids = plan.prints
        top = keys[ids[column.offset]]
        found = re.search(rf"\b{number} cut {show(column.cut_width)} top {top} (.*?)"
                          r"(no seam to open|seams)", text)  # fmt: skip
        assert found, number
        if found[2] == "seams":
            assert f"open any of the three {keys[ids[column.offset - 1]]} | {top}" in found[1]


def test_borders_longer_than_the_cloth_are_pieced(tmp_path: Path) -> None:
    prints = made_prints(4)
    plan = planned(prints, size="60x72", strip="2", border="3")
    text = text_of(written(tmp_path / "s.pdf", plan, prints))
    assert "Pieced, since the cloth is 40 in wide: cut" in text
    short = text_of(written(tmp_path / "n.pdf", planned(prints, size="12x14", border="1"), prints))
    assert "Pieced" not in short




def test_layering_and_quilting_have_their_steps(tmp_path: Path) -> None:
    prints = made_prints(3)
    text = text_of(written(tmp_path / "s.pdf", planned(prints), prints))
    places = [text.index(words) for words in (
        "Left and right: two of", "Layer and baste", "Quilt Try thread", "Trim batting",
        "Bind the edge", "Sew a label to the back")]  # fmt: skip
    assert places == sorted(places)


def test_cautions_defer_to_makers_and_local_rules(tmp_path: Path) -> None:
    prints = made_prints(3)
    text = text_of(written(tmp_path / "s.pdf", planned(prints), prints))
    for words in (
        "Blades, irons and needles hurt", "the instructions that came with your cutter",
        "the rules of the place where you work", "is not complete", "Close the blade",
        "Cut away from your body", "Try heat and steam on a scrap", "unplug it",
        "children and pets", "Take pins out",
    ):  # fmt: skip
        assert words in text












def test_how_each_meets_the_next(tmp_path: Path) -> None:
    prints = made_prints(5)
    seq = made_sequence(prints)
    report = ContrastReport(seq.neighbours, ("Dye bath 4 jumps to the next.",), 64.0)
    text = text_of(written(tmp_path / "s.pdf", planned(prints), prints, report=report))
    assert "clear step to B, 16 lighter (not certain)" in text
    assert "jumps to E, 16 lighter (not certain)" in text
    assert "clear step to A, 64 darker" in text
    assert "Dye bath 4 jumps to the next." in text
    without = text_of(written(tmp_path / "n.pdf", planned(prints), prints))
    assert "meets the next" not in without


def test_swatch_card_has_squares_of_two_inches(tmp_path: Path) -> None:
    prints = made_prints(3)
    look = {"palette": [{"lab": [40, -20, -10], "share": 0.75, "name": "deep teal"},
                        {"lab": [75, 5, 60], "share": 0.25, "name": "gold"}],
            "value": 48.75, "name": "deep teal and gold"}  # fmt: skip
    bridges = [
        {"a": prints[0].id, "b": prints[1].id, "print": None, "look_for": look, "text": "Look."},
        {"a": prints[1].id, "b": prints[2].id, "print": "box-4", "look_for": None, "text": "Box."},
    ]
    reader = written(tmp_path / "s.pdf", planned(prints), prints, bridges=bridges)
    page = next(page for page in reader.pages if "Colours to look for" in page.extract_text())
    shown = " ".join(page.extract_text().split())
    assert "Deep teal and gold Between A Dye bath 1 and B Dye bath 2" in shown
    assert "deep teal 75 %, gold 25 %" in shown
    rects = [(box[2] - box[0], box[3] - box[1]) for box in ink_of(page, reader).rects]
    two = 2 * POINT
    assert rects.count(pytest.approx((two, two), abs=1e-3)) == 1
    assert rects.count(pytest.approx((0.75 * two, two), abs=1e-3)) == 1
    only_in_the_box = written(tmp_path / "b.pdf", planned(prints), prints, bridges=bridges[1:])
    assert "Colours to look for" not in text_of(only_in_the_box)
