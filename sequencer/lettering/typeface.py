"""One typeface for every script: Vera, with each shaped cluster as a letter of its own.

A cluster gets a code of the private plane 15 (Unicode Standard, section 23.5), so that a text in
any script becomes a plain line, from left to right, of letters that one font file has. Whatever
can lay out a line in a TrueType font can then set it: no shaping, no second font, no change of
direction is left to do. The file is made for the codes that are used (fontTools).
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from sequencer.lettering.shaping import STYLES, UNITS, Cluster, pieces

FILES = {"regular": "Vera.ttf", "bold": "VeraBd.ttf", "italic": "VeraIt.ttf"}
FIRST_CODE, LAST_CODE = 0xF0000, 0xFFFFD
_CURVE_ERROR = 1.0
"""Units of 2048 by which a cubic outline may be missed where it becomes quadratic."""

_codes: dict[Cluster, int] = {}
_clusters: dict[int, Cluster] = {}


def coded(text: str) -> str:
    """The text as a line from left to right, in letters of Vera and codes for all others.

    A letter that no face has is left as it is; what is coded already stays.
    """
    drawn = covered()
    if all(ord(sign) in drawn or ord(sign) in _clusters for sign in text):
        return text
    return "".join(
        piece if isinstance(piece, str) else chr(_code(piece)) for piece in pieces(text, drawn)
    )


def drawable(sign: str) -> bool:
    """Whether Vera, or a code, draws it."""
    return ord(sign) in covered() or ord(sign) in _clusters


def stands_for(code: int) -> Cluster | None:
    """The cluster behind a code."""
    return _clusters.get(code)


def advance(code: int, style: str) -> int:
    """Width of a code's cluster in units of :data:`UNITS` to the em."""
    return _clusters[code].advances[_weight(style)]


def vera(style: str) -> Path:
    """The file of Vera in ``regular``, ``bold`` or ``italic``."""
    import reportlab

    return Path(reportlab.__file__).parent / "fonts" / FILES[style]


@cache
def covered() -> frozenset[int]:
    """Code points that Vera draws in all three styles."""
    from fontTools.ttLib import TTFont

    return frozenset.intersection(*(frozenset(TTFont(vera(style)).getBestCmap())
                                    for style in FILES))  # fmt: skip


def font_file(style: str, text: Iterable[str]) -> bytes:
    """A TrueType file of Vera and the codes in ``text``: the same bytes for the same clusters."""
    codes = sorted({ord(sign) for sign in text} & _clusters.keys())
    return _file(style, tuple(codes))


@lru_cache(maxsize=64)
def _file(style: str, codes: tuple[int, ...]) -> bytes:
    if not codes:
        return vera(style).read_bytes()
    from fontTools.ttLib import TTFont

    font = TTFont(vera(style), recalcTimestamp=False)
    order = font.getGlyphOrder()
    names = {code: f"cluster{code:05X}" for code in codes}
    font.setGlyphOrder([*order, *names.values()])
    for code, name in names.items():
        cluster = _clusters[code]
        glyph = _outline(cluster, _weight(style))
        font["glyf"].glyphs[name] = glyph
        glyph.recalcBounds(font["glyf"])
        font["hmtx"].metrics[name] = (cluster.advances[_weight(style)], getattr(glyph, "xMin", 0))
    font["cmap"].tables.append(_map({**font.getBestCmap(), **names}))
    out = io.BytesIO()
    for table in ("kern", "hdmx", "VDMX", "LTSH"):  # tables that speak of every glyph
        if table in font:
            del font[table]
    font.save(out)
    return out.getvalue()


def _map(names: dict[int, str]) -> Any:
    from fontTools.ttLib.tables._c_m_a_p import CmapSubtable

    table = CmapSubtable.newSubtable(12)
    table.platformID, table.platEncID, table.language = 3, 10, 0
    table.cmap = names
    return table


def _outline(cluster: Cluster, weight: int) -> Any:
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.transformPen import TransformPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    cubic = cluster.face.path.suffix != ".ttf"
    taken = Cu2QuPen(pen, _CURVE_ERROR, reverse_direction=True) if cubic else pen
    font = cluster.face.font(STYLES[weight], UNITS)
    for placed in cluster.placed[weight]:
        font.draw_glyph_with_pen(
            placed.glyph, TransformPen(taken, (1, 0, 0, 1, placed.x, placed.y))
        )
    return pen.glyph()


def _weight(style: str) -> int:
    return STYLES.index("bold") if style == "bold" else 0


def _code(cluster: Cluster) -> int:
    if cluster not in _codes:
        code = FIRST_CODE + len(_codes)
        if code > LAST_CODE:  # 65,534 clusters in one process
            raise OverflowError("More different letters than one typeface holds.")
        _codes[cluster] = code
        _clusters[code] = cluster
    return _codes[cluster]
