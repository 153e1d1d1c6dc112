"""Pictures of single things as files for a screen: a photograph, a print's cloth."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sequencer.errors import PieceError
from sequencer.keeping.originals import place_of
from sequencer.models import Print
from sequencer.piece import Piece

if TYPE_CHECKING:
    from PIL import Image

SCREEN = 1800
"""Pixels of the longest side of a photograph on the screen."""
CLOTH = 512
"""Pixels of the longest side of a print's cloth in the strip set."""
SEEN = ("value", "protan", "deutan", "tritan")
"""Views of the piece in which single cloths can be seen too."""


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


def cloth_picture(piece: Piece, id_: str, end: str = "as-is") -> bytes:
    """A print's cloth, lengthwise left to right, as JPEG.

    ``end``: as-is, or the cloth at the ``light`` or ``dark`` end of what its colour may be. Most of
    a colour's doubt is one of lightness, so L* of its mean is moved by all of it, in light. Or one
    of :data:`SEEN`: the cloth as that view of the piece shows it.

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
    picture = swatch_thumbnail(one, wide, high)
    if end in SEEN:
        return _jpeg(_viewed(picture, end))
    return _jpeg(picture if end == "as-is" else _moved(picture, one, end == "light"))


def _viewed(picture: Image.Image, view: str) -> Image.Image:
    from PIL import Image

    from sequencer.colour import srgb8_to_linear
    from sequencer.colour.spaces import linear_to_srgb8
    from sequencer.rendering.views import as_seen_by, as_value

    light = srgb8_to_linear(np.asarray(picture)).astype(np.float32)
    seen = as_value(light) if view == "value" else as_seen_by(light, view)
    return Image.fromarray(linear_to_srgb8(np.clip(seen, 0, 1)))


def _moved(picture: Image.Image, one: Print, lighter: bool) -> Image.Image:
    from PIL import Image

    from sequencer.colour import lab_to_xyz, srgb8_to_linear
    from sequencer.colour.spaces import linear_to_srgb8

    value = one.value + (one.uncertainty if lighter else -one.uncertainty)
    levels = [lab_to_xyz((min(100.0, max(1.0, end)), 0.0, 0.0))[1] for end in (value, one.value)]
    light = srgb8_to_linear(np.asarray(picture)) * np.float32(levels[0] / levels[1])
    return Image.fromarray(linear_to_srgb8(np.clip(light, 0, 1)))


def _jpeg(picture: Image.Image) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=88)
    return buffer.getvalue()
