"""In the midst of a gesture only what moves with it is at work, and the last of it counts.

Work is counted, not timed: who hears of a picture, what is drawn anew, who asks for room.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.page.conftest import Served
from tests.page.test_line import NOW, begun, kept, stroke
from tests.page.waiting import rested, until

RESTING = ["scraps", "said", "boxed", "out", "views", "tools", "work", "status", "pins"]
WATCHED = """async (resting) => {
  const [{ store }, { hanging }] = await Promise.all(
    ['store', 'wall'].map((one) => import(`/static/${one}.js`)));
  const nothing = () => ({ resting: 0, moving: 0, drawn: [], room: 0, asked: 0 });
  let heard = nothing(), before = 0;
  store.on(() => { heard.resting += 1; });
  store.on(() => { heard.moving += 1; }, true);
  const watch = new MutationObserver((all) => heard.drawn.push(...all.map((one) =>
    one.target.id || one.target.parentElement?.id || one.target.nodeName)));
  for (const id of resting)
    watch.observe(document.getElementById(id), { childList: true, subtree: true });
  const hang = document.getElementById('hang');
  for (const side of ['clientWidth', 'clientHeight', 'scrollLeft', 'scrollTop']) {
    const own = [Element.prototype, HTMLElement.prototype]
      .map((one) => Object.getOwnPropertyDescriptor(one, side)).find(Boolean);
    Object.defineProperty(hang, side, { get() { heard.room += 1; return own.get.call(this); } });
  }
  document.getElementById('centre').getBoundingClientRect = function box() {
    heard.asked += 1;
    return Element.prototype.getBoundingClientRect.call(this);
  };
  window.heard = () => ({ ...heard, painted: hanging().painted - before });
  window.listen = () => { heard = nothing(); before = hanging().painted; };
  window.frames = window.requestAnimationFrame;
}"""
PAINTED = "window.heard().painted >= 3"


def watched(page: Any) -> dict[str, float]:
    """Count from now on; the piece's place on the screen."""
    page.evaluate(WATCHED, RESTING)
    rested(page)
    page.evaluate("window.listen()")
    return dict(page.evaluate(NOW)["box"])


def drawn(page: Any, box: dict[str, float]) -> None:
    """A line goes on, picture after picture, and is not let go."""
    points = stroke((0.2, 0.5), (0.8, 0.4), box)
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point)
        page.wait_for_timeout(20)


def slid(page: Any, _: dict[str, float]) -> None:
    """A slider goes on, step by step, and is not let go."""
    slider = page.get_by_role("slider", name="Height of the line", exact=True)
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    for step in range(12):
        page.mouse.move(box["x"] + (0.2 + step / 20) * box["width"], box["y"] + box["height"] / 2)
        page.wait_for_timeout(40)


@pytest.mark.parametrize("gesture", [drawn, slid])
def test_only_what_moves_hears_of_it(own: Served, gesture: Any) -> None:
    page = begun(own)
    gesture(page, watched(page))
    until(page, PAINTED)
    told = page.evaluate("window.heard()")
    assert told["moving"] > 0, told
    assert told["resting"] == 0, told
    assert told["drawn"] == [], told
    assert told["room"] == 0, told
    assert told["asked"] <= 3, told  # as she begins, not for each picture
    page.mouse.up()
    told = rested(page).evaluate("window.heard()")
    assert told["resting"] > 0, "what waited for it was left out"
    assert "scraps" in told["drawn"] or "shelf" in told["drawn"], told


def test_what_the_hand_did_since_the_last_picture_counts_as_well(own: Served) -> None:
    """The screen shows no further picture: what came after it is told when she lets go."""
    page = begun(own)
    box, before = watched(page), page.evaluate(NOW)
    points = stroke((0.2, 0.5), (0.8, 0.3), box)
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:9]:
        page.mouse.move(*point)
    until(page, PAINTED.replace("3", "1"))
    page.evaluate("() => { window.requestAnimationFrame = () => 1; }")
    for point in points[9:]:
        page.mouse.move(*point)
    page.mouse.up()
    page.evaluate("() => { window.requestAnimationFrame = window.frames; }")
    after = kept(page, before)
    rows, high = after["rows"], after["geometry"]["centre"][3]
    row = high / sum(after["geometry"]["strip"].values()) * len(after["prints"])
    for across in (0.5, 0.6, 0.7, 0.78):  # where the screen showed no picture any more
        rise = rows[round(across * 128)] - rows[32]
        assert abs(rise - (across - 0.25) / 3 * row) < 0.8, f"{rise} rows at {across} across"
