"""Who may ask: this machine's own browser, on this page, with the cookie of this server.

The page listens on the loopback address only, but every program and every web site that is open
on this machine can send requests there. So each request must name exactly this host (against DNS
rebinding), come from this page (Fetch Metadata, W3C; and Origin, RFC 6454), and carry a secret
that was handed over once, in a link that works once.
"""

from __future__ import annotations

import hmac
import secrets
import threading
from collections.abc import Mapping
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
    "connect-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Embedder-Policy": "require-corp",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_NO_KEY = (
    "This page is open to the browser only that its link was opened in, and each link works once. "
    "In the terminal, start it again: passalong page FOLDER"
)


class Guard:
    """Wraps an application; ``host`` is the only one it answers to, as ``127.0.0.1:8000``."""

    def __init__(self, app: ASGIApp, host: str) -> None:
        self._app, self.host = app, host
        self.origin = f"http://{host}"
        self.cookie = f"passalong-{host.rpartition(':')[2]}"
        self._secret = secrets.token_urlsafe(32)
        self._key: str | None = secrets.token_urlsafe(32)
        self._lock = threading.Lock()

    @property
    def link(self) -> str:
        """The link that opens the page, once."""
        return f"{self.origin}/enter?key={self._key}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer the request, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here
        refused = self._refused(scope)

        async def guarded(message: Message) -> None:
            await send(with_headers(message, HEADERS))

        await (refused or self._app)(scope, receive, guarded)

    def _refused(self, scope: Scope) -> Response | None:
        """What to answer instead; None where the request is one of ours."""
        refused = out_of_place(scope, self.host, self.origin)
        if refused is not None:
            return refused
        headers = Headers(scope=scope)
        if scope["path"] == "/enter" and scope["method"] in SAFE:
            return self._entered(scope, headers)
        if not self._known(headers):
            return PlainTextResponse(_NO_KEY, 403)
        return None

    def _known(self, headers: Headers) -> bool:
        return same(held_cookie(headers, self.cookie), self._secret)

    def _entered(self, scope: Scope, headers: Headers) -> Response:
        """The key for the cookie, once; a reload with the cookie goes to the page."""
        key = QueryParams(scope["query_string"]).get("key", "")
        with self._lock:
            right = self._key is not None and same(key, self._key)
            if right:
                self._key = None
        if not right and not self._known(headers):
            return PlainTextResponse(_NO_KEY, 403)
        answer = RedirectResponse("/", 303)
        if right:
            answer.set_cookie(self.cookie, self._secret, httponly=True, samesite="strict", path="/")
        return answer


def out_of_place(scope: Scope, host: str, origin: str) -> Response | None:
    """What to answer a request that names another host or comes from another page; else None."""
    headers = Headers(scope=scope)
    if headers.getlist("host") != [host]:
        return PlainTextResponse("This is another host.", 421)
    if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
        return PlainTextResponse("Only its own page may ask this.", 403)
    sent = headers.getlist("origin")
    if sent != [origin] and not (sent == [] and scope["method"] in SAFE):
        return PlainTextResponse("Only its own page may ask this.", 403)
    return None


def held_cookie(headers: Headers, name: str) -> str:
    """The cookie of this name, empty where there is none."""
    try:
        held = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return "" if held is None else held.value


def with_headers(message: Message, told: Mapping[str, str]) -> Message:
    """The message, the beginning of an answer with these headers."""
    if message["type"] == "http.response.start":
        headers = MutableHeaders(scope=message)
        for name, value in told.items():
            headers[name] = value
        headers.setdefault("Cache-Control", "no-store")
    return message


def same(a: str, b: str) -> bool:
    """Whether two secrets are one, in a time that tells nothing."""
    return hmac.compare_digest(a.encode("utf-8", "replace"), b.encode("utf-8", "replace"))
