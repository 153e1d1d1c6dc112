"""The page before its program is loaded: what costs no time is answered at once, the rest waits.

Loading what computes takes most of a second, and the browser has enough to do meanwhile with the
page's own files.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from sequencer.web.pages import is_page, page


class Soon:
    """An application that ``make`` loads and makes, in a thread of its own once it is begun."""

    def __init__(self, make: Callable[[], ASGIApp]) -> None:
        self._make = make
        self._made: Future[ASGIApp] = Future()

    def begin(self, failed: Callable[[], None]) -> None:
        """Start loading; ``failed`` is called where that fails, :meth:`check` says how."""

        def load() -> None:
            try:
                self._made.set_result(self._make())
            except BaseException as error:
                self._made.set_exception(error)
                failed()

        threading.Thread(target=load, daemon=True).start()

    def check(self) -> None:
        """Raise what loading raised, if it did."""
        if self._made.done():
            self._made.result()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer at once, or as soon as the application is made."""
        if is_page(scope["path"]) and scope["method"] in ("GET", "HEAD"):
            await (await page(Request(scope)))(scope, receive, send)
        else:
            app = await asyncio.shield(asyncio.wrap_future(self._made))
            await app(scope, receive, send)
