"""The photographed scraps with the numbers they go by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PIL import Image
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Paragraph, Spacer

from sequencer.models import Pixels
from sequencer.sheets.followed.job import Job, marked
from sequencer.sheets.paper.fonts import BOLD
from sequencer.sheets.paper.layout import BODY, SMALL, Drawn, Story, frame_height
from sequencer.sheets.paper.pictures import draw_picture, jpeg
from sequencer.sheets.paper.sections import Section

Outline = Sequence[tuple[float, float]]
MOST_PHOTOS = 8
SMALLEST = 200.0
SIDE = 1300
"""Longest side of the picture that goes into the document, pixels."""


@dataclass(frozen=True)
class TablePhoto:
    """A photograph turned upright: sRGB (h, w, 3), ``factor`` photo pixels for one of these.

    ``finds``: print id and outline in the photo's own pixels.
    """

    name: str
    pixels: Pixels
    factor: float
    finds: tuple[tuple[str, Outline], ...]


def table_photos(job: Job, photos: Sequence[TablePhoto]) -> Section | None:
    """The section; None without a photo that shows scraps of the plan."""
    shown = [one for one in photos if any(id_ in job.keys for id_, _ in one.finds)][:MOST_PHOTOS]
    if not shown:
        return None
    story: Story = [Paragraph(
        "Every sheet calls a scrap by these letters and numbers: write them on a slip and pin it "
        "to the scrap before you put the table away.", BODY,
    ), Spacer(0, 6)]  # fmt: skip
    room = (frame_height(job.paper) - 90) / min(2, len(shown)) - 24
    for one in shown:
        picture = _Numbered(one, _labels(job), job.width, max(SMALLEST, room))
        picture.hAlign = "CENTER"
        story += [picture, Paragraph(marked(one.name), SMALL), Spacer(0, 8)]
    return Section("Your scraps and their numbers", story)


def _labels(job: Job) -> dict[str, str]:
    """A print's label in the photo: C1, or C1 – C3 where several scraps of it are known."""
    counts = {need.print: max((use.scrap + 1 for use in need.scraps), default=1)
              for need in job.plan.fabric}  # fmt: skip
    return {
        ident: f"{key}1" if counts.get(ident, 1) == 1 else f"{key}1 – {key}{counts[ident]}"
        for ident, key in job.keys.items()
    }


class _Numbered(Drawn):
    """A photo with the outlines of its finds and their labels; other finds stay unmarked."""

    def __init__(
        self, photo: TablePhoto, labels: Mapping[str, str], width: float, height: float
    ) -> None:
        super().__init__()
        high, wide = photo.pixels.shape[:2]
        scale = min(width / wide, height / high)
        self.width, self.height = wide * scale, high * scale
        self._scale = scale / photo.factor
        self._finds = [(labels[id_], outline) for id_, outline in photo.finds if id_ in labels]
        picture = Image.fromarray(photo.pixels)
        picture.thumbnail((SIDE, SIDE))
        self._data = jpeg(picture)

    def draw(self) -> None:
        """Draw the photo, then white and black outlines, then the labels on white."""
        canvas = self.canv
        draw_picture(canvas, self._data, 0, 0, self.width, self.height)
        canvas.saveState()
        for _, outline in self._finds:
            path = canvas.beginPath()
            points = [self._at(point) for point in outline]
            path.moveTo(*points[0])
            for point in points[1:]:
                path.lineTo(*point)
            path.close()
            for grey, weight in ((1, 2.2), (0, 0.9)):
                canvas.setStrokeGray(grey)
                canvas.setLineWidth(weight)
                canvas.drawPath(path, stroke=1, fill=0)
        canvas.restoreState()
        for label, outline in self._finds:
            self._label(label, outline)

    def _at(self, point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * self._scale, self.height - point[1] * self._scale

    def _label(self, label: str, outline: Outline) -> None:
        xs, ys = zip(*(self._at(point) for point in outline), strict=True)
        x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
        wide = stringWidth(label, BOLD, 12) + 6
        canvas = self.canv
        canvas.saveState()
        canvas.setFillGray(1)
        canvas.setStrokeGray(0)
        canvas.setLineWidth(0.6)
        canvas.rect(x - wide / 2, y - 8, wide, 16, fill=1)
        canvas.setFillGray(0)
        canvas.setFont(BOLD, 12)
        canvas.drawCentredString(x, y - 4.3, label)
        canvas.restoreState()
