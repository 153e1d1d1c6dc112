"""Paper, margins, type and the furniture of every page.

Sizes in PostScript points, 72 to the inch (ISO 32000-1, default user space). A4 is 210 × 297 mm
by ISO 216; letter is 8 1/2 × 11 in (ANSI/ASME Y14.1 size A). reportlab's own constant for A4 is
computed from those millimetres.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock
from typing import Any

from reportlab import rl_config
from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
)
from reportlab.platypus.doctemplate import LayoutError

from sequencer.errors import SheetError
from sequencer.sheets.paper.fonts import BOLD, REGULAR, fitted, register

PAPERS: dict[str, tuple[float, float]] = {"letter": letter, "a4": A4}
SIDE = 46.0
"""Left and right margin: wide enough for a hole punch and for printers that keep off 1/2 in."""
TOP, BOTTOM = 62.0, 54.0
INK = black
GREY = Color(0.38, 0.38, 0.38)
PALE = Color(0.9, 0.9, 0.9)
RULE = Color(0.62, 0.62, 0.62)
SMALLEST_TYPE = 9.0
PAGE_COUNT = 100.0
"""Room kept for 'page 123 of 456' beside the title, points."""

register()
BODY = ParagraphStyle(
    "body", fontName=REGULAR, bulletFontName=REGULAR, fontSize=10.5, leading=14.5, textColor=INK,
    allowWidows=0, allowOrphans=0,
)
ITEM = ParagraphStyle("item", BODY, leftIndent=14, bulletIndent=2, spaceAfter=2.5)
CELL = ParagraphStyle("cell", BODY, fontSize=10, leading=12.5)
HEAD_CELL = ParagraphStyle("head cell", CELL, fontName=BOLD, fontSize=9, leading=11)
RIGHT = ParagraphStyle("right", CELL, alignment=TA_RIGHT)
KEY = ParagraphStyle("key", CELL, fontName=BOLD, fontSize=12, leading=14, alignment=TA_CENTER)
SMALL = ParagraphStyle("small", BODY, fontSize=9, leading=11.5, textColor=GREY)
TITLE = ParagraphStyle("title", BODY, fontName=BOLD, fontSize=20, leading=25)
HEADING = ParagraphStyle(
    "heading", BODY, fontName=BOLD, fontSize=15, leading=19, spaceBefore=16, spaceAfter=4
)
SUBHEADING = ParagraphStyle(
    "subheading", BODY, fontName=BOLD, fontSize=11.5, leading=15, spaceBefore=8, spaceAfter=3
)
Story = list[Flowable]


def frame_width(paper: str) -> float:
    """Width between the margins, points."""
    return PAPERS[paper][0] - 2 * SIDE


def frame_height(paper: str) -> float:
    """Height between header and footer, points."""
    return PAPERS[paper][1] - TOP - BOTTOM


class Drawn(Flowable):  # type: ignore[misc]  # reportlab carries no types
    """Something drawn from the lower left corner of its own ``width`` × ``height`` points."""

    canv: Canvas
    width: float
    height: float

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Always its own size, whatever room there is."""
        return self.width, self.height


class Heading(Paragraph):  # type: ignore[misc]
    """A page heading that also becomes a bookmark of the document."""

    def __init__(self, text: str) -> None:
        super().__init__(text, HEADING)
        self._mark = text

    def draw(self) -> None:
        """Draw the heading and set the bookmark."""
        name = f"{self.canv.getPageNumber()}-{self._mark}"
        self.canv.bookmarkPage(name)
        self.canv.addOutlineEntry(self._mark, name)
        super().draw()


def subheading(text: str, room: float = 110) -> Story:
    """A smaller heading, moved to the next page unless ``room`` points are left under it."""
    return [CondPageBreak(room), Paragraph(text, SUBHEADING)]


@dataclass(frozen=True)
class Furniture:
    """What stands on every page: title and footer; ``subject`` goes into the document's data."""

    title: str
    footer: str
    subject: str


def count(story: Story, paper: str, furniture: Furniture, seen: Callable[[Any, Any], None]) -> int:
    """Lay the story out undrawn, which uses it up; how many pages. ``seen`` gets each part and its
    frame.

    Raises:
        SheetError: a part is larger than a page.
    """
    with _told(paper):
        return _Template(io.BytesIO(), paper, furniture, of=0, seen=seen).count(story)


def build(story: Story, paper: str, furniture: Furniture, pages: int) -> bytes:
    """The document's bytes, ``page x of pages`` on each page.

    Same story, same bytes: reportlab's invariant mode takes the clock and the random document
    id away. Viewers are asked to print at 100 %.

    Raises:
        SheetError: a part is larger than a page.
    """
    out = io.BytesIO()
    with _told(paper), _binary_streams():
        _Template(out, paper, furniture, of=pages).build(story)
    return out.getvalue()


@contextmanager
def _told(paper: str) -> Iterator[None]:
    try:
        yield
    except LayoutError as error:
        raise SheetError(
            f"Something on the sheets is larger than a page of {paper} paper. Try the other "
            f"paper, or shorter names. ({str(error).splitlines()[0][:120]})"
        ) from None


_STREAMS = Lock()


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Keep reportlab from spelling pictures out in ASCII: a quarter larger, and half the time.

    The switch is reportlab's own and global, so it is put back, and one document is made at a
    time.
    """
    with _STREAMS:
        before = rl_config.useA85
        rl_config.useA85 = 0
        try:
            yield
        finally:
            rl_config.useA85 = before


class _Counter(Canvas):  # type: ignore[misc]
    """A canvas for the first pass: of parts that run over a page what is drawn is no picture."""

    def drawImage(self, *_: Any, **__: Any) -> None:  # noqa: N802 - reportlab's name
        """Draw nothing."""


def _undrawn(*_: Any, **__: Any) -> None:
    """Where a part lies is known before it is drawn."""


class _Template(BaseDocTemplate):  # type: ignore[misc]
    def __init__(
        self, out: io.BytesIO, paper: str, furniture: Furniture, of: int,
        seen: Callable[[Any, Any], None] = lambda part, frame: None,
    ) -> None:  # fmt: skip
        super().__init__(
            out, pagesize=PAPERS[paper], title=furniture.title, author="Passalong",
            creator="Passalong", subject=furniture.subject, invariant=1,
            initialFontName=REGULAR, pageCompression=1, lang="en", displayDocTitle=1,
            printScaling="None",
        )  # fmt: skip
        frame = Frame(
            SIDE, BOTTOM, frame_width(paper), frame_height(paper),
            leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
        )  # fmt: skip
        self.addPageTemplates(PageTemplate(frames=[frame], onPage=self._furnish))
        self._paper, self._footer, self._of, self._seen = paper, furniture.footer, of, seen

    def afterFlowable(self, part: Any) -> None:  # noqa: N802 - reportlab's name
        """Tell where a part came to lie."""
        self._seen(part, self)

    def count(self, story: Story) -> int:
        for part in story:
            for one in (part, *getattr(part, "_content", ())):
                one.drawOn = _undrawn
        self.build(story, canvasmaker=_Counter)
        return int(self.page)

    def _furnish(self, canvas: Canvas, _doc: Any) -> None:
        width, height = PAPERS[self._paper]
        canvas.saveState()
        canvas.setFont(BOLD, 9.5)
        room = frame_width(self._paper) - PAGE_COUNT
        canvas.drawString(SIDE, height - 42, fitted(str(self.title), room, 9.5, BOLD))
        canvas.setFont(REGULAR, 9.5)
        canvas.drawRightString(
            width - SIDE, height - 42, f"page {canvas.getPageNumber()} of {self._of}"
        )
        canvas.setFont(REGULAR, SMALLEST_TYPE)
        canvas.setFillColor(GREY)
        canvas.drawString(SIDE, 36, self._footer)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        canvas.line(SIDE, height - 48, width - SIDE, height - 48)
        canvas.line(SIDE, 47, width - SIDE, 47)
        canvas.restoreState()
