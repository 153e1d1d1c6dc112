"""A job's lines as they are told, one JSON object a line; who goes away ends the job, if it is
theirs.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from functools import partial

import msgspec
from starlette.types import Receive, Scope, Send

from sequencer.models import Json
from sequencer.opened import Job

_HEAD = [(b"content-type", b"application/x-ndjson; charset=utf-8"), (b"cache-control", b"no-store")]


class Lines:
    """An answer that is a job's lines; ``stop``: what to do where the page goes away before."""

    def __init__(self, job: Job, stop: Callable[[Job], None] | None) -> None:
        self._job, self._stop = job, stop

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the lines as they come."""
        lines: asyncio.Queue[Json | None] = asyncio.Queue()
        loop = asyncio.get_running_loop()

        def tell(line: Json | None) -> None:
            with contextlib.suppress(RuntimeError):  # the loop is gone: so is who listens
                loop.call_soon_threadsafe(lines.put_nowait, line)

        leave = self._job.listen(tell)
        told = asyncio.ensure_future(self._send(lines, send))
        gone = asyncio.ensure_future(_gone(receive))
        try:
            await asyncio.wait((told, gone), return_when=asyncio.FIRST_COMPLETED)
            if not told.done() and self._stop is not None:
                await loop.run_in_executor(None, partial(self._stop, self._job))
        finally:
            leave()
            for one in (told, gone):
                one.cancel()
            await asyncio.gather(told, gone, return_exceptions=True)

    async def _send(self, lines: asyncio.Queue[Json | None], send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": list(_HEAD)})
        while (line := await lines.get()) is not None:
            body = msgspec.json.encode(line) + b"\n"
            await send({"type": "http.response.body", "body": body, "more_body": True})
        await send({"type": "http.response.body", "body": b"", "more_body": False})


async def _gone(receive: Receive) -> None:
    """Wait until the page goes away."""
    while (await receive())["type"] != "http.disconnect":
        pass
