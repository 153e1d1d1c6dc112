"""A door for a phone: opened only when asked for, on one address, for one phone, and shut again.

It stands on the network, so it can do one thing: take photographs in. Its secret of 128 bits is in
the fragment of the address, which no server sees; it is good once and for five minutes, and is
swapped for a cookie. What goes over the air is not encrypted, and the page says so.
"""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sequencer.errors import WorkError
from sequencer.models import Json
from sequencer.opened import Long
from sequencer.web.answers import refusals
from sequencer.web.bodies import Body, Word, body_of
from sequencer.web.guard import HEADERS, SAFE, held_cookie, out_of_place, same, with_headers
from sequencer.web.uploads import received

STATIC = Path(__file__).parent / "static"
FIRST, QUIET = 300.0, 1800.0
"""Seconds that the secret is good for, and that the door stays open after the last photograph."""
_PARTS = {"phone.js": "text/javascript", "phone.css": "text/css", "icon.svg": "image/svg+xml"}
_SPENT = "This address has been used, or its time is over. Open the door on the computer again."
_BORDER = 4
"""Quiet modules round a QR code (ISO/IEC 18004, 7.3.8)."""


class NoNetworkError(WorkError):
    """No phone could reach this machine."""


class Token(Body):
    """The secret out of the address."""

    token: Word


class Door:
    """One open door: its address, its secret, and what came through."""

    def __init__(self, long: Long, listening: socket.socket) -> None:
        self._long = long
        self.host = "{}:{}".format(*listening.getsockname()[:2])
        self.origin = f"http://{self.host}"
        self.cookie = f"passalong-phone-{listening.getsockname()[1]}"
        self.token: str | None = secrets.token_urlsafe(16)
        self.until = time.time() + FIRST
        self.count = 0
        self.job: int | None = None
        self._secret = secrets.token_urlsafe(32)
        self._entered = False
        self._app = Starlette(routes=self._routes(), exception_handlers=refusals())
        self._server = _Server(uvicorn.Config(
            self, log_level="critical", access_log=False, server_header=False, lifespan="off",
            ws="none", timeout_graceful_shutdown=0))  # fmt: skip
        self._listening = listening
        self._tasks: set[asyncio.Task[None]] = set()

    def _routes(self) -> list[Route]:
        return [
            Route("/", _page),
            Route("/static/{name}", _part),
            Route("/enter", self._enter, methods=["GET", "POST"]),
            Route("/photo", self._photo, methods=["POST"]),
        ]

    # ── open and shut ─────────────────────────────────────────────────────────────────────

    @property
    def address(self) -> str:
        """What the phone opens; with its secret as long as that is good."""
        return f"{self.origin}/#{self.token}" if self.token else f"{self.origin}/"

    @property
    def open(self) -> bool:
        """Whether it still stands open."""
        return time.time() < self.until

    def begin(self) -> None:
        """Serve in the running event loop until it is shut or its time is over."""
        for work in (self._server.serve(sockets=[self._listening]), self._watch()):
            task = asyncio.ensure_future(work)
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    def shut(self) -> None:
        """Shut it at once."""
        self.until, self.token = 0.0, None
        self._server.should_exit = self._server.force_exit = True  # closes its socket too

    async def _watch(self) -> None:
        while self.open:
            await asyncio.sleep(min(1.0, max(0.05, self.until - time.time())))
        self.shut()

    def told(self) -> Json:
        """What the page on the desk shows of it."""
        if not self.open:
            return nothing()
        qr, size = square(self.address) if self.token else ("", 0)
        return {"address": self.address, "qr": qr, "size": size, "until": int(self.until),
                "received": self.count, "entered": self._entered, "job": self.job}  # fmt: skip

    # ── who comes in ──────────────────────────────────────────────────────────────────────

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request from the phone, or refuse it."""
        if scope["type"] != "http":
            return
        refused: ASGIApp | None = out_of_place(scope, self.host, self.origin)
        if refused is None and not self.open:
            refused = JSONResponse({"error": _SPENT, "code": "shut"}, 403)

        async def guarded(message: Message) -> None:
            await send(with_headers(message, HEADERS))

        await (refused or self._app)(scope, receive, guarded)

    def _known(self, request: Request) -> bool:
        return same(held_cookie(request.headers, self.cookie), self._secret)

    async def _enter(self, request: Request) -> Response:
        """The secret for a cookie, once; a reload with the cookie is let in."""
        if self._known(request):
            return JSONResponse({"entered": True})
        if request.method in SAFE:
            return JSONResponse({"error": _SPENT, "code": "spent"}, 403)
        asked = await body_of(request, Token)
        if self.token is None or not same(asked.token, self.token):
            return JSONResponse({"error": _SPENT, "code": "spent"}, 403)
        self.token, self._entered = None, True
        self.until = time.time() + QUIET
        answer = JSONResponse({"entered": True})
        answer.set_cookie(self.cookie, self._secret, httponly=True, samesite="strict", path="/")
        return answer

    async def _photo(self, request: Request) -> Response:
        """One photograph; it is read with the others on the desk."""
        if not self._known(request):
            return JSONResponse({"error": _SPENT, "code": "spent"}, 403)
        reading, _ = await received(request, self._long)
        self.count += 1
        self.job = reading.number
        self.until = time.time() + QUIET
        return JSONResponse({"received": self.count})


class _Server(uvicorn.Server):
    """Leaves signals to the page's own server."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Nothing to capture."""
        yield


async def _page(request: Request) -> Response:
    return FileResponse(STATIC / "phone.html", headers={"Cache-Control": "no-store"})


async def _part(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _PARTS:
        return PlainTextResponse("There is no such thing.", 404)
    return FileResponse(STATIC / name, media_type=_PARTS[name])


def square(text: str) -> tuple[str, int]:
    """A QR code as the path of an SVG, one unit a module, and how many units it is wide."""
    import segno

    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    path = "".join(
        f"M{x + _BORDER} {y + _BORDER}h1v1h-1z"
        for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    return path, len(rows) + 2 * _BORDER


def nothing() -> Json:
    """What is told where no door is open."""
    return {"address": None, "qr": "", "size": 0, "until": 0, "received": 0, "entered": False,
            "job": None}  # fmt: skip


def own_address() -> str:
    """This machine's address on the network that a phone would share.

    Raises:
        NoNetworkError: it is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737); nothing is sent
            found = str(probe.getsockname()[0])
        except OSError:
            found = "0.0.0.0"
    if found.startswith(("0.", "127.", "169.254.")):
        raise NoNetworkError(
            "This computer is on no network that a phone could share: join your wireless at home, "
            "or bring the photographs over by cable."
        )
    return found


class Phone:
    """At most one door at a time."""

    def __init__(self, long: Long) -> None:
        self._long = long
        self._door: Door | None = None

    def routes(self) -> list[Route]:
        """What the page on the desk can ask."""
        return [Route("/api/phone", self._asked, methods=["GET", "POST", "DELETE"])]

    async def _asked(self, request: Request) -> Response:
        if request.method == "POST":
            self.shut()
            self._door = _opened(self._long)
            self._door.begin()
        elif request.method == "DELETE":
            self.shut()
        return JSONResponse(self._door.told() if self._door else nothing())

    def shut(self) -> None:
        """Shut the door, if one is open."""
        if self._door is not None:
            self._door.shut()
            self._door = None


def _opened(long: Long, host: str | None = None) -> Door:
    address = host or own_address()
    listening = socket.socket()
    try:
        listening.bind((address, 0))
        listening.listen(32)
        listening.setblocking(False)
    except OSError as error:
        listening.close()
        raise NoNetworkError(
            f"No door can be opened on this network ({error.strerror})."
        ) from None
    return Door(long, listening)


