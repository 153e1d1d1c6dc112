"""Photographs as they come in: counted while they do, known by their content, not by a name."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from sequencer.errors import PassalongError
from sequencer.opened import Long, Reading
from sequencer.web.bodies import TooLargeError

MOST = 80_000_000
"""Bytes of one photograph: twice what today's phones make at their finest."""
_CHUNK = 1 << 20
_HEIC = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"heif")


class NoPictureError(PassalongError):
    """What came in is no photograph that can be read."""


def ending_of(head: bytes) -> str:
    """The file ending of what begins with these bytes.

    Raises:
        NoPictureError: it is none of the kinds that are read.
    """
    kinds = (
        (b"\xff\xd8\xff", ".jpg"), (b"\x89PNG\r\n\x1a\n", ".png"), (b"II*\x00", ".tif"),
        (b"MM\x00*", ".tif"), (b"GIF87a", ".gif"), (b"GIF89a", ".gif"), (b"BM", ".bmp"),
    )  # fmt: skip
    for magic, ending in kinds:
        if head.startswith(magic):
            return ending
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return ".webp"
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC:
        return ".heic"
    raise NoPictureError(
        "That is no photograph this program reads: JPEG, PNG, WebP, HEIC, TIFF, GIF or BMP."
    )


async def received(request: Request, long: Long) -> tuple[Reading, int]:
    """Take one photograph from a request's body; returns the job that reads it and its number.

    Raises:
        TooLargeError, NoPictureError, TooManyError: it is not taken; nothing is left of it.
        OSError: it cannot be written.
    """
    _check_announced(request)
    place = await run_in_threadpool(long.place_for)
    try:
        ending = await _written(request, place)
        path = place.with_suffix(ending)
        await run_in_threadpool(os.replace, place, path)
    except BaseException:
        with contextlib.suppress(OSError):
            place.unlink(missing_ok=True)
        raise
    name = _name(request.query_params.get("name", ""), ending)
    reading, upload = await run_in_threadpool(long.take_in, path, name)
    return reading, upload.number


def _check_announced(request: Request) -> None:
    announced = request.headers.get("content-length", "0")
    if announced.isdigit() and int(announced) > MOST:
        raise _too_large()


def _too_large() -> TooLargeError:
    return TooLargeError(f"That file is larger than {MOST // 1_000_000} MB: no photograph of scraps"
                         " needs to be.")


def _name(told: str, ending: str) -> str:
    """What to call it: the last part of the name it had, for people only."""
    name = told.replace("\\", "/").rpartition("/")[2].strip()[:120]
    return name if name.strip(". ") else f"photograph{ending}"


async def _written(request: Request, place: Path) -> str:
    """Write the body to its place, a megabyte at a time; returns its ending."""
    waiting, count, ending = bytearray(), 0, ""
    with place.open("xb") as file:
        async for part in request.stream():
            waiting += part
            count += len(part)
            if count > MOST:
                raise _too_large()
            if not ending and len(waiting) >= 12:
                ending = ending_of(bytes(waiting[:12]))
            if len(waiting) >= _CHUNK:
                await run_in_threadpool(file.write, bytes(waiting))
                waiting.clear()
        ending = ending or ending_of(bytes(waiting))

        def settle() -> None:
            file.write(bytes(waiting))
            file.flush()
            os.fsync(file.fileno())

        await run_in_threadpool(settle)
    return ending
