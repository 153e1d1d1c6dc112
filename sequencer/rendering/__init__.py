"""Plan and photographed cloth to pictures: the finished piece, the sequence, single swatches."""

from sequencer.rendering.beside import beside
from sequencer.rendering.patchwork import sew
from sequencer.rendering.picture import (
    BAND_VIEWS,
    VIEWS,
    bands,
    cloth_seen,
    drawn_ppi,
    frame,
    picture_size,
    render,
)
from sequencer.rendering.placing import Geometry, geometry, page_ppi
from sequencer.rendering.sequence import sequence_picture
from sequencer.rendering.textures import swatch_thumbnail

__all__ = [
    "BAND_VIEWS",
    "VIEWS",
    "Geometry",
    "bands",
    "beside",
    "cloth_seen",
    "drawn_ppi",
    "frame",
    "geometry",
    "page_ppi",
    "picture_size",
    "render",
    "sequence_picture",
    "sew",
    "swatch_thumbnail",
]
