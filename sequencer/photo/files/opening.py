"""A file → an opened picture, or one line that says why it is none that can be read.

What is refused here is refused undecoded: folders, empty files, other kinds, bombs.
"""

from __future__ import annotations

import stat
import threading
import warnings
from pathlib import Path

from PIL import Image

from sequencer.errors import PhotoError

READABLE = ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP", "HEIF")
SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".jpe", ".mpo", ".png", ".webp", ".tif", ".tiff", ".gif", ".bmp"}
    | {".heic", ".heif", ".hif"}
)
"""File endings that count as photographs when a folder stands for its photos."""

LARGEST = 150_000_000
"""Pixels; above it, more than any phone or camera of today makes, a file is refused unread."""
_MOST_OF_KIND = {"RGBA": 90_000_000, "LA": 90_000_000, "P": 90_000_000, "PA": 90_000_000,
                 "I": 35_000_000, "F": 35_000_000}  # fmt: skip
"""Pixels that fit into 1 GB where a kind needs whole copies: 8 bytes each, or 23.5 (measured)."""
_HEAD = 16  # bytes that tell what kind of file it is
_NO_PICTURE = 64  # pixels of the longer side that a broken HEIC file still declares; by hand
SMALLEST_SIDE = 48
"""Photo pixels of the shorter side, below which a file is refused: by hand, never fitted."""

_opening = threading.Lock()


def refuse_at_the_door(path: Path) -> None:
    """Refuse what is no ordinary file with something in it.

    Raises:
        PhotoError: missing, a folder, no ordinary file, or empty.
    """
    try:
        status = path.stat()
    except (OSError, ValueError):
        raise PhotoError(path.name, "no such file; check the path") from None
    if stat.S_ISDIR(status.st_mode):
        raise PhotoError(path.name, "a folder, not a photograph")
    if not stat.S_ISREG(status.st_mode):
        raise PhotoError(path.name, "not an ordinary file")
    if status.st_size == 0:
        raise PhotoError(path.name, "the file is empty; copy it from the camera again")


def open_picture(path: Path) -> Image.Image:
    """The file as Pillow opens it, of the kinds that are read and no other; not yet decoded."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if head[4:8] == b"ftyp":
        _register_heif()
    with _opening, warnings.catch_warnings():
        # Pillow warns at 89 megapixels already; check_size decides here.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        Image.init()
        return Image.open(path, formats=[name for name in READABLE if name in Image.OPEN])


def _register_heif() -> None:
    from pi_heif import register_heif_opener

    with _opening:
        register_heif_opener()


def check_size(path: Path, image: Image.Image) -> None:
    """Refuse a picture with too many or too few pixels.

    Raises:
        PhotoError: which, and what to do.
    """
    width, height = image.size
    if width * height > LARGEST:
        raise PhotoError(path.name, bomb(f"{width} × {height}"))
    if width * height > _MOST_OF_KIND.get(image.mode.partition(";")[0], LARGEST):
        raise PhotoError(
            path.name,
            f"{width} × {height} pixels of this kind ({image.mode}) take more than 1 GB of "
            "memory; save it smaller, or as a JPEG",
        )
    if image.format == "HEIF" and max(width, height) <= _NO_PICTURE:
        raise PhotoError(
            path.name,
            f"a damaged HEIC file: only {width} × {height} pixels are left of it; copy it from "
            "the camera again",
        )
    if min(width, height) < SMALLEST_SIDE:
        raise PhotoError(
            path.name,
            f"only {width} × {height} pixels, too small to measure cloth; use the original photo",
        )


def bomb(size: str) -> str:
    """Why a file that declares so many pixels is refused."""
    return (
        f"declares {size} pixels, more than any camera makes; refused unread as a decompression "
        "bomb or a damaged file"
    )


def unrecognised(path: Path) -> str:
    """Why a file that no decoder knows cannot be read."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if head[4:8] == b"ftyp" or head.startswith((b"\xff\xd8", b"\x89PNG\r\n")):
        return "a damaged picture file: its header cannot be read; copy it from the camera again"
    return "not a picture this program can read (JPEG, PNG, WebP, TIFF or HEIC)"
