"""The routes of the page: what can be asked, and which call of the opened piece answers it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from sequencer.opened import Long, Opened
from sequencer.opened.pictures import SEEN
from sequencer.web import changing, hanging, outputs, working
from sequencer.web import help as helping
from sequencer.web.answers import document_answer, refusals
from sequencer.web.changing import opened_of
from sequencer.web.phone import Phone

STATIC = Path(__file__).parent / "static"
FOREVER = "private, max-age=31536000, immutable"
"""For what is called by its content."""


def application(opened: Opened, long: Long) -> Starlette:
    """The page of an opened piece and its long work, without its guard."""
    phone = Phone(long)
    app = Starlette(routes=[*routes(), *phone.routes()], exception_handlers=refusals())
    app.state.opened, app.state.long, app.state.phone = opened, long, phone
    return app


def routes() -> list[Route | Mount]:
    """Every route there is."""
    return [
        Route("/", _page),
        Route("/api/piece", _piece),
        Route("/api/photos/{id}/screen", _screen),
        Route("/api/prints/{id}/cloth", _cloth),
        *changing.routes(),
        *hanging.routes(),
        *working.routes(),
        *outputs.routes(),
        *helping.routes(),
        Mount("/static", GZipMiddleware(StaticFiles(directory=STATIC, check_dir=False))),
    ]


async def _page(request: Request) -> Response:
    return FileResponse(STATIC / "index.html", headers={"Cache-Control": "no-cache"})


async def _piece(request: Request) -> Response:
    """The document; 304 where the page holds this revision already."""
    opened = opened_of(request)
    revision = await run_in_threadpool(lambda: opened.revision)
    tag = f'"{revision}"'
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"ETag": tag, "Cache-Control": "no-cache"})
    return document_answer(await run_in_threadpool(opened.document))


async def _screen(request: Request) -> Response:
    return await _picture(opened_of(request).photo_screen, request.path_params["id"])


async def _cloth(request: Request) -> Response:
    end = request.query_params.get("end", "as-is")
    if end not in ("as-is", "light", "dark", *SEEN):
        raise HTTPException(404, "A cloth has a light end and a dark one.")
    return await _picture(opened_of(request).cloth, request.path_params["id"], end)


async def _picture(make: Callable[..., bytes], *given: str) -> Response:
    data = await run_in_threadpool(make, *given)
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": FOREVER})

