"""The sheets' typeface, embedded, and text made printable in it.

Bitstream Vera comes with reportlab and may be embedded. It covers Western and most Central
European letters; a letter that it lacks loses its accent or, at worst, becomes a question mark,
so a name in another script never stops the sheets (keys and swatches still tell prints apart).
"""

from __future__ import annotations

import unicodedata
from functools import cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD, ITALIC = "Vera", "VeraBd", "VeraIt"
LONGEST_NAME = 120
"""Characters of a name that a sheet shows; the rest is cut with an ellipsis."""

_SPELLED = {
    "″": '"', "′": "'", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
    "⁄": "/", "→": "->", "←": "<-", "↑": "up", "↓": "down", "Δ": "delta ", "‐": "-", "‑": "-",
    "\u2009": " ", "\u202f": " ", "\u200b": "",
}  # fmt: skip


@cache
def register() -> frozenset[int]:
    """Make the three faces known to reportlab; the code points that all of them can draw."""
    covered: list[set[int]] = []
    for name in (REGULAR, BOLD, ITALIC):
        font = TTFont(name, f"{name}.ttf")
        pdfmetrics.registerFont(font)
        covered.append(set(font.face.charToGlyph))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)
    return frozenset(set.intersection(*covered))


def printable(text: str, longest: int | None = None) -> str:
    """The text on one line, in letters that the typeface has, cut to ``longest`` characters."""
    spelled = "".join(" " if sign.isspace() else _drawable(sign) for sign in text)
    drawn = " ".join(spelled.split())
    if longest is not None and len(drawn) > longest:
        drawn = drawn[: longest - 1].rstrip() + "…"
    return drawn


def fitted(text: str, width: float, size: float, font: str = REGULAR) -> str:
    """Printable text on one line of ``width`` points: cut in the middle where it is longer.

    Names made from file names often differ at their end only.
    """
    whole = printable(text)
    kept, shown = len(whole), whole
    while kept > 2 and pdfmetrics.stringWidth(shown, font, size) > width:
        kept -= 1
        shown = f"{whole[: kept - kept // 2]}…{whole[len(whole) - kept // 2 :]}"
    return shown


def _drawable(sign: str) -> str:
    covered = register()
    if ord(sign) in covered and sign.isprintable():
        return sign
    if sign in _SPELLED:
        return _SPELLED[sign]
    if unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Mn"}:
        return ""
    bare = "".join(
        part for part in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(part)
    )
    return bare if bare and all(ord(part) in covered for part in bare) else "?"
