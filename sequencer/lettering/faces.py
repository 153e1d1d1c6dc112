"""The faces that letters come from: Bitstream Vera first, then Noto for all it lacks.

Vera comes with reportlab. Noto (SIL Open Font License 1.1, as its authors publish it) comes in
two data packages without code; where one is not installed, its letters are told as missing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import uharfbuzz

_PACKAGES = ("manimgx_fonts", "manimgx_fonts_cjk")
_LAST = ("NotoSansSymbols", "NotoEmoji")
_CJK = {"jp": 0, "kr": 1, "cn": 2, "tw": 3}
"""Noto Sans CJK is one file of several faces: the same letters as each country draws them."""
WEIGHTS = {"regular": 400.0, "bold": 700.0}


@dataclass(frozen=True)
class Face:
    """One typeface file, and the code points that it draws."""

    name: str
    path: Path
    place: int = 0
    covers: frozenset[int] = field(default=frozenset(), repr=False, compare=False)

    def font(self, weight: str, units: int) -> uharfbuzz.Font:
        """The face at ``regular`` or ``bold``, its em ``units`` wide."""
        return _font(self.path, self.place, WEIGHTS[weight], units)


def covering(letter: str, country: str, liked: Face | None = None) -> Face | None:
    """The face to draw a letter in: the one before it if that can, else the first that can."""
    code = ord(letter)
    if liked is not None and code in liked.covers:
        return liked
    return next((face for face in _noto(country) if code in face.covers), None)


def country_of(text: str) -> str:
    """Whose ideographs: Japan's beside kana, Korea's beside hangul, Taiwan's beside bopomofo."""
    codes = [ord(sign) for sign in text]
    if any(0x3040 <= code <= 0x30FF for code in codes):
        return "jp"
    if any(0x1100 <= code <= 0x11FF or 0xAC00 <= code <= 0xD7FF for code in codes):
        return "kr"
    return "tw" if any(0x3100 <= code <= 0x312F for code in codes) else "cn"


@cache
def _noto(country: str) -> tuple[Face, ...]:
    files = [path for package in _PACKAGES for path in _files(package)
             if "Italic" not in path.name]  # fmt: skip
    files.sort(key=_rank)
    return tuple(_face(path, _CJK[country] if path.suffix == ".ttc" else 0) for path in files)


def _rank(path: Path) -> tuple[int, str]:
    """Noto Sans first, signs and emoji after all letters, ideographs (the largest file) last."""
    stem = path.name.split("[")[0]
    if path.suffix == ".ttc":
        return 4, stem
    if stem in _LAST:
        return 2 + _LAST.index(stem), stem
    return (0 if stem == "NotoSans.ttf" or stem == "NotoSans" else 1), stem


def _files(package: str) -> list[Path]:
    found = find_spec(package)
    if found is None or found.origin is None:
        return []
    return [path for path in Path(found.origin).parent.iterdir()
            if path.suffix in {".ttf", ".otf", ".ttc"}]  # fmt: skip


@cache
def _face(path: Path, place: int) -> Face:
    import uharfbuzz

    covers = frozenset(uharfbuzz.Face(_blob(path), place).unicodes)
    return Face(path.name.split("[")[0].split(".")[0], path, place, covers)


@cache
def _blob(path: Path) -> uharfbuzz.Blob:
    import uharfbuzz

    return uharfbuzz.Blob.from_file_path(path)


@cache
def _font(path: Path, place: int, weight: float, units: int) -> uharfbuzz.Font:
    import uharfbuzz

    font = uharfbuzz.Font(uharfbuzz.Face(_blob(path), place))
    font.scale = (units, units)
    font.set_variations({"wght": weight})
    return font
