"""The photographs' screen, for tests: where a point of the table lies, what the page says of it."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.page.waiting import lies, rested

TABLE = Path(__file__).parents[2] / "sample_images" / "table-lowtide.jpg"
TRUTH = json.loads((TABLE.parent / "truth.json").read_text("utf-8"))["table"]
WIDE, HIGH = 4000, 3000
LONG = 90_000  # ms for a reading on a loaded machine


def at(page: Any, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of the table's photograph lies on the screen."""
    box = lies(page.locator(".shot .over"))
    return box["x"] + point[0] / WIDE * box["width"], box["y"] + point[1] / HIGH * box["height"]


def middle(corners: list[list[float]]) -> tuple[float, float]:
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def document(page: Any) -> dict[str, Any]:
    """The document that the page shows; it comes from the program alone."""
    return page.evaluate("import('/static/store.js').then(({ store }) => store.piece)")


def until(page: Any, true: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
    """The document as soon as something is true of it and nothing is under way."""
    end = time.monotonic() + LONG / 1000
    while not true(piece := document(rested(page))):
        assert time.monotonic() < end, f"not yet: {json.dumps(piece)[:600]}"
        page.wait_for_timeout(100)
    return piece


def step(piece: dict[str, Any]) -> str:
    return (piece["undo"] or {"step": ""})["step"]


def print_of(piece: dict[str, Any], id_: str) -> dict[str, Any]:
    return next(one for one in piece["prints"] if one["id"] == id_)


def table_of(piece: dict[str, Any]) -> dict[str, Any]:
    return next(one for one in piece["photos"] if one["name"] == TABLE.name)


def done(page: Any) -> dict[str, Any]:
    """The document once no work is under way."""
    return document(rested(page))


def to_the_table(page: Any) -> None:
    rested(page)
    if page.locator("body").get_attribute("data-scene") != "photo":
        page.locator("[data-key=scene]").click()
    page.wait_for_selector(".shot .over polygon")
    rested(page)


def hold(page: Any, id_: str) -> None:
    page.locator(f'polygon[data-print="{id_}"]').click()
    page.locator(".corners .corner").first.wait_for()


def corners_of(page: Any) -> Any:
    return page.locator(".corners .corner")
