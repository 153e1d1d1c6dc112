"""Photographs of cloth and of the finished piece, as they go on paper."""

from __future__ import annotations

import io
from collections.abc import Mapping

from PIL import Image as PillowImage
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from sequencer.models import Plan, Print
from sequencer.sheets.paper.layout import INK, Drawn

POINTS = 72
PAPER_PPI = 200
"""Pixels for an inch of paper: what a household printer resolves in a photograph."""
QUALITY = 90


class Gallery:
    """JPEG pictures of the prints and of the piece; each is drawn once and kept.

    The document is laid out twice, and a print shows on several pages at the same size.
    """

    def __init__(self, plan: Plan, prints: Mapping[str, Print]) -> None:
        self._plan, self._prints = plan, prints
        self._cloth: dict[tuple[str, int, int], bytes] = {}
        self._piece: dict[float, bytes] = {}

    def cloth(self, ident: str, width: float, height: float) -> bytes:
        """A print's cloth for a place of ``width`` × ``height`` points."""
        from sequencer.rendering import swatch_thumbnail

        across, down = (max(2, round(side * PAPER_PPI / POINTS)) for side in (width, height))
        wanted = (ident, across, down)
        if wanted not in self._cloth:
            self._cloth[wanted] = jpeg(swatch_thumbnail(self._prints[ident], across, down))
        return self._cloth[wanted]

    def piece(self, width: float, height: float) -> Picture:
        """The finished piece, as large as fits ``width`` × ``height`` points."""
        from sequencer.rendering import picture_size, render

        across, down = (float(side) for side in picture_size(self._plan))
        scale = min(width / across, height / down)
        if scale not in self._piece:
            ppi = scale * PAPER_PPI / POINTS
            prints = list(self._prints.values())
            self._piece[scale] = jpeg(render(self._plan, prints, ppi=ppi, view="colour"))
        return Picture(self._piece[scale], across * scale, down * scale)

    def swatch(self, ident: str, width: float, height: float) -> Picture:
        """A print's cloth as a picture to place on the page."""
        return Picture(self.cloth(ident, width, height), width, height)


class Picture(Drawn):
    """JPEG bytes at ``width`` × ``height`` points, with a hairline: pale cloth needs an edge."""

    def __init__(self, data: bytes, width: float, height: float) -> None:
        super().__init__()
        self.width, self.height = width, height
        self._data = data

    def draw(self) -> None:
        """Draw the picture at the lower left of the frame."""
        draw_picture(self.canv, self._data, 0, 0, self.width, self.height)


def jpeg(picture: PillowImage.Image) -> bytes:
    """The picture as JPEG bytes (ISO/IEC 10918-1), which a PDF embeds as they are."""
    out = io.BytesIO()
    picture.convert("RGB").save(out, "JPEG", quality=QUALITY, subsampling=0, dpi=(72, 72))
    return out.getvalue()


def draw_picture(
    canvas: Canvas, data: bytes, x: float, y: float, width: float, height: float
) -> None:
    """Draw JPEG bytes with a hairline round them."""
    canvas.drawImage(ImageReader(io.BytesIO(data)), x, y, width, height)
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.4)
    canvas.rect(x, y, width, height)
    canvas.restoreState()
