"""A job's lines as they are told, one JSON object a line; who goes away ends the job, if it is
theirs.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from functools import partial
from typing import Any

import msgspec
from starlette.types import Receive, Scope, Send

from sequencer.models import Json
from sequencer.opened import Job

Stop = Callable[[Job], None]
_Queue = asyncio.Queue[Json | None]
_HEAD = [(b"content-type", b"application/x-ndjson; charset=utf-8"), (b"cache-control", b"no-store")]


class Lines:
    """An answer that is a job's lines; ``stop``: what to do where the page goes away before."""

    def __init__(self, job: Job, stop: Stop | None) -> None:
        self._job, self._stop = job, stop

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the lines as they come."""
        async with _heard(self._job) as lines:
            await _unless_gone(self._send(lines, send), receive, self._job, self._stop)

    async def _send(self, lines: _Queue, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": list(_HEAD)})
        while (line := await lines.get()) is not None:
            body = msgspec.json.encode(line) + b"\n"
            await send({"type": "http.response.body", "body": body, "more_body": True})
        await send({"type": "http.response.body", "body": b"", "more_body": False})


async def ended(job: Job, receive: Receive, stop: Stop) -> Json | None:
    """The job's last line once it is told; None where the page went away before."""
    async with _heard(job) as lines:
        last: Json | None = await _unless_gone(_last(lines), receive, job, stop)
        return last


async def _last(lines: _Queue) -> Json:
    last: Json = {}
    while (line := await lines.get()) is not None:
        last = line
    return last


@asynccontextmanager
async def _heard(job: Job) -> AsyncIterator[_Queue]:
    """The job's lines from the first, in this event loop; None after the last."""
    lines: _Queue = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def tell(line: Json | None) -> None:
        with contextlib.suppress(RuntimeError):  # the loop is gone: so is who listens
            loop.call_soon_threadsafe(lines.put_nowait, line)

    leave = job.listen(tell)
    try:
        yield lines
    finally:
        leave()


async def _unless_gone(
    work: Coroutine[Any, Any, Any], receive: Receive, job: Job, stop: Stop | None
) -> Any:
    """What the work gives; None, and the job stopped, where the page goes away before it ends."""
    done, gone = asyncio.ensure_future(work), asyncio.ensure_future(_gone(receive))
    try:
        await asyncio.wait((done, gone), return_when=asyncio.FIRST_COMPLETED)
        if done.done():
            return done.result()
        if stop is not None:
            await asyncio.get_running_loop().run_in_executor(None, partial(stop, job))
        return None
    finally:
        for one in (done, gone):
            one.cancel()
        await asyncio.gather(done, gone, return_exceptions=True)


async def _gone(receive: Receive) -> None:
    """Wait until the page goes away."""
    while (await receive())["type"] != "http.disconnect":
        pass
