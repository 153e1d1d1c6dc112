"""What is answered where something is refused: one sentence and a word for the page."""

from __future__ import annotations

import errno
from collections.abc import Callable
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from sequencer.errors import (
    PassalongError,
    PieceChangedError,
    PieceInUseError,
    UsageError,
)
from sequencer.opened import FULL, code_of
from sequencer.web.bodies import TooLargeError
from sequencer.web.uploads import NoPictureError


def refusals() -> dict[Any, Callable[[Request, Exception], Response]]:
    """How each kind of refusal is answered."""
    return {PassalongError: _told, OSError: _from_the_system, HTTPException: _http}


def error_json(error: Exception) -> tuple[int, dict[str, str]]:
    """Status and object of an error."""
    if isinstance(error, PieceChangedError):
        return 409, {"error": str(error), "code": "changed"}
    if isinstance(error, PieceInUseError):
        return 423, {"error": str(error), "code": "in_use"}
    if isinstance(error, TooLargeError):
        return 413, {"error": str(error), "code": "too_large"}
    if isinstance(error, NoPictureError):
        return 415, {"error": str(error), "code": "no_picture"}
    if isinstance(error, UsageError):
        return 400, {"error": str(error), "code": "usage"}
    if isinstance(error, OSError):
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        return 507, {"error": FULL if full else f"{error.strerror or error}.", "code": "disk"}
    return 422, {"error": str(error), "code": code_of(type(error).__name__)}


def _told(request: Request, error: Exception) -> Response:
    status, told = error_json(error)
    return JSONResponse(told, status)


def _from_the_system(request: Request, error: Exception) -> Response:
    return _told(request, error)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return JSONResponse({"error": error.detail, "code": "http"}, error.status_code, error.headers)


def document_answer(document: Any, status: int = 200) -> Response:
    """The document with its revision as ETag."""
    headers = {"ETag": f'"{document["revision"]}"', "Cache-Control": "no-cache"}
    return JSONResponse(document, status, headers)
