"""The routes of the page: what can be asked, and which call of the opened piece answers it."""

from __future__ import annotations

from collections.abc import Callable

from anyio import CapacityLimiter, to_thread
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from sequencer.opened import Long, Opened
from sequencer.opened.pictures import SEEN
from sequencer.web import changing, hanging, outputs, working
from sequencer.web import help as helping
from sequencer.web.answers import document_answer, refusals
from sequencer.web.changing import opened_of
from sequencer.web.pages import page
from sequencer.web.phone import Phone

FOREVER = "private, max-age=31536000, immutable"
"""For what is called by its content."""


def application(opened: Opened, long: Long) -> Starlette:
    """The page of an opened piece and its long work, without its guard."""
    phone = Phone(long)
    app = Starlette(routes=[*routes(), *phone.routes()], exception_handlers=refusals())
    app.state.opened, app.state.long, app.state.phone = opened, long, phone
    app.state.single = CapacityLimiter(1)
    return app


def routes() -> list[Route]:
    """Every route there is."""
    return [
        Route("/", page),
        Route("/static/{path:path}", page),
        Route("/api/piece", _piece),
        Route("/api/photos/{id}/screen", _screen),
        Route("/api/prints/{id}/cloth", _cloth),
        *changing.routes(),
        *hanging.routes(),
        *working.routes(),
        *outputs.routes(),
        *helping.routes(),
    ]


async def _piece(request: Request) -> Response:
    """The document; 304 where the page holds this revision already."""
    opened = opened_of(request)
    revision = await run_in_threadpool(lambda: opened.revision)
    tag = f'"{revision}"'
    if request.headers.get("if-none-match") == tag:
        answer = Response(status_code=304, headers={"ETag": tag, "Cache-Control": "no-cache"})
    else:
        answer = document_answer(await run_in_threadpool(opened.document))
    await run_in_threadpool(request.app.state.long.follow)
    return answer


async def _screen(request: Request) -> Response:
    """A photograph, which is then likely to be set right."""
    id_ = request.path_params["id"]
    answer = await _picture(request, opened_of(request).photo_screen, id_)
    await run_in_threadpool(request.app.state.long.ready_for, id_)
    return answer


async def _cloth(request: Request) -> Response:
    end = request.query_params.get("end", "as-is")
    if end not in ("as-is", "light", "dark", *SEEN):
        raise HTTPException(404, "A cloth has a light end and a dark one.")
    return await _picture(request, opened_of(request).cloth, request.path_params["id"], end)


async def _picture(request: Request, make: Callable[..., bytes], *given: str) -> Response:
    """A picture of a single thing. One is made at a time, so that the piece on the wall does not
    come last.
    """
    data = await to_thread.run_sync(make, *given, limiter=request.app.state.single)
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": FOREVER})

