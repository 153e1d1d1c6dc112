"""The page's own files, read once into memory: no path leads from them to the disk."""

from __future__ import annotations

import mimetypes
import re
from functools import lru_cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

STATIC = Path(__file__).parent / "static"
_UNDER, _MAIN = "/static/", "main.js"
_KINDS = {".js": "text/javascript", ".html": "text/html"}


def is_page(path: str) -> bool:
    """Whether this is the page or one of its files."""
    return path == "/" or path.startswith(_UNDER)


async def page(request: Request) -> Response:
    """The page or one of its files."""
    path = request.scope["path"]
    if path == "/":
        headers = {"Cache-Control": "no-cache", "Link": _announced()}
        return Response(_files()["index.html"][0], media_type="text/html", headers=headers)
    data, kind = _files().get(path.removeprefix(_UNDER), (b"", ""))
    if not kind:
        return PlainTextResponse("Not Found", 404)
    return Response(data, media_type=kind, headers={"Cache-Control": "no-cache"})


@lru_cache(maxsize=1)
def _files() -> dict[str, tuple[bytes, str]]:
    """Each file by its path below static/: its bytes and its kind."""
    return {one.relative_to(STATIC).as_posix(): (one.read_bytes(), _kind(one))
            for one in STATIC.rglob("*") if one.is_file()}  # fmt: skip


def _kind(path: Path) -> str:
    return _KINDS.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "text/plain"


@lru_cache(maxsize=1)
def _announced() -> str:
    """All modules that the first one leads to, so that the browser asks for them at once instead of
    finding them one behind the other (HTML, link type modulepreload; RFC 8288).
    """
    found, left = [_MAIN], [_MAIN]
    while left:
        told = _files()[left.pop()][0].decode()
        new = [one for one in re.findall(r"from '\./([\w-]+\.js)'", told) if one not in found]
        found += new
        left += new
    return ", ".join(f"<{_UNDER}{one}>; rel=modulepreload" for one in found)
