"""The typeface of the pictures: letters of every script."""

from __future__ import annotations

import io
from functools import lru_cache

from PIL import ImageFont

from sequencer import lettering


def font(size: int, bold: bool = False, text: str = "") -> ImageFont.FreeTypeFont:
    """The typeface at ``size`` pixels, with the letters of a ``text`` that is written already."""
    return _font(lettering.font_file("bold" if bold else "regular", text), size)


@lru_cache(maxsize=64)
def _font(file: bytes, size: int) -> ImageFont.FreeTypeFont:
    # Lines come shaped and in order; the layout engine must not turn them round again.
    return ImageFont.truetype(io.BytesIO(file), size, layout_engine=ImageFont.Layout.BASIC)
