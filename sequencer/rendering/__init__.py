"""Plan and photographed cloth to pictures: the finished piece, the sequence, single swatches."""

from sequencer.rendering.beside import beside
from sequencer.rendering.picture import VIEWS, drawn_ppi, picture_size, render
from sequencer.rendering.sequence import sequence_picture
from sequencer.rendering.textures import swatch_thumbnail

__all__ = [
    "VIEWS",
    "beside",
    "drawn_ppi",
    "picture_size",
    "render",
    "sequence_picture",
    "swatch_thumbnail",
]
