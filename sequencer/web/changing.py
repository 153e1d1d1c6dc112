"""Changes of the piece: each names the revision it was made on and answers the document after."""

from __future__ import annotations

from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from sequencer.errors import PieceChangedError, UsageError
from sequencer.models import Json
from sequencer.opened import Move, Opened
from sequencer.web.answers import document_answer
from sequencer.web.bodies import Order, OrderWishes, PlanMove, PrintChange, body_of


def opened_of(request: Request) -> Opened:
    """The opened piece that this request is about."""
    opened = request.app.state.opened
    assert isinstance(opened, Opened)
    return opened


def routes() -> list[Route]:
    """Every change that is quick."""
    return [
        Route("/api/sequence", _lay, methods=["PUT"]),
        Route("/api/order", _order, methods=["POST"]),
        Route("/api/price", _price, methods=["POST"]),
        Route("/api/plan", _plan, methods=["POST"]),
        Route("/api/prints/{id}", _print, methods=["PATCH"]),
        Route("/api/undo", _undo, methods=["POST"]),
        Route("/api/redo", _redo, methods=["POST"]),
    ]


def revision_of(request: Request) -> str:
    """The revision that the change was made on.

    Raises:
        UsageError: it names none.
    """
    tag = request.headers.get("if-match", "").strip().removeprefix("W/").strip('"')
    if not tag:
        raise UsageError("A change says which revision of the piece it was made on (If-Match).")
    return tag


async def changed(request: Request, make: Callable[[], Json]) -> Response:
    """Make the change beside the event loop; where the piece is another by now, show that one."""
    try:
        document = await run_in_threadpool(make)
        await run_in_threadpool(request.app.state.long.follow)
        return document_answer(document)
    except PieceChangedError as error:
        told = {"error": str(error), "code": "changed"}
        document = await run_in_threadpool(opened_of(request).document)
        return document_answer({**document, **told}, 409)


async def _lay(request: Request) -> Response:
    asked, revision = await body_of(request, Order), revision_of(request)
    return await changed(request, lambda: opened_of(request).lay(revision, asked.order))


async def _order(request: Request) -> Response:
    asked, revision = await body_of(request, OrderWishes), revision_of(request)
    return await changed(request, lambda: opened_of(request).order(revision, asked.wishes))


async def _price(request: Request) -> Response:
    asked = await body_of(request, Order)
    return JSONResponse(await run_in_threadpool(opened_of(request).price, asked.order))


async def _plan(request: Request) -> Response:
    asked, revision = await body_of(request, PlanMove), revision_of(request)
    move = Move(asked.wishes, asked.rows, asked.base)
    step = "line" if asked.rows is not None else "plan " + ", ".join(sorted(asked.wishes))
    return await changed(request, lambda: opened_of(request).move(revision, move, step))


async def _print(request: Request) -> Response:
    asked, revision = await body_of(request, PrintChange), revision_of(request)
    id_, opened = request.path_params["id"], opened_of(request)
    name, sizes = asked.name, asked.sizes
    if (name is None) == (sizes is None):
        raise UsageError("A print is given a name or its scraps, one at a time.")
    if name is not None:
        return await changed(request, lambda: opened.rename(revision, id_, name))
    if not sizes:  # as large as it was measured: that is in its photograph's reading
        long = request.app.state.long
        return await changed(request, lambda: long.unsize(revision, id_))
    return await changed(request, lambda: opened.resize(revision, id_, sizes))


async def _undo(request: Request) -> Response:
    revision = revision_of(request)
    return await changed(request, lambda: opened_of(request).undo(revision))


async def _redo(request: Request) -> Response:
    revision = revision_of(request)
    return await changed(request, lambda: opened_of(request).redo(revision))
