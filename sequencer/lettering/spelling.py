"""A text made fit for one line: no control characters, no letter that nothing can draw."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from sequencer.lettering.typeface import coded, covered, drawable

_JOINERS = "\u200c\u200d"
_SAME = str.maketrans({"‐": "-", "‑": "-"})
_SPELLED = {
    "″": '"', "′": "'", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8", "⅓": " 1/3",
    "⅔": " 2/3", "⁄": "/", "→": "->", "←": "<-", "↑": "up", "↓": "down", "Δ": "delta ",
}  # fmt: skip
"""What stands in for the signs of the trade where the packages of faces are not installed."""


def plain(text: str) -> str:
    """The text on one line without controls, direction marks or half characters.

    Joiners stay: they belong to the spelling of Persian, of Indic scripts and of emoji.
    """
    kept = []
    for sign in unicodedata.normalize("NFC", text):
        if sign.isspace():
            kept.append(" ")
        elif sign in _JOINERS or unicodedata.category(sign) not in {"Cc", "Cf", "Cs"}:
            kept.append(sign)
    return " ".join("".join(kept).split())


def written(text: str, longest: int | None = None) -> str:
    """The text in letters of the typeface, from left to right, of at most ``longest`` letters.

    A letter that no face has loses its accent or, at worst, becomes a question mark; writing what
    is written already changes nothing.
    """
    return _written(text, longest)


@lru_cache(maxsize=4096)
def _written(text: str, longest: int | None) -> str:
    line = " ".join("".join(map(_drawn, coded(plain(text).translate(_SAME)))).split())
    if longest is not None and len(line) > longest:
        line = line[: longest - 1].rstrip() + "…"
    return line


def missing(text: str) -> str:
    """The letters that no face has, each once, in the order in which they come."""
    coded_line = coded(plain(text).translate(_SAME))
    return "".join(dict.fromkeys(sign for sign in coded_line
                                 if not drawable(sign) and _drawn(sign) == "?"))  # fmt: skip


def _drawn(sign: str) -> str:
    if drawable(sign):
        return sign
    if sign in _SPELLED:
        return _SPELLED[sign]
    if sign in _JOINERS or unicodedata.category(sign) == "Mn":
        return ""
    bare = "".join(
        part for part in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(part)
    )
    return bare if bare and all(ord(part) in covered() for part in bare) else "?"
