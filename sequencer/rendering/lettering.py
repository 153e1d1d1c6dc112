"""The typeface of the pictures: Bitstream Vera, which the reportlab package carries."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from PIL import ImageFont


@cache
def font(size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Vera at ``size`` pixels; it has ×, –, Δ and the fractions that the built-in face lacks."""
    import reportlab

    name = "VeraBd.ttf" if bold else "Vera.ttf"
    return ImageFont.truetype(str(Path(reportlab.__file__).parent / "fonts" / name), size)
