"""Waits for what the page comes to; each has an end that says what was waited for, and in vain."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

WAIT = 90  # seconds for what comes in moments: a loaded machine is no fault, and waits end early
RESTS = """(async () => {
  const [{ store }, { calm }, { hanging }] = await Promise.all(
    ['store', 'api', 'wall'].map((one) => import(`/static/${one}.js`)));
  for (let frame = 0; frame < 2; frame += 1) await new Promise(requestAnimationFrame);
  if (!store.piece || !calm() || !hanging().still) return false;
  if (document.getAnimations().some((one) => one.playState === 'running')) return false;
  const headers = { 'If-None-Match': `"${store.piece.revision}"` };
  return (await fetch('/api/piece', { headers, cache: 'no-store' })).status === 304;
})()"""
AT = """import('/static/store.js').then(async ({ store }) => JSON.stringify({
  calm: (await import('/static/api.js')).calm(), doing: store.doing, again: store.again?.label,
  lost: store.lost, work: store.work?.what, order: store.order, said: store.message.text,
  focus: document.activeElement?.dataset.key,
  steps: store.piece?.steps.map((one) => one.step) }))"""
STANDS = "document.getAnimations().every((one) => one.playState !== 'running')"
CLOCK = """(wait) => {
  const [set, clear, held] = [window.setTimeout, window.clearTimeout, new Map()];
  let count = 1e9;
  window.setTimeout = (fn, ms, ...more) => {
    if (ms !== wait) return set(fn, ms, ...more);
    held.set(count += 1, fn);
    return count;
  };
  window.clearTimeout = (id) => { if (!held.delete(id)) clear(id); };
  window.passes = () => { const all = [...held.values()]; held.clear(); all.forEach((fn) => fn());
    return all.length; };
}"""


def until(page: Any, truth: str, seconds: float = WAIT) -> None:
    """Wait until an expression holds on the page; its policy forbids Playwright's own waiting.

    A promise that is never kept (a frame that is not drawn, an answer that is lost) is asked again.
    """
    end = time.monotonic() + seconds
    soon = f"Promise.race([({truth}), new Promise((no) => setTimeout(no, 10_000, false))])"
    while not page.evaluate(soon):
        assert time.monotonic() < end, f"after {seconds} s not yet: {truth}; {page.evaluate(AT)}"
        page.wait_for_timeout(40)


def routed(page: Any, path: Any, handle: Callable[[Any], object]) -> None:
    """What the page asks of a path goes to the test from now on.

    Chromium says so a moment too soon: it exchanges the page's loaders after its answer, and what
    is asked between goes past (seen in its protocol, on a loaded machine). So it is tried until it
    holds.
    """
    seen: list[Any] = []
    page.route(path, handle)
    page.route("**/icon.svg?held", lambda one: (seen.append(one), one.continue_()))
    end = time.monotonic() + WAIT
    while not seen:
        assert time.monotonic() < end, f"after {WAIT} s the page's requests still go past the test"
        page.evaluate("fetch('/static/icon.svg?held', { cache: 'no-store' }).then(() => null)")


def asked(page: Any, waiting: list[Any], count: int = 1) -> None:
    """Wait until so many are asked."""
    end = time.monotonic() + WAIT
    while len(waiting) < count:
        assert time.monotonic() < end, f"{len(waiting)} of {count} asked; {page.evaluate(AT)}"
        page.wait_for_timeout(20)


def rested(page: Any) -> Any:
    """The page once all that was done is answered, drawn and lies in the folder; nothing moves."""
    until(page, RESTS)
    return page


def time_held(page: Any, ms: int) -> None:
    """Time that the page counts in waits of so many milliseconds stands still: see `passes`."""
    page.evaluate(CLOCK, ms)


def passes(page: Any) -> None:
    """The time that was held is over."""
    assert page.evaluate("window.passes()") == 1, "nobody waited for it"


def lies(one: Any, seconds: float = WAIT) -> Any:
    """Where a thing lies, once it does: what the page draws anew is nowhere for a moment."""
    end = time.monotonic() + seconds
    while not (box := one.bounding_box()):
        assert time.monotonic() < end, f"after {seconds} s nowhere: {one}"
        one.page.wait_for_timeout(40)
    return box
