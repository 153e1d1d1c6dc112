"""Where the ink of a PDF page lies: a reader of page content for the tests of the sheets.

Follows the operators of ISO 32000-1 (annex A) that the sheets use, with the transformation and
text matrices of clauses 8.3 and 9.4, and knows nothing of the code that drew the page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

Matrix = tuple[float, float, float, float, float, float]
Box = tuple[float, float, float, float]
ONE: Matrix = (1, 0, 0, 1, 0, 0)


def times(a: Matrix, b: Matrix) -> Matrix:
    """a then b (row vectors, as in clause 8.3.4)."""
    return (
        a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4], a[4] * b[1] + a[5] * b[3] + b[5],
    )  # fmt: skip


def point(m: Matrix, x: float, y: float) -> tuple[float, float]:
    return m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]


def around(m: Matrix, corners: list[tuple[float, float]]) -> Box:
    xs, ys = zip(*(point(m, x, y) for x, y in corners), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@dataclass
class Run:
    """One shown string: its box from baseline descent to cap height, and its type size."""

    box: Box
    size: float
    raw: str


@dataclass
class Ink:
    """All that a page shows, in points from its lower left corner."""

    runs: list[Run] = field(default_factory=list)
    rects: list[Box] = field(default_factory=list)
    marks: list[Box] = field(default_factory=list)
    images: list[Box] = field(default_factory=list)

    def boxes(self) -> list[Box]:
        return [*(run.box for run in self.runs), *self.rects, *self.marks, *self.images]


def ink_of(page: PageObject, reader: PdfReader) -> Ink:
    """Read a page's operators."""
    ink, fonts = Ink(), page["/Resources"]["/Font"]
    ctm, stack = ONE, []
    text = line = ONE
    font, size, leading, word_space = "", 0.0, 0.0, 0.0
    path: list[tuple[float, float]] = []
    for given, operator in ContentStream(page["/Contents"], reader).operations:
        op = operator.decode()
        v: list[Any] = list(given)
        if op == "q":
            stack.append(ctm)
        elif op == "Q":
            ctm = stack.pop()
        elif op == "cm":
            ctm = times(tuple(map(float, v)), ctm)  # type: ignore[arg-type]
        elif op == "BT":
            text = line = ONE
        elif op == "Tm":
            text = line = tuple(map(float, v))  # type: ignore[assignment]
        elif op == "Td":
            text = line = times((1, 0, 0, 1, float(v[0]), float(v[1])), line)
        elif op == "T*":
            text = line = times((1, 0, 0, 1, 0, -leading), line)
        elif op == "TL":
            leading = float(v[0])
        elif op == "Tf":
            font, size = str(v[0]), float(v[1])
        elif op in {"Tj", "TJ"}:
            for part in v[0] if op == "TJ" else [v[0]]:
                if isinstance(part, (str, bytes)):
                    width = wide(fonts[font].get_object(), part) * size / 1000
                    width += str(part).count(" ") * word_space
                    if str(part).strip() and width:
                        box = around(times(text, ctm), corners(0, -0.2 * size, width, 0.92 * size))
                        ink.runs.append(Run(box, size, str(part)))
                    text = times((1, 0, 0, 1, width, 0), text)
                else:
                    text = times((1, 0, 0, 1, -float(part) * size / 1000, 0), text)
        elif op == "re":
            x, y, w, h = map(float, v)
            ink.rects.append(around(ctm, corners(x, y, w, h)))
        elif op in {"m", "l"}:
            path.append(point(ctm, float(v[0]), float(v[1])))
        elif op == "c":
            path += [point(ctm, float(v[i]), float(v[i + 1])) for i in (0, 2, 4)]
        elif op in {"S", "s", "f", "F", "f*", "B", "B*", "b", "b*"}:
            if path:
                ink.marks.append(around(ONE, path))
            path = []
        elif op == "n":
            path = []
        elif op == "Do":
            ink.images.append(around(ctm, corners(0, 0, 1, 1)))
        elif op == "Tw":
            word_space = float(v[0])
        elif op in {"'", '"', "Tc", "Tz", "Ts"}:
            raise AssertionError(f"this reader does not follow {op}")
    return ink


def corners(x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    return [(x, y), (x + w, y), (x, y + h), (x + w, y + h)]


def wide(font: Any, shown: str | bytes) -> float:
    """Width of a string in thousandths of the type size, from the font's own table (9.2.4)."""
    codes = shown if isinstance(shown, bytes) else shown.encode("latin-1", "replace")
    first = int(font["/FirstChar"])
    widths = font["/Widths"]
    return sum(float(widths[code - first]) for code in codes)


def overlap(a: Box, b: Box) -> bool:
    """Whether two boxes share more than half a point both ways."""
    slack = 0.5
    return (
        min(a[2], b[2]) - max(a[0], b[0]) > slack and min(a[3], b[3]) - max(a[1], b[1]) > slack
    )
