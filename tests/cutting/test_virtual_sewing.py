"""Every plan sews: its steps, executed by an independent table, arrive at what it promises."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from tests.made.scrap_table import lay
from tests.made.sewing import sew

F = Fraction


def box(n: int, sizes: list[tuple[float, float] | None] | None = None) -> list[Print]:
    sizes = sizes or [None] * n
    return [
        Print(f"p{i}", f"Print {i}", "", (), (15 + 70 * i / n, 0.0, 0.0), (), size_in=sizes[i])
        for i in range(n)
    ]


def check(plan: Plan) -> None:
    document = json.loads(json.dumps(plan.to_json()))

    sewn = sew(document)
    n = len(document["prints"])
    assert document["rows"] == n * document["repeats"]
    expected = [
        [document["prints"][(row + column["offset"]) % n] for row in range(document["rows"])]
        for column in document["columns"]
    ]
    assert sewn.picture == expected, "another picture"
    assert sewn.widths == [F(c["finished_width"]) for c in document["columns"]]
    assert all(0 <= c["offset"] < n for c in document["columns"])
    seam = F(document["seam"])
    assert all(F(c["cut_width"]) == F(c["finished_width"]) + 2 * seam for c in document["columns"])
    assert sewn.strips == {key: {F(w)} for key, w in document["finished_strip"].items()}, (
        "other strips")
    assert [*sewn.centre] == [F(side) for side in document["finished"]["centre"]]
    assert [*sewn.bordered] == [F(side) for side in document["finished"]["bordered"]], (
        "another size with borders")
    seams = document["seams"]
    assert (sewn.opened, sewn.seams, sewn.cuts) == (seams["opened"], seams["count"], seams["cuts"])
    assert sewn.seam_length == F(seams["length"])
    check_fabric(document, sewn)
    lay(document, F(document["options"]["straighten"]))
    covered = [step for said in document["instructions"] for step in range(*said["steps"])]
    assert covered == list(range(len(document["steps"])))


def check_fabric(document: dict[str, Any], sewn: Any) -> None:
    for need in document["fabric"]:
        key = need["print"]
        strips = [(F(s["width"]), F(s["length"])) for s in need["strips"]]
        assert strips == sewn.cut[key]
        total = sum(length for _, length in strips)
        assert total == F(need["needed_length"])
        assert sewn.joins[key] == need["joins"]
        # lengths conserve: segments + squaring, trimming, joins + left-overs = what was cut
        assert sewn.used[key] + sewn.lost[key] + sewn.left_by_print[key] == total
        have = need["have_length"]
        short = F(need["short_by"])
        assert 0 <= short <= total
        if have is None:
            assert short == 0
        else:  # what does not come from other cloth comes out of the scraps
            assert total - short <= F(have)


def eighths(low: int, high: int) -> st.SearchStrategy[Fraction]:
    return st.integers(low, high).map(lambda k: F(k, 8))


@st.composite
def requests(draw: st.DrawFn) -> tuple[list[Print], list[str], dict[str, Any]]:
    n, repeats = draw(st.integers(2, 7)), draw(st.integers(1, 4))
    units = draw(st.sampled_from(["in", "in", "cm"]))
    step = F(1, 8) if units == "in" else F(5, 127)
    seam = draw(st.sampled_from([F(1, 4), F(1, 8), F(3, 8)])) if units == "in" else (
        draw(st.integers(6, 8)) * step
    )  # fmt: skip
    least = -(-seam // step)
    widths = st.integers(int(least), int(least) + 6).map(lambda k: k * step)
    options: dict[str, Any] = {
        "repeats": repeats,
        "units": units,
        "seam": seam,
        "method": draw(st.sampled_from(["loop", "flat"])),
        "press": draw(st.sampled_from(["open", "nested"])),
        "sets": draw(st.sampled_from(["auto", "tall", "repeat"])),
        "join": draw(st.sampled_from(["diagonal", "straight"])),
        "border": draw(st.sampled_from([None, 0, "1 in", "3/8 in,2 in"])),
        "corners": draw(st.sampled_from(["butted", "mitred"])),
        "binding": draw(st.sampled_from([None, 0, "2 1/2 in"])),
        "strip": draw(st.one_of(widths, st.lists(widths, min_size=n, max_size=n))),
    }
    if draw(st.booleans()):
        options["squaring"] = draw(st.sampled_from([0, "1/4 in", "1 1/8 in"]))
    if draw(st.booleans()):
        options["set_length"] = draw(st.integers(4, 40))
    way = draw(st.sampled_from(["curve", "columns", "offsets", "both"]))
    count = draw(st.integers(1, 9))
    if way in {"columns", "both"}:
        options["columns"] = draw(st.lists(widths, min_size=count, max_size=count))
    if way in {"offsets", "both"}:
        options["offsets"] = draw(st.lists(st.integers(-9, 9), min_size=count, max_size=count))
    if way == "curve":
        options["curve"] = draw(
            st.sampled_from(["wave", "hill", "valley", "zigzag", "flame", "slope"])
        )
        options["curve_count"] = draw(st.sampled_from([None, 0.5, 2]))
        options["symmetric"] = draw(st.booleans())
        options["steps"] = draw(st.sampled_from([(1,), (0, 1), (1, 2)]))
    longest = draw(st.sampled_from([200, 200, 48]))  # now and then strips of many short pieces
    sizes = draw(
        st.lists(
            st.one_of(st.none(), st.tuples(st.integers(16, longest), st.integers(4, 80))),
            min_size=n,
            max_size=n,
        )
    )
    inches = [None if size is None else (size[0] / 8, min(size) / 8) for size in sizes]
    ids = draw(st.permutations([f"p{i}" for i in range(n)]))
    return box(n, inches), list(ids), options


@settings(
    max_examples=1500,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
@given(requests())
def test_random_plans_sew(asked: tuple[list[Print], list[str], dict[str, Any]]) -> None:
    prints, ids, options = asked
    check(plan_columns(prints, ids, **options))


SPOILS: list[tuple[str, str, Any]] = [
    ("drawn twice", "never made or is used up",
     lambda d, s: s["cut_segment"][1].update(takes=s["cut_segment"][0]["takes"])),
    ("too much", "segment of 100 from a set",
     lambda d, s: s["cut_segment"][-1].update(width="100")),
    ("no seam", "no seam after patch 99", lambda d, s: s["open_seam"][0].update(after=99)),
    ("other seam", "another picture|no seam after patch",
     lambda d, s: s["open_seam"][0].update(after=s["open_seam"][0]["after"] + 1)),
    ("step lost", "never made or is used up",
     lambda d, s: d["steps"].remove(s["square_end"][0])),
    ("short strip", "segment of .* from a set", lambda d, s: s["cut_strip"][0].update(length="5")),
    ("swapped", "another picture", lambda d, s: s["sew_columns"][0]["takes"].reverse()),
    ("wider strip", "other strips|columns of unlike heights",
     lambda d, s: s["cut_strip"][0].update(width="1")),
    ("thin border", "another size with borders",
     lambda d, s: s["add_border"][0].update(cut_width="3/4")),
    ("short binding", "too short to go round", lambda d, s: s["bind"][0].update(length="20")),
]  # fmt: skip


@pytest.mark.parametrize("method", ["loop", "flat"])
@pytest.mark.parametrize(("what", "words", "spoil"), SPOILS, ids=[one[0] for one in SPOILS])
def test_the_table_notices_spoiled_steps(what: str, words: str, spoil: Any, method: str) -> None:
    """The executor can fail: one changed step never arrives at the promised piece."""
    plan = plan_columns(box(5), [f"p{i}" for i in range(5)], method=method)

    class Spoilt:
        def to_json(self) -> dict[str, Any]:
            document = json.loads(json.dumps(plan.to_json()))
            by_op: dict[str, list[dict[str, Any]]] = {}
            for step in document["steps"]:
                by_op.setdefault(step["op"], []).append(step)
            spoil(document, by_op)
            return document

    check(plan)
    with pytest.raises(AssertionError, match=words):
        check(Spoilt())  # type: ignore[arg-type]
