"""Plan and photographed cloth to pictures: the finished piece, the sequence, single swatches."""

from sequencer.render.beside import beside
from sequencer.render.picture import VIEWS, drawn_ppi, picture_size, render
from sequencer.render.sequence import sequence_picture
from sequencer.render.textures import swatch_thumbnail

__all__ = [
    "VIEWS",
    "beside",
    "drawn_ppi",
    "picture_size",
    "render",
    "sequence_picture",
    "swatch_thumbnail",
]
