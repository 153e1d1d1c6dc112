"""Help without a network: the pages of docs/ as HTML, their pictures beside them.

Markdown by markdown-it-py (CommonMark with tables), raw HTML escaped, links only within docs/ or
left as words. In a checkout docs/ lies beside the package; installed, it lies in this folder.
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

_HERE = Path(__file__).resolve()
_PLACES = (_HERE.parent / "docs", _HERE.parents[2] / "docs")
_NAME = re.compile(r"[a-z][a-z-]{0,40}")
_PICTURE = re.compile(r"[a-z][a-z-]{0,40}\.(jpg|png)")
_KINDS = {"jpg": "image/jpeg", "png": "image/png"}
PAGES = ("page", "photographing", "ordering", "planning", "sewing", "minis", "piece-folder",
         "questions", "messages", "measured")
"""The pages in reading order."""
_FRAME = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>{title} – Passalong</title>
<link rel="icon" href="/static/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/static/help.css"></head>
<body><nav aria-label="Help"><ul>{links}</ul></nav><main>{body}</main></body></html>
"""


def routes() -> list[Route]:
    """GET /help/NAME, for pages and their pictures."""
    return [Route("/help/{name}", _help)]


async def _help(request: Request) -> Response:
    name = request.path_params["name"]
    picture = help_picture(name)
    if picture is not None:
        return Response(picture[0], media_type=picture[1])
    page = help_page(name)
    if page is None:
        return HTMLResponse("<!doctype html><title>Help</title><p>There is no such page.", 404)
    return HTMLResponse(page, headers={"Cache-Control": "no-cache"})


def _docs() -> Path | None:
    return next((place for place in _PLACES if (place / "photographing.md").is_file()), None)


@lru_cache(maxsize=16)
def help_page(name: str) -> str | None:
    """A page of docs/ as a whole HTML document; None where there is none of this name."""
    docs = _docs()
    if docs is None or _NAME.fullmatch(name) is None or not (docs / f"{name}.md").is_file():
        return None
    text = (docs / f"{name}.md").read_text("utf-8")
    there = [page for page in PAGES if (docs / f"{page}.md").is_file()]
    links = "".join(
        f'<li><a href="/help/{page}"{" aria-current=page" if page == name else ""}>'
        f"{html.escape(_title(docs / f'{page}.md'))}</a></li>"
        for page in there
    )
    return _FRAME.format(title=html.escape(_title(docs / f"{name}.md")), links=links,
                         body=_rendered(text))


def help_picture(name: str) -> tuple[bytes, str] | None:
    """A picture of docs/ and its media type; None where there is none of this name."""
    docs = _docs()
    if docs is None or _PICTURE.fullmatch(name) is None or not (docs / name).is_file():
        return None
    return (docs / name).read_bytes(), _KINDS[name.rpartition(".")[2]]


def _title(path: Path) -> str:
    with path.open(encoding="utf-8") as lines:
        return next((line[2:].strip() for line in lines if line.startswith("# ")), path.stem)


def _rendered(text: str) -> str:
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(text)
    _kept_inside(tokens)
    return str(reader.renderer.render(tokens, reader.options, {}))


def _kept_inside(tokens: Sequence[Any]) -> None:
    """Links and pictures led to their place here; a link that leads elsewhere becomes its words."""
    shut = []
    for token in tokens:
        _kept_inside(token.children or ())
        if token.type == "link_open":
            href = _inside(str(token.attrs.get("href", "")))
            shut.append(href is None)
            if href is None:
                token.type, token.tag, token.nesting = "text", "", 0
            else:
                token.attrs["href"] = href
        elif token.type == "link_close" and shut.pop():
            token.type, token.tag, token.nesting = "text", "", 0
        elif token.type == "table_open":
            token.attrs["tabindex"] = "0"  # a wide one is scrolled, by keyboard too
        elif token.type == "image":
            name = str(token.attrs.get("src", "")).rpartition("/")[2]
            token.attrs["src"] = f"/help/{name}" if help_picture(name) else ""


def _inside(href: str) -> str | None:
    """Where a link of docs/ leads here; None where that is no page of ours."""
    path, _, part = href.partition("#")
    name = path.rpartition("/")[2].removesuffix(".md")
    if not path:
        return f"#{part}"
    docs = _docs()
    known = docs is not None and path.endswith(".md") and (docs / f"{name}.md").is_file()
    if not known or _NAME.fullmatch(name) is None:
        return None
    return f"/help/{name}" + (f"#{part}" if part else "")
