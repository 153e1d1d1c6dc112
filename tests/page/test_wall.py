"""The piece on the wall: scissors in a real browser make the program's own picture.

Every picture on the canvas is read back and held against `render` of the same piece folder:
0 of 255 apart.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sequencer.models import Plan, Print
from sequencer.piece import load
from sequencer.planning import planned
from sequencer.rendering import render
from tests.page.waiting import rested

Served = Any
"""What `passalong page` is to a test: see conftest.py."""
READ = """async () => {
  const canvas = document.getElementById('piece'), { width, height } = canvas;
  const { data } = canvas.getContext('2d').getImageData(0, 0, width, height);
  let text = '';
  for (let i = 0; i < data.length; i += 30000) {
    text += String.fromCharCode(...data.subarray(i, i + 30000));
  }
  const { store } = await import('/static/store.js');
  return { width, height, data: btoa(text), ppi: store.shown.geometry.ppi };
}"""
USE = """(async () => {
  const all = ['store', 'wall', 'api'].map((one) => import(`/static/${one}.js`));
  const [{ store }, wall, api] = await Promise.all(all);
  Object.assign(window, { store, wall, api });
})()"""
CALM = """([revision, shows]) => { const { dataset } = document.getElementById('piece');
  return dataset.shows === shows && (!revision || dataset.revision === revision); }"""


def begun(served: Served, size: Any = "desk", **more: Any) -> Any:
    """The page with the piece hanging at rest; `store`, `wall` and `api` within its reach."""
    page = served.page(size, **more)
    page.evaluate(USE)
    calm(page)
    return page


def calm(page: Any, shows: str = "rest") -> None:
    """Wait until what hangs is the piece as it lies in the folder."""
    revision = rested(page).evaluate("store.piece.revision")
    page.wait_for_function(CALM, arg=[revision, shows])
    rested(page)


def canvas(page: Any) -> tuple[np.ndarray, float]:
    """What is on the canvas, RGBA, and its pixels an inch."""
    told = page.evaluate(READ)
    pixels = np.frombuffer(base64.b64decode(told["data"]), np.uint8)
    return pixels.reshape(told["height"], told["width"], 4), told["ppi"]


def kept(folder: Path) -> tuple[Plan, list[Print]]:
    piece, plan = planned(load(folder))
    return plan, list(piece.prints)


def same(page: Any, plan: Plan, prints: Sequence[Print], view: str = "colour") -> None:
    pixels, ppi = canvas(page)
    drawn = np.asarray(render(plan, prints, ppi=ppi, view=view))
    assert pixels.shape[:2] == drawn.shape[:2]
    assert (pixels[..., 3] == 255).all()
    apart = np.abs(pixels[..., :3].astype(int) - drawn).max()
    assert apart == 0, f"{apart} of 255 apart"


def wish(page: Any, body: dict[str, Any]) -> None:
    assert page.evaluate("(body) => api.change('POST', '/api/plan', body, 'a test')", body)
    calm(page)


def test_what_hangs_is_the_picture_and_stays_it_in_any_order(own: Served) -> None:
    """As it is; in her hand; after she let go; taken back."""
    page = begun(own)
    plan, prints = kept(own.folder)
    same(page, plan, prints)
    order = [*plan.prints[4:], *plan.prints[:4][::-1]]
    page.evaluate("(order) => wall.preview(order)", order)
    same(page, replace(plan, prints=tuple(order)), prints)
    page.evaluate("wall.preview(null)")
    same(page, plan, prints)
    assert page.evaluate("(order) => api.change('PUT', '/api/sequence', { order }, 'x')", order)
    calm(page)
    moved, prints = kept(own.folder)
    assert moved.prints == tuple(order)
    assert moved.columns == plan.columns
    same(page, moved, prints)


WISHES = {
    "flat and nested": {"method": "flat", "press": "nested", "repeats": 2},
    "no border": {"border": "0"},
    "no border, no binding": {"border": "0", "binding": "0"},
    "two borders, mitred": {"border": "1/2,1", "corners": "mitred"},
    "several widths": {"size": "8x10"},
    "metric": {"units": "cm"},
    "hill in steps of two": {"curve": "hill", "curve_height": 9, "steps": [1, 2]},
}


def test_every_kind_of_piece_is_sewn_to_the_bit(shared: Served) -> None:
    page = begun(shared, (800, 600))
    for wishes in WISHES.values():
        wish(page, {"wishes": wishes})
        plan, prints = kept(shared.folder)
        same(page, plan, prints)
        order = [*plan.prints[1::2], *plan.prints[::2]]
        page.evaluate("(order) => wall.preview(order)", order)
        same(page, replace(plan, prints=tuple(order)), prints)
        page.evaluate("api.change('POST', '/api/undo', {}, 'undo')")
    page.context.close()
    assert not shared.faults, shared.faults


def test_views_are_bands_too(shared: Served) -> None:
    page = begun(shared, (800, 600))
    plan, prints = kept(shared.folder)
    for view in ("value", "protan", "deutan", "tritan"):
        page.evaluate("(view) => store.put({ view })", view)
        page.wait_for_function("(want) => wall.hanging().view === want", arg=view)
        calm(page)
        same(page, plan, prints, view)
        page.evaluate("(order) => wall.preview(order)", plan.prints[::-1])
        same(page, replace(plan, prints=plan.prints[::-1]), prints, view)
        page.evaluate("wall.preview(null)")
    page.context.close()
    assert not shared.faults, shared.faults


def test_across_the_room_rests_and_moves_in_colours(page: Any, shared: Served) -> None:
    page.evaluate(USE)
    calm(page)
    plan, prints = kept(shared.folder)
    page.evaluate("store.put({ view: 'far' })")
    calm(page, "far")
    same(page, plan, prints, "across-room")
    order = plan.prints[::-1]
    page.evaluate("(order) => wall.preview(order)", order)
    same(page, replace(plan, prints=order), prints)
    page.evaluate("wall.preview(null)")
    same(page, plan, prints, "across-room")


def test_a_fine_screen_gets_its_own_pixels_and_moves_a_lighter_picture(shared: Served) -> None:
    page = begun(shared, (1700, 1400), device_scale_factor=2)
    plan, prints = kept(shared.folder)
    pixels, ppi = canvas(page)
    assert pixels.size > 4 * 2e6  # or this screen is not fine enough for the test
    same(page, plan, prints)
    order = plan.prints[::-1]
    page.evaluate("(order) => wall.preview(order)", order)
    light, lower = canvas(page)
    assert light.size <= 4 * 2e6
    assert lower < ppi
    same(page, replace(plan, prints=order), prints)
    page.context.close()
    assert not shared.faults, shared.faults


def test_a_trial_paints_what_is_kept_afterwards(own: Served) -> None:
    page = begun(own, (1000, 800))
    body = {"wishes": {"curve": "zigzag", "curve_count": 2}}
    page.evaluate("(body) => wall.tryOut(body)", body)
    page.wait_for_function(CALM, arg=[None, "trial"])
    pixels, ppi = canvas(page)
    before, _ = kept(own.folder)
    wish(page, body)
    plan, prints = kept(own.folder)
    assert plan.columns != before.columns
    assert np.array_equal(pixels[..., :3], np.asarray(render(plan, prints, ppi=ppi)))
    same(page, plan, prints)


def test_what_cannot_be_sewn_is_said_and_nothing_is_lost(own: Served) -> None:
    page = begun(own)
    own.faults.clear()
    before, prints = kept(own.folder)
    page.evaluate("wall.tryOut({ wishes: { size: '1/8x9' } })")
    page.get_by_role("status").get_by_text("holds no column").wait_for()
    page.evaluate("wall.preview(null)")
    same(page, before, prints)
    own.faults[:] = [one for one in own.faults if "422" not in one]  # the browser notes a refusal


def test_what_hangs_is_told_to_those_who_do_not_see_it(page: Any) -> None:
    page.wait_for_function("() => document.getElementById('piece').getAttribute('aria-label')")
    told = page.get_by_role("img", name="The piece as it will look")
    assert "columns" in told.get_attribute("aria-label")
