"""Long work: photographs, what she sets right, what scraps can give; each a stream of lines."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from sequencer.errors import PieceChangedError
from sequencer.opened import Job, Long, Reading
from sequencer.web.answers import document_answer
from sequencer.web.bodies import Marks, Number, Scraps, Size, body_of
from sequencer.web.changing import changed, opened_of, revision_of
from sequencer.web.samples import sample_photos
from sequencer.web.streams import Lines
from sequencer.web.uploads import received


def routes() -> list[Route]:
    """Every piece of long work."""
    return [
        Route("/api/photos", _photo, methods=["POST"]),
        Route("/api/photos/{id}", _take_out, methods=["DELETE"]),
        Route("/api/photos/{id}/marks", _mark, methods=["PUT"]),
        Route("/api/scraps", _scraps, methods=["POST"]),
        Route("/api/first", _first, methods=["POST"]),
        Route("/api/sample", _sample, methods=["POST"]),
        Route("/api/ways-out", _ways_out, methods=["POST"]),
        Route("/api/way-out", _take_way_out, methods=["POST"]),
        Route("/api/largest", _largest, methods=["POST"]),
        Route("/api/best", _best, methods=["POST"]),
        Route("/api/jobs/{number:int}", _job, methods=["GET", "DELETE"]),
    ]


def long_of(request: Request) -> Long:
    """The long work of the opened piece."""
    long = request.app.state.long
    assert isinstance(long, Long)
    return long


async def begun(request: Request, start: Callable[[], Job]) -> ASGIApp:
    """Begin a job and answer its lines; whoever goes away ends it."""
    try:
        job = await run_in_threadpool(start)
    except PieceChangedError as error:
        told = {"error": str(error), "code": "changed"}
        document = await run_in_threadpool(opened_of(request).document)
        return document_answer({**document, **told}, 409)
    return Lines(job, long_of(request).stop)


async def _photo(request: Request) -> ASGIApp:
    """One photograph; with ``later`` answered as soon as it is here, else while it is read."""
    long = long_of(request)
    reading, number = await received(request, long)
    if request.query_params.get("later"):
        return JSONResponse({"job": reading.number, "upload": number}, 202)
    return Lines(reading, lambda job: long.give_up(reading, number))


async def _scraps(request: Request) -> ASGIApp:
    asked, revision = await body_of(request, Scraps), revision_of(request)
    given = msgspec.to_builtins(asked)
    return await begun(
        request, lambda: long_of(request).start(revision, "set_right", asked.op, given))


async def _mark(request: Request) -> ASGIApp:
    asked, revision = await body_of(request, Marks), revision_of(request)
    said = {key: value for key, value in msgspec.to_builtins(asked).items()
            if value is not msgspec.UNSET}  # fmt: skip
    photo = request.path_params["id"]
    return await begun(request, lambda: long_of(request).start(revision, "mark", photo, said))


async def _take_out(request: Request) -> ASGIApp:
    revision, id_ = revision_of(request), request.path_params["id"]
    refused = id_.removeprefix("refused-")
    if refused != id_ and refused.isdecimal():
        number = int(refused[:6])
        return await changed(request, lambda: opened_of(request).dismiss(revision, number))
    return await begun(request, lambda: long_of(request).start(revision, "take_out", id_))


async def _first(request: Request) -> ASGIApp:
    """These are my scraps: the first picture, where there is none yet."""
    revision = revision_of(request)
    return await begun(request, lambda: long_of(request).start(revision, "picture"))


async def _sample(request: Request) -> ASGIApp:
    revision, photos = revision_of(request), sample_photos()
    return await begun(
        request, lambda: long_of(request).start(revision, "read_samples", photos))


async def _ways_out(request: Request) -> ASGIApp:
    revision = revision_of(request)
    return await begun(request, lambda: long_of(request).ways_out(revision))


async def _take_way_out(request: Request) -> Response:
    asked, revision = await body_of(request, Number), revision_of(request)
    return await changed(request, lambda: long_of(request).take_way_out(revision, asked.n))


async def _largest(request: Request) -> ASGIApp:
    return await _better(request, {"largest_piece": True}, "largest piece")


async def _best(request: Request) -> ASGIApp:
    asked = await body_of(request, Size)
    goal = {"best_at": asked.size} if asked.size else {}
    return await _better(request, goal, f"best piece {asked.size or ''}".strip())


async def _better(request: Request, goal: dict[str, Any], step: str) -> ASGIApp:
    revision = revision_of(request)
    return await begun(
        request, lambda: long_of(request).start(revision, "better", goal, step))


async def _job(request: Request) -> ASGIApp:
    """A job's lines from its first; or its end."""
    long = long_of(request)
    job = long.jobs.get(request.path_params["number"])
    if job is None:
        raise HTTPException(404, "There is no such work.")
    if request.method == "GET":
        return Lines(job, None)
    upload = request.query_params.get("upload", "")
    if isinstance(job, Reading) and upload.isdecimal():
        await run_in_threadpool(long.give_up, job, int(upload[:9]))
    else:
        await run_in_threadpool(long.stop, job)
    return JSONResponse({"job": job.number})
