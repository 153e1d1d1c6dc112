"""Bands and frame: scissors alone make the server's picture of them, to the last bit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction as F

import numpy as np
import pytest

from sequencer.errors import SheetError, UsageError
from sequencer.inches import MM_PER_INCH
from sequencer.models import Column, Plan, Swatch
from sequencer.plan import plan_columns
from sequencer.rendering import BAND_VIEWS, Geometry, bands, frame, geometry, page_ppi, render
from tests.drawn.test_render import PRINTS, flat_plan

IDS = tuple(one.id for one in PRINTS)


def pasted(
    cut: dict[str, np.ndarray], places: Geometry, order: Sequence[str], edge: np.ndarray
) -> np.ndarray:
    """A maker of pictures that shares no code with the program: patch by patch, RGB."""
    whole = edge.copy()
    x, y, _, tall = places.centre
    repeats = tall // sum(places.strip.values())
    for c, offset in enumerate(places.offsets):
        left, right = places.lefts[c], places.lefts[c + 1]
        top = y
        for row in range(repeats * len(order)):
            repeat, at = divmod((row + offset) % (repeats * len(order)), len(order))
            high = places.strip[order[at]]
            patch = cut[order[at]][repeat * high : (repeat + 1) * high, left:right]
            whole[top : top + high, x + left : x + right] = patch
            top += high
        assert top == y + tall
    assert (whole[..., 3] == 255).all()
    return whole[..., :3]


def made(order: Sequence[str] = IDS, **wishes: object) -> Plan:
    given = {"size": "7x6", "curve_height": 3, "border": "1/2", **wishes}
    return plan_columns(PRINTS, list(order), **given)


PIECES = {
    "loop": {},
    "flat, pressed to one side": {"method": "flat", "press": "nested"},
    "no border, no binding": {"border": 0, "binding": 0},
    "two borders, mitred": {"border": "1/2,3/4", "corners": "mitred"},
    "strips of several widths": {"size": None, "strip": "1/4,3/8,1/2,3/4", "repeats": 2},
    "metric": {"units": "cm", "size": "20x16", "border": "1"},
    "drawn line": {"curve": [(0, 0), (1, 3), (2, 1), (3, 4)]},
}


@pytest.mark.parametrize("wishes", PIECES.values(), ids=PIECES)
@pytest.mark.parametrize("view", ["colour", "deutan"])
def test_scissors_make_the_picture(wishes: dict[str, object], view: str) -> None:
    plan = made(**wishes)
    ppi = page_ppi(plan, 40)
    places = geometry(plan, ppi)
    drawn = np.asarray(render(plan, PRINTS, ppi=ppi, view=view))
    edge = frame(plan, PRINTS, ppi, view)
    assert np.array_equal(pasted(bands(plan, PRINTS, ppi, view), places, plan.prints, edge), drawn)


@pytest.mark.parametrize("wishes", PIECES.values(), ids=PIECES)
def test_a_new_order_is_sewn_from_the_old_bands(wishes: dict[str, object]) -> None:
    """Cut before, sewn in another order with other offsets: what `render` draws of that plan."""
    before = made(**wishes)
    order = [IDS[k] for k in (2, 0, 3, 1)]
    after = replace(
        before, prints=tuple(order),
        columns=tuple(replace(one, offset=(3 * k + 1) % 4) for k, one in enumerate(before.columns)),
    )  # fmt: skip
    ppi = page_ppi(before, 40)
    drawn = np.asarray(render(after, PRINTS, ppi=ppi))
    assert not np.array_equal(drawn, np.asarray(render(before, PRINTS, ppi=ppi)))
    sewn = pasted(bands(before, PRINTS, ppi), geometry(after, ppi), order,
                  frame(before, PRINTS, ppi))  # fmt: skip
    assert np.array_equal(sewn, drawn)


def test_cloth_that_must_be_grown_grows_alike_in_any_order() -> None:
    """Scraps smaller than one patch: the chance by which they are grown is each print's own."""
    small = [replace(one, swatch=Swatch(one.swatch.pixels[:20, :24], 60.0)) for one in PRINTS]
    plan = flat_plan(border=None, binding=None)
    other = replace(plan, prints=("sand", "sky", "plum", "moss"))
    before, after = (bands(one, small, 40) for one in (plan, other))
    assert all(np.array_equal(before[key], after[key]) for key in before)


@pytest.mark.parametrize("view", BAND_VIEWS)
def test_a_band_does_not_know_its_neighbours(view: str) -> None:
    plan, alone = flat_plan(), flat_plan(border=None, binding=None)
    fewer = replace(alone, prints=("plum", "sky"), rows=4)
    some, every = (bands(one, PRINTS, 40, view) for one in (fewer, plan))
    assert set(some) == {"plum", "sky"}
    assert all(np.array_equal(some[key], every[key]) for key in some)


def test_page_ppi_makes_every_length_whole() -> None:
    for wishes in PIECES.values():
        plan = made(**wishes)
        for wanted in (20, 32, 75.5, 120):
            ppi = page_ppi(plan, wanted)
            assert abs(ppi - wanted) <= 32
            for length in (*plan.finished_strip.values(),
                           *(one.finished_width for one in plan.columns)):
                assert float(length) * ppi == pytest.approx(round(float(length) * ppi), abs=1e-9)
    assert page_ppi(made(**PIECES["metric"]), 52) == pytest.approx(2 * float(MM_PER_INCH))


def test_a_scale_that_nothing_fits_is_taken_as_it_is_and_still_sewn() -> None:
    strips = {key: F(1, 7) + F(k, 11) + F(1, 3) for k, key in enumerate(IDS)}
    widths = F(5, 13), F(8, 9)
    columns = tuple(Column(width + F(1, 2), width, k) for k, width in enumerate(widths))
    size = sum(widths), 2 * sum(strips.values(), F(0))
    plan = flat_plan(finished_strip=strips, columns=columns, border=None, binding=None,
                     centre=size, bordered=size)  # fmt: skip
    assert page_ppi(plan, 37.5) == 37.5
    places = geometry(plan, 37.5)
    sewn = pasted(bands(plan, PRINTS, 37.5), places, IDS, frame(plan, PRINTS, 37.5))
    assert sewn.shape[:2] == (places.height, places.width)
    width, high = (float(side) * 37.5 for side in plan.centre)
    assert render(plan, PRINTS, ppi=37.5).size == (round(width), round(high))


def test_what_cannot_be_cut_is_said() -> None:
    for work in (bands, frame):
        with pytest.raises(UsageError, match="no view 'across-room'"):
            work(flat_plan(), PRINTS, 40, "across-room")
        with pytest.raises(UsageError, match="a number above 0, not"):
            work(flat_plan(), PRINTS, 0)
    with pytest.raises(SheetError, match="moss"):
        bands(flat_plan(), [one for one in PRINTS if one.id != "moss"], 40)
    with pytest.raises(SheetError, match="sand"):
        frame(flat_plan(), [one for one in PRINTS if one.id != "sand"], 40)
