"""Pictures of single things as files for a screen: a photograph, a print's cloth."""

from __future__ import annotations

import io
from pathlib import Path

from sequencer.errors import PieceError
from sequencer.keeping.originals import place_of
from sequencer.piece import Piece

SCREEN = 1800
"""Pixels of the longest side of a photograph on the screen."""
CLOTH = 512
"""Pixels of the longest side of a print's cloth in the strip set."""


def photo_screen(piece: Piece, folder: Path, id_: str) -> bytes:
    """The photograph upright, as JPEG, without anything else that the file told.

    Raises:
        PieceError: there is no such photograph, or its file is gone.
        PhotoError: it can no longer be read.
    """
    from PIL import Image

    from sequencer.photo.files.load import load

    photo = next((one for one in piece.photos if one.id == id_), None)
    path = None if photo is None else place_of(photo, folder)
    if path is None:
        raise PieceError("This photograph is no longer there.")
    pixels = load(path).finest[0]
    picture = Image.fromarray(pixels)
    picture.thumbnail((SCREEN, SCREEN), Image.Resampling.BICUBIC, reducing_gap=2.0)
    return _jpeg(picture)


def cloth_picture(piece: Piece, id_: str) -> bytes:
    """A print's cloth, lengthwise left to right, as JPEG.

    Raises:
        PieceError: there is no such print, or its cloth is gone.
    """
    from sequencer.rendering import swatch_thumbnail

    one = piece.print_of(id_)
    wide, high = CLOTH, CLOTH // 3
    if one.swatch is not None:
        sides = sorted(one.swatch.pixels.shape[:2], reverse=True)
        wide = min(CLOTH, sides[0])
        high = max(CLOTH // 6, min(CLOTH, round(wide * sides[1] / sides[0])))
    return _jpeg(swatch_thumbnail(one, wide, high))


def _jpeg(picture: object) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=88)  # type: ignore[attr-defined]
    return buffer.getvalue()
