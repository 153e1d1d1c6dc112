"""Photographs of cloth and of the finished piece, as they go on paper."""

from __future__ import annotations

import io

from PIL import Image as PillowImage
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from sequencer.models import Plan, Print
from sequencer.sheets.layout import INK, Drawn

POINTS = 72
PAPER_PPI = 200
"""Pixels for an inch of paper: what a household printer resolves in a photograph."""
QUALITY = 90


class Picture(Drawn):
    """A picture ``width`` × ``height`` points, with a hairline so that pale cloth has an edge."""

    def __init__(self, picture: PillowImage.Image, width: float, height: float) -> None:
        super().__init__()
        self.width, self.height = width, height
        self._data = jpeg(picture)

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


def thumbnail(cloth: Print, width: float, height: float) -> PillowImage.Image:
    """A print's cloth for a place of ``width`` × ``height`` points."""
    from sequencer.render import swatch_thumbnail

    across, down = (max(2, round(side * PAPER_PPI / POINTS)) for side in (width, height))
    return swatch_thumbnail(cloth, across, down)


def finished_piece(
    plan: Plan, prints: list[Print], width: float, height: float
) -> tuple[PillowImage.Image, float, float]:
    """The rendered piece and the points it takes, as large as fits ``width`` × ``height``."""
    from sequencer.render import render

    across, down = (float(side) for side in plan.bordered)
    scale = min(width / across, height / down)
    picture = render(plan, prints, ppi=scale * PAPER_PPI / POINTS, view="colour")
    return picture, across * scale, down * scale
