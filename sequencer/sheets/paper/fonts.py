"""The typeface for letters of every script, embedded in the sheets.

reportlab sets a line letter by letter in one font; the ground's lettering gives exactly that: a
line from left to right in letters of one typeface. Only letters in use go into the document, and
what a viewer searches and copies is the text they stand for.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont, TTFontFace

from sequencer import lettering

REGULAR, BOLD, ITALIC = "Passalong", "Passalong-Bold", "Passalong-Italic"
LONGEST_NAME = 120
"""Characters of a name that a sheet shows; the rest is cut with an ellipsis."""

_MAPPED = re.compile("<([0-9A-F]{2})> <([0-9A-F]{5})>")
_STYLES = {REGULAR: "regular", BOLD: "bold", ITALIC: "italic"}


@cache
def register() -> frozenset[int]:
    """Make the three faces known to reportlab; the code points of their plain letters."""
    for name, style in _STYLES.items():
        pdfmetrics.registerFont(_Font(name, style))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)
    return lettering.covered()


def printable(text: str, longest: int | None = None) -> str:
    """The text on one line, in letters that the typeface has, cut to ``longest`` characters."""
    register()
    shown = lettering.written(text, longest)
    for name in _STYLES:
        pdfmetrics.getFont(name).learn(shown)
    return shown


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


class _Face(TTFontFace):  # type: ignore[misc]  # reportlab carries no types
    """Vera, and any code of the ground's lettering that was learnt."""

    def __init__(self, style: str) -> None:
        super().__init__(str(lettering.vera(style)))
        self._style = style

    def learn(self, code: int) -> None:
        """Give a code its width, so that lines with it can be laid out."""
        self.charToGlyph[code] = 0
        wide = lettering.advance(code, self._style)
        self.charWidths[code] = round(1000 * wide / lettering.UNITS)

    def makeSubset(self, subset: list[int]) -> Any:  # noqa: N802 - reportlab's name
        """The font file for these codes."""
        if not any(map(lettering.stands_for, subset)):
            return super().makeSubset(subset)
        whole = lettering.font_file(self._style, map(chr, subset))
        return TTFontFace(io.BytesIO(whole)).makeSubset(subset)


class _Font(TTFont):  # type: ignore[misc]
    """A font of reportlab that grows as texts are made printable."""

    def __init__(self, name: str, style: str) -> None:
        super().__init__(name, str(lettering.vera(style)))
        self.face = _Face(style)

    def learn(self, text: Iterable[str]) -> None:
        """Take up the codes in a text."""
        for code in map(ord, text):
            if code not in self.face.charToGlyph and lettering.stands_for(code):
                self.face.learn(code)

    def addObjects(self, doc: Any) -> None:  # noqa: N802 - reportlab's name
        """Add the font to a document, its codes explained by the text they stand for."""
        before = set(doc.idToObject)
        super().addObjects(doc)
        for name in set(doc.idToObject) - before:
            if name.startswith("toUnicodeCMap:"):
                stream = doc.idToObject[name]
                stream.content = "\n".join(map(_explained, stream.content.split("\n")))


def _explained(line: str) -> str:
    """A line ``<place> <code>`` of a ToUnicode map (ISO 32000-1, 9.10.3), as UTF-16."""
    found = _MAPPED.match(line)
    known = lettering.stands_for(int(found[2], 16)) if found else None
    if found is None or known is None:
        return line
    return f"<{found[1]}> <{known.text.encode('utf-16-be').hex().upper()}>"
