"""Pictures for the wall, raw: four bytes of length, a JSON head, then RGBA of each image in order.

Pixels go as they are: over the machine's own loopback packing them costs more than it saves.
"""

from __future__ import annotations

import json
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from sequencer.errors import UsageError
from sequencer.opened import Move
from sequencer.opened.hanging import Packet
from sequencer.web.bodies import Trial, body_of
from sequencer.web.changing import opened_of

_LARGEST_PPI = 1200


def routes() -> list[Route]:
    """Every picture that scissors make."""
    return [
        Route("/api/bands", _bands),
        Route("/api/frame", _frame),
        Route("/api/far", _far),
        Route("/api/scaled", _scaled),
        Route("/api/trial", _trial, methods=["POST"]),
    ]


async def _bands(request: Request) -> Response:
    ppi, view, opened = _ppi(request), _view(request), opened_of(request)
    return await _answer(lambda: opened.hung(lambda wall, piece, plan: wall.bands(
        piece, plan, ppi, view)))  # fmt: skip


async def _frame(request: Request) -> Response:
    ppi, view, opened = _ppi(request), _view(request), opened_of(request)
    return await _answer(lambda: opened.hung(lambda wall, piece, plan: wall.frame(
        piece, plan, ppi, view)))  # fmt: skip


async def _far(request: Request) -> Response:
    ppi, opened = _ppi(request), opened_of(request)
    return await _answer(lambda: opened.hung(lambda wall, piece, plan: wall.far(piece, plan, ppi)))


async def _scaled(request: Request) -> Response:
    ppi, view, opened = _ppi(request), _view(request), opened_of(request)
    size = request.query_params.get("size", "")[:40]
    return await _answer(lambda: opened.hung(lambda wall, piece, plan: wall.scaled(
        piece, plan, size, ppi, view)))  # fmt: skip


async def _trial(request: Request) -> Response:
    asked, opened = await body_of(request, Trial), opened_of(request)
    move = Move(asked.wishes or {}, asked.rows, asked.base, asked.order)
    return await _answer(lambda: opened.hung(lambda wall, piece, plan: wall.trial(
        piece, plan, move, asked.ppi, asked.view, asked.frame)), asked.serial)  # fmt: skip


def _ppi(request: Request) -> float:
    try:
        found = float(request.query_params.get("ppi", ""))
    except ValueError:
        found = 0.0
    if not 0 < found <= _LARGEST_PPI:
        raise UsageError(f"Pixels an inch: a number from 1 to {_LARGEST_PPI}.")
    return found


def _view(request: Request) -> str:
    return request.query_params.get("view", "colour")


async def _answer(make: Callable[[], Packet], serial: int | None = None) -> Response:
    data = await run_in_threadpool(lambda: packed(make(), serial))
    return Response(data, media_type="application/octet-stream",
                    headers={"Cache-Control": "no-store"})  # fmt: skip


def packed(packet: Packet, serial: int | None = None) -> bytes:
    """The packet as it is sent."""
    images = [{"name": name, "width": pixels.shape[1], "height": pixels.shape[0]}
              for name, pixels in packet.images.items()]  # fmt: skip
    told = {**packet.head, "images": images} | ({} if serial is None else {"serial": serial})
    head = json.dumps(told, separators=(",", ":")).encode()
    head += b" " * (-len(head) % 4)
    return b"".join([len(head).to_bytes(4, "little"), head,
                     *(pixels.data for pixels in packet.images.values())])  # fmt: skip
