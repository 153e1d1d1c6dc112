"""The columns drawn to scale: the whole panel, and the tops of its columns with their letters."""

from __future__ import annotations

from reportlab.pdfbase.pdfmetrics import stringWidth

from sequencer.sheets.followed.job import Job
from sequencer.sheets.paper.fonts import BOLD, REGULAR
from sequencer.sheets.paper.layout import INK, RULE, Drawn, Story
from sequencer.sheets.paper.marks import rgb

TALLEST = 230.0
"""Most points that the whole panel takes on the page."""
NUMBERS = 14.0
FINEST_ROWS = 3.0
"""Rows closer than this many points are not ruled: they would run into grey."""
MOST_BANDS = 9
TOP_HEIGHT, COLOUR_HEIGHT = 17.0, 12.0
WIDEST_TOP = 90.0
TIGHT, LOOSE = 2.0, 5.0
"""Room beside the widest letter or number of a top, points."""


class ColumnsOverview(Drawn):
    """The panel to scale: column edges, rows where they are wide enough, the first print black."""

    def __init__(self, job: Job) -> None:
        super().__init__()
        self._plan = job.plan
        across, down = (float(side) for side in job.plan.centre)
        self._scale = min(job.width / across, TALLEST / down)
        self.width, self.height = across * self._scale, down * self._scale + NUMBERS
        self.hAlign = "CENTER"

    def draw(self) -> None:
        """Draw rows, then the first print, then columns and numbers."""
        lefts = self._lefts()
        tops = self._row_heights()
        black = self.canv.beginPath()
        faint = self.canv.beginPath()
        first = self._plan.prints[0]
        for place in range(len(self._plan.columns)):
            x, width = lefts[place], lefts[place + 1] - lefts[place]
            y = self.height
            for row, ident in enumerate(self._prints_down(place)):
                tall = tops[ident]
                y -= tall
                if ident == first:
                    black.rect(x, y, width, tall)
                elif row < self._plan.rows - 1 and tall >= FINEST_ROWS:
                    faint.moveTo(x, y)
                    faint.lineTo(x + width, y)
        self._ink(faint, black)
        self._edges(lefts)
        self._number(lefts)

    def _ink(self, faint: object, black: object) -> None:
        self.canv.setLineWidth(0.3)
        self.canv.setStrokeColor(RULE)
        self.canv.drawPath(faint)
        self.canv.setFillGray(0.1)
        self.canv.drawPath(black, stroke=0, fill=1)

    def _edges(self, lefts: list[float]) -> None:
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.4)
        for x in lefts[1:-1]:
            self.canv.line(x, NUMBERS, x, self.height)
        self.canv.setLineWidth(0.9)
        self.canv.rect(0, NUMBERS, self.width, self.height - NUMBERS)

    def _number(self, lefts: list[float]) -> None:
        self.canv.setFillColor(INK)
        self.canv.setFont(REGULAR, 9)
        free = -1.0
        for place in range(len(lefts) - 1):
            text = str(place + 1)
            wide = stringWidth(text, REGULAR, 9)
            centre = (lefts[place] + lefts[place + 1]) / 2
            if centre - wide / 2 > free and centre + wide / 2 <= self.width + 2:
                self.canv.drawCentredString(centre, 3, text)
                free = centre + wide / 2 + 3

    def _lefts(self) -> list[float]:
        edges = [0.0]
        for column in self._plan.columns:
            edges.append(edges[-1] + float(column.finished_width) * self._scale)
        return edges

    def _row_heights(self) -> dict[str, float]:
        return {ident: float(width) * self._scale
                for ident, width in self._plan.finished_strip.items()}  # fmt: skip

    def _prints_down(self, place: int) -> list[str]:
        return [self._plan.patch_print(row, place) for row in range(self._plan.rows)]


class _Tops(Drawn):
    """Some neighbouring columns' tops: number, letter, and the colour of the top print."""

    def __init__(self, job: Job, places: range, widths: list[float]) -> None:
        super().__init__()
        self._job, self._places, self._widths = job, places, widths
        self.width = sum(widths)
        self.height = NUMBERS + TOP_HEIGHT + COLOUR_HEIGHT + 6

    def draw(self) -> None:
        """Draw the columns from the left."""
        x = 0.0
        for place, width in zip(self._places, self._widths, strict=True):
            top = self._job.plan.patch_print(0, place)
            self.canv.setFillColor(INK)
            self.canv.setFont(REGULAR, 9)
            centre = x + width / 2
            self.canv.drawCentredString(centre, self.height - 10, str(place + 1))
            self.canv.setStrokeColor(INK)
            self.canv.setLineWidth(0.5)
            self.canv.rect(x, 6 + COLOUR_HEIGHT, width, TOP_HEIGHT)
            self.canv.setFont(BOLD, 9.5)
            self.canv.drawCentredString(centre, 6 + COLOUR_HEIGHT + 5, self._job.key(top))
            self.canv.setFillColor(rgb(self._job.prints[top].mean_lab))
            self.canv.rect(x, 6, width, COLOUR_HEIGHT, fill=1)
            x += width


def column_tops(job: Job) -> Story:
    """Bands of column tops, as many as the panel needs at a width where letters fit."""
    widths = _top_widths(job)
    full = job.width + 0.01
    even = sum(widths) / len(_bands(widths, full)) + max(widths) / 2
    ranges = _bands(widths, min(full, even))
    if len(ranges) > len(_bands(widths, full)):
        ranges = _bands(widths, full)
    return [_Tops(job, places, widths[places.start : places.stop]) for places in ranges]


def _bands(widths: list[float], room: float) -> list[range]:
    """Neighbours put together from the left for as long as they fit the room."""
    bands: list[range] = []
    start, used = 0, 0.0
    for place, width in enumerate(widths):
        if place > start and used + width > room:
            bands.append(range(start, place))
            start, used = place, 0.0
        used += width
    return [*bands, range(start, len(widths))]


def _top_widths(job: Job) -> list[float]:
    finished = [float(column.finished_width) for column in job.plan.columns]
    keys = [job.key(job.plan.patch_print(0, place)) for place in range(len(finished))]
    numbers = [str(place + 1) for place in range(len(finished))]
    words = max(
        *(stringWidth(key, BOLD, 9.5) for key in keys),
        *(stringWidth(number, REGULAR, 9) for number in numbers),
    )
    whole = job.width / sum(finished)
    if words + TIGHT <= whole * min(finished):
        return [width * min(whole, WIDEST_TOP / min(finished)) for width in finished]
    scale = (words + LOOSE) / min(finished)
    if sum(finished) * scale <= MOST_BANDS * job.width * 0.9 and max(finished) * scale <= job.width:
        return [width * scale for width in finished]
    return [words + 2 * LOOSE] * len(finished)
