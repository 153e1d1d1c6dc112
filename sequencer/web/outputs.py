"""What she takes with her: sheets, pictures, all as one zip. Made in the child, then sent."""

from __future__ import annotations

import asyncio
import re
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from sequencer.errors import UsageError
from sequencer.models import Json
from sequencer.opened import Job, Long
from sequencer.web.changing import opened_of
from sequencer.web.streams import ended
from sequencer.web.working import long_of

_MOST_PPI = 600


def routes() -> list[Route]:
    """Every file that can be taken along."""
    return [
        Route("/api/sheets.pdf", _sheets),
        Route("/api/picture.png", _picture),
        Route("/api/piece.zip", _zip),
    ]


class Made:
    """An answer that is a file which a job makes first; who goes away before ends the job."""

    def __init__(self, long: Long, name: str, start: Callable[[Path], Job]) -> None:
        self._long, self._name, self._start = long, name, start

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Make the file, send it, throw it away."""
        place = Path(await run_in_threadpool(tempfile.mkdtemp, prefix="passalong-"))
        try:
            out = place / f"out{Path(self._name).suffix}"
            job = await run_in_threadpool(self._start, out)
            last = await ended(job, receive, self._long.stop)
            if last is not None:
                await self._answer(last, out)(scope, _still_there, send)
        finally:
            await run_in_threadpool(shutil.rmtree, place, True)

    def _answer(self, last: Json, out: Path) -> ASGIApp:
        if "error" in last:
            return JSONResponse(last, 507 if last.get("code") == "disk" else 422)
        plain = re.sub(r"[^A-Za-z0-9._-]+", "-", self._name).strip("-.") or "piece"
        told = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(self._name)}"
        return FileResponse(out, headers={"Content-Disposition": told, "Cache-Control": "no-store"})


async def _still_there() -> Any:
    await asyncio.Event().wait()


def _called(request: Request, ending: str) -> str:
    return f"{opened_of(request).name}{ending}"


def _choice(request: Request, name: str, among: tuple[str, ...]) -> str:
    """A choice that is typed into the address; the first of ``among`` where none is."""
    chosen = request.query_params.get(name) or among[0]
    if chosen not in among:
        raise UsageError(f"{name}: one of {', '.join(filter(None, among))}, not '{chosen[:40]}'.")
    return chosen


async def _sheets(request: Request) -> ASGIApp:
    long, paper = long_of(request), _choice(request, "paper", ("letter", "a4"))
    units = _choice(request, "units", ("", "in", "cm")) or None
    return Made(long, _called(request, "-sheets.pdf"),
                lambda out: long.made("sheets", out, paper, units))


async def _picture(request: Request) -> ASGIApp:
    long = long_of(request)
    view = _choice(request, "view", ("colour", "value", "protan", "deutan", "tritan",
                                     "across-room"))  # fmt: skip
    try:
        ppi = float(request.query_params.get("ppi") or 100)
    except ValueError:
        ppi = 0.0
    if not 1 <= ppi <= _MOST_PPI:
        raise UsageError(f"Pixels an inch: a number from 1 to {_MOST_PPI}.")
    return Made(long, _called(request, f"-{view}.png"),
                lambda out: long.made("drawn", out, view, ppi))


async def _zip(request: Request) -> ASGIApp:
    long, name = long_of(request), opened_of(request).name
    paper = _choice(request, "paper", ("letter", "a4"))
    units = _choice(request, "units", ("", "in", "cm")) or None
    return Made(long, _called(request, ".zip"),
                lambda out: long.made("bundle", out, name, paper, units))
