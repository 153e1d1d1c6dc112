"""Curves: named, drawn, traced; and what is said about those that cannot be used."""

from __future__ import annotations

import json
import math
import re
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sequencer.errors import UsageError
from sequencer.inches import parse_length
from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from sequencer.plan.columns import page_line
from sequencer.plan.curve.curves import NAMES, Curve, heights, read_curve, rise
from sequencer.plan.planner import replan

U = np.linspace(0, 1, 501)


def box(n: int = 8) -> tuple[list[Print], list[str]]:
    prints = [Print(f"p{i}", f"P{i}", "", (), (20.0 + i, 0, 0), ()) for i in range(n)]
    return prints, [item.id for item in prints]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("count", [0.5, 1, 2, 3.5])
def test_named_curves_stay_between_lowest_and_highest(name: str, count: float) -> None:
    shape = read_curve(name, count=count, phase=0.3).shape(U)
    assert shape.min() >= 0
    assert shape.max() <= 1
    if count >= 1:
        assert shape.max() - shape.min() > 0.9


def test_shapes_are_what_their_names_say() -> None:
    hill, valley = (read_curve(name).shape(U) for name in ("hill", "valley"))
    assert hill[250] == pytest.approx(1)
    assert hill[[0, -1]] == pytest.approx(0)
    assert valley == pytest.approx(1 - hill)
    assert read_curve("slope").shape(U) == pytest.approx(U)
    zigzag = read_curve("zigzag").shape(U)
    assert np.abs(np.diff(zigzag, 2)).max() > 0.003  # one sharp bend
    assert (np.abs(np.diff(zigzag, 2)) > 1e-9).sum() == 1
    flame = read_curve("flame").shape(U)
    assert flame.argmax() == 250
    assert np.diff(flame)[249] > 5 * np.diff(flame)[10], "steepest at its tip"


def test_height_lets_columns_keep_up() -> None:
    for name in NAMES:
        rows, height = heights(read_curve(name), 120, 3, 1, 40)
        assert height == int(height) >= 1
        assert rise(rows, 3) <= 1 + 1e-9


def test_csv_json_points_and_mapping_agree(tmp_path: Path) -> None:
    points = [(0.0, 2.0), (3.0, 7.0), (5.0, 4.0), (10.0, 4.5)]
    (tmp_path / "a.csv").write_text("x,y\n" + "".join(f"{x},{y}\n" for x, y in points))
    (tmp_path / "b.json").write_text(json.dumps({"points": points}))
    (tmp_path / "c.json").write_text(json.dumps(points))
    read = [read_curve(tmp_path / name) for name in ("a.csv", "b.json", "c.json")]
    drawn = read_curve(points)
    assert len({curve.points for curve in (*read, drawn)}) == 1
    assert drawn.points[0] == (0, 0)
    assert max(v for _, v in drawn.points) == 1
    assert read_curve(drawn.to_json()).points == drawn.points
    assert read_curve(points[::-1]).points == drawn.points, "drawn from right to left"


def test_a_drawn_line_is_traced(tmp_path: Path) -> None:
    """Pillow draws one period of a sine; the tracing finds it again within a pixel or two."""
    width, height = 600, 300
    line = [(x, 150 - 100 * math.sin(2 * math.pi * x / (width - 1))) for x in range(width)]
    picture = Image.new("RGB", (width, height), "white")
    ImageDraw.Draw(picture).line(line, fill=(20, 20, 60), width=5)
    picture.save(tmp_path / "line.png")
    traced = read_curve(tmp_path / "line.png")
    expected = 0.5 + 0.5 * np.sin(2 * np.pi * U)
    assert np.abs(traced.shape(U) - expected).max() < 2.5 / 200
    clear = Image.new("RGBA", (width, height), (0, 0, 0, 0))
    ImageDraw.Draw(clear).line(line, fill=(0, 0, 0, 255), width=5)
    clear.save(tmp_path / "clear.png")
    again = read_curve(str(tmp_path / "clear.png")).shape(U)
    assert np.abs(again - expected).max() < 2.5 / 200


def picture(path: Path, draw: str) -> Path:
    image = Image.new("L", (200, 100), 255)
    pen = ImageDraw.Draw(image)
    if draw == "two lines":
        pen.line([(0, 20), (199, 20)], width=3)
        pen.line([(0, 80), (199, 80)], width=3)
    elif draw == "short":
        pen.line([(10, 20), (60, 40)], width=3)
    elif draw == "dark":
        image = Image.new("L", (200, 100), 10)
        ImageDraw.Draw(image).line([(0, 20), (199, 60)], width=3, fill=255)
    image.save(path)
    return path


@pytest.mark.parametrize(
    ("draw", "words"),
    [("blank", "no dark line"), ("two lines", "more than one line"),
     ("short", "at least half"), ("dark", "light ground")],
)  # fmt: skip
def test_pictures_without_one_dark_line(tmp_path: Path, draw: str, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        read_curve(picture(tmp_path / "p.png", draw))


BAD = {
    "words.csv": ("x,y\n1,2\nthree,4\n", "point 2"),
    "one.csv": ("1,2\n", "two or more"),
    "empty.csv": ("", "two or more"),
    "three.csv": ("1,2,3\n4,5,6\n", "point 1"),
    "back.csv": ("0,0\n5,1\n2,2\n10,3\n", "turns back"),
    "up.csv": ("1,0\n1,5\n", "sideways"),
    "nan.json": ("[[0,0],[1,NaN]]", "not a usable place"),
    "huge.json": ("[[0,0],[1e300,1]]", "not a usable place"),
    "broken.json": ("[[0,0],", "JSON"),
    "text.json": ('"wave"', "no points"),
    "object.json": ('{"dots": []}', "no points"),
    "deep.json": ("[" * 100_000, "JSON|point 1"),
    "fake.png": ("no picture", "picture"),
    "latin.csv": (b"\xff\xfe0,1", "CSV"),
    "what.txt": ("0,0\n1,1\n", "is no curve"),
}


@pytest.mark.parametrize("name", BAD)
def test_malformed_files_are_explained(tmp_path: Path, name: str) -> None:
    content, words = BAD[name]
    data = content if isinstance(content, bytes) else content.encode()
    (tmp_path / name).write_bytes(data)
    with pytest.raises(UsageError, match=words):
        read_curve(tmp_path / name)


@pytest.mark.parametrize(
    ("what", "options", "words"),
    [("wobble", {}, "'wobble' is no curve"), ("missing.csv", {}, "no curve file 'missing.csv'"),
     ("wave", {"height": -1}, "height -1 makes no sense"),
     ("wave", {"count": 0}, "count 0 makes no sense"),
     ("wave", {"count": math.nan}, "count nan makes no sense"),
     ("wave", {"phase": math.inf}, "phase inf makes no sense"),
     ("wave", {"height": 1e9}, "height 1000000000.0 makes no sense"),
     ([], {}, r"0 point\(s\)"), ([(0, 0)], {}, r"1 point\(s\)"),
     ([(0, "x"), (1, 1)], {}, "point 1: .* is not two numbers"),
     ([1, 2, 3], {}, "point 1: '1' is not two numbers"), ({}, {}, "is no curve")],
)  # fmt: skip
def test_nonsense_is_refused(what: object, options: dict[str, float], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        read_curve(what, **options)  # type: ignore[arg-type]


def test_too_steep_says_where_and_what_helps() -> None:
    prints, ids = box()
    plan = plan_columns(prints, ids, curve="wave", curve_height=30, size=(10, 6))
    found = [w for w in plan.warnings if w.code == "curve_too_steep"]
    assert len(found) == 1
    assert "from the left" in found[0].text
    lower = int(found[0].text.split("a curve ")[1].split(" rows")[0])
    calm = replan(plan, prints, curve_height=lower)
    assert not [w for w in calm.warnings if w.code == "curve_too_steep"]
    assert calm.fit_rms_rows < plan.fit_rms_rows / 3


def test_flat_curve_needs_no_shift() -> None:
    prints, ids = box()
    plan = plan_columns(prints, ids, curve=[(0, 1), (5, 1)])
    assert len({column.offset for column in plan.columns}) == 1
    assert plan.fit_rms_rows == 0


def test_a_plan_keeps_its_drawn_curve(tmp_path: Path) -> None:
    """Re-planning does not need the file again."""
    prints, ids = box()
    path = tmp_path / "mine.csv"
    path.write_text("0,0\n1,4\n2,1\n3,3\n")
    plan = plan_columns(prints, ids, curve=path)
    path.unlink()
    again = replan(plan, prints)
    assert again.columns == plan.columns
    assert again.curve == "mine.csv"
    assert again.to_json() == plan.to_json()
    lower = replan(plan, prints, curve_height=3)
    assert lower.options["curve"]["height"] == 3
    assert replan(lower, prints, curve_height=None).columns == plan.columns
    other = replan(lower, prints, curve="hill")
    assert other.options["asked"]["curve_height"] is None
    assert other.curve == "hill"
    assert isinstance(read_curve("hill"), Curve)


def test_given_widths_that_stray_are_told() -> None:
    prints, ids = box()
    wide = plan_columns(prints, ids, columns=["3"] * 4, curve_height=12)
    assert "curve_not_followed" in {warning.code for warning in wide.warnings}
    assert wide.fit_rms_rows is not None
    assert wide.fit_rms_rows > 1
    close = plan_columns(prints, ids, columns=["1/2"] * 24)
    assert "curve_not_followed" not in {warning.code for warning in close.warnings}


@pytest.mark.parametrize("curve", ["zigzag", "wave", "flame"])
@pytest.mark.parametrize("height", [18, 26, 40])
def test_what_is_said_to_fix_a_steep_curve_fixes_it(curve: str, height: int) -> None:
    """Each remedy named is planned; none is still too steep."""
    prints, ids = box()

    def steep(**options: Any) -> str:
        wanted = {"size": "6x8", "strip": "1/4", "repeats": 4, "curve": curve,
                  "curve_height": height, **options}  # fmt: skip
        told = plan_columns(prints, ids, **wanted).warnings
        return next((one.text for one in told if one.code == "curve_too_steep"), "")

    told = steep()
    assert told
    lower = re.search(r"a curve (\d+) rows high", told)
    wide = re.search(r"a piece ([\d /]+) in wide", told)
    assert lower
    assert wide
    assert not steep(curve_height=float(lower[1]))
    if parse_length(wide[1]) <= 200:
        assert not steep(size=(wide[1], "8"))
    if "steps of two rows" in told:
        assert not steep(steps=(1, 2))


def in_rows(rows: list[float], base: int = 0, **wishes: object) -> Plan:
    prints, ids = box(6)
    return plan_columns(prints, ids, size="12x9", strip="1/2",
                        curve={"rows": rows, "base": base}, **wishes)  # fmt: skip


def offsets_at(plan: Plan, places: np.ndarray) -> np.ndarray:
    """The offset of the column at each place across, read off the widths alone."""
    edges = np.cumsum([float(one.finished_width) for one in plan.columns])
    return np.array([one.offset for one in plan.columns])[
        np.searchsorted(edges, places * edges[-1], side="right")
    ]


def test_a_line_in_rows_is_taken_as_it_is_and_never_stretched() -> None:
    """A slope of 4 rows that starts at 3, a wiggle of .02 rows, a flat line: no row more."""
    slope = np.linspace(3, 7, 129)
    plan = in_rows(slope.tolist())
    places = (np.arange(48) + 0.5) / 48
    apart = (offsets_at(plan, places) - np.interp(places, np.linspace(0, 1, 129), slope)) % 6
    assert np.minimum(apart, 6 - apart).max() <= 0.75
    assert plan.options["curve"]["rows"] == pytest.approx(slope)
    for calm in ([5.0] * 129, [2 + 0.02 * (k % 2) for k in range(129)]):
        columns = in_rows(calm).columns
        assert [one.offset for one in columns] == [round(calm[0])]
        assert columns[0].finished_width == 12


def test_the_base_is_the_print_below_the_line() -> None:
    """Where the line lies h rows above the lower edge, the row under it shows that print."""
    rows = (4 + 2 * np.sin(np.linspace(0, 6, 129))).tolist()
    for base in (0, 2, 5, -1, 9):
        plan = in_rows(rows, base)
        line = page_line(plan)
        assert line["rows"] == pytest.approx(rows, abs=1e-4)
        assert line["base"] == base
        left = F(0)
        for c, column in enumerate(plan.columns):
            middle = float((left + column.finished_width / 2) / 12)
            height = float(np.interp(middle, np.linspace(0, 1, 129), rows))
            near = {plan.patch_print(plan.rows - row, c)
                    for row in (math.floor(height), math.ceil(height))}
            assert plan.prints[base % 6] in near
            left += column.finished_width


def test_a_line_in_rows_comes_from_a_file_and_stays_with_the_plan(tmp_path: Path) -> None:
    rows = [0.0, 2.0, 1.0, 4.0]
    path = tmp_path / "line.json"
    path.write_text(json.dumps({"rows": rows, "base": 2}))
    prints, ids = box(6)
    plan = plan_columns(prints, ids, size="12x9", strip="1/2", curve=str(path))
    path.unlink()
    again = replan(plan, prints)
    assert again.columns == plan.columns == in_rows(rows, 2).columns
    assert plan.options["asked"]["curve"] == {"name": "line.json", "rows": rows, "base": 2}
    assert replan(plan, prints, curve="hill").curve == "hill"
    assert read_curve(read_curve({"rows": rows, "base": 2}).to_json()).rows == tuple(rows)


def test_lines_in_rows_that_are_none_are_refused() -> None:
    for line, words in (
        ({"rows": [1.0]}, "at 1 place"), ({"rows": [0, float("nan")]}, "makes no sense"),
        ({"rows": [0, 5000]}, "makes no sense"), ({"rows": "a,b"}, "is not a number"),
        ({"rows": [0, 1], "base": 1.5}, "base 1.5"), ({"rows": [0.0] * 3000}, "3000 place"),
    ):  # fmt: skip
        with pytest.raises(UsageError, match=words):
            read_curve(line)
    with pytest.raises(UsageError, match="taken as it is"):
        read_curve({"rows": [0, 1]}, height=3)


def test_every_plan_has_a_line_for_a_page() -> None:
    """Named, drawn, columns given: fed back in rows it gives the same columns again."""
    prints, ids = box(6)
    for wishes in ({"curve": "wave"}, {"curve": "zigzag", "curve_count": 2, "curve_height": 4},
                   {"curve": [(0, 0), (1, 2), (3, 1)]}):  # fmt: skip
        plan = plan_columns(prints, ids, size="12x9", strip="1/2", **wishes)
        line = page_line(plan)
        assert len(line["rows"]) == 129
        again = replan(plan, prints, curve={"rows": line["rows"], "base": line["base"]})
        shown = offsets_at(plan, places := (np.arange(240) + 0.5) / 240)
        assert (offsets_at(again, places) == shown).mean() > 0.9
    given = plan_columns(prints, ids, strip="1/2", offsets=[0, 1, 2, 1, 0], size="10x9")
    assert page_line(given)["named"] is None
    assert np.interp([0.1, 0.5, 0.9], np.linspace(0, 1, 129), page_line(given)["rows"]).tolist() \
        == pytest.approx([0, 2, 0], abs=0.05)
