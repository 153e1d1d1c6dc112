"""Pictures that no camera took of one thing: screenshots, drawings, several photos put together.

A sensor has noise and a lens blurs: even a plain wall gives no large area of exactly one value, and
no edge runs along a pixel column from end to end and is over within it. What is only seen so is
said, never refused. Limits were chosen between 47 real pictures, 54 simulated ones and 17 made
screenshots, drawings and collages, each as PNG and as JPEG of quality 85 and 60.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels
from sequencer.photo.files.load import Photo

Floats = NDArray[np.floating]

_BLOCK = 16
"""Side in pixels of a block that is exactly one value, or is not."""
_PACKED = np.array([1 << 16, 1 << 8, 1])  # three 8-bit values as one number
_PLACES = sorted(np.ndindex(_BLOCK, _BLOCK), key=lambda at: at[0] != at[1])
"""In a block, its diagonal first: a few of them tell a photograph."""
_LEAST = 0.3
"""Share of such blocks below which nothing is said."""
_ONE_VALUE, _MANY_VALUES = 0.3, 0.6
"""Share of blocks in the commonest exact value, and in all; real photographs at most .05 and .25,
smooth simulated ones saved as JPEG of quality 60 .28 and .52."""
_WHITE, _BLACK = 252, 3
"""Beyond these a sensor is full or empty, and one exact value says little:"""
_ONE_EMPTY, _EMPTY_AND_MORE = 0.5, 0.3
"""share of blocks that are; the less of it, the more must be of other exact values,"""
_MORE = 0.04
"""a share of blocks. Real photographs: at most .31 empty, and .02 beside it."""
_SEAM = 0.65
"""Share of a line across the picture that a seam fills; real photographs at most .56."""
_STEP, _TIMES = 6, 2
"""A seam's step: so many values, all channels, over so many times the steps beside it."""
_MARGIN = 25
"""Part of the picture at its edges where a seam is a frame's."""
_LINES, _FIRST, _PERHAPS = 150, 30, 0.4
"""Lines across which seams are looked for; the few that are looked at first, and the share of those
that a seam fills at least."""
_MANY = 8
"""More seams than this in one direction are stripes of something printed by a computer."""

_DRAWN = (
    "this looks like a screenshot or a drawing, not a photograph: large parts are of exactly one "
    "colour, as no camera takes them; if it is one, leave it out and photograph the cloth itself"
)
_TOGETHER = (
    "this looks like several pictures put together: a straight seam runs through all of it; if it "
    "is so, leave it out and give each photograph by itself"
)


def doubt_of(photo: Photo) -> tuple[str, ...]:
    """What makes a picture look like no photograph of cloth, in words; empty for most."""
    if photo.opaque is not None:
        return ()
    pixels = photo.finest[0]
    if min(pixels.shape[:2]) < 4 * _BLOCK:
        return ()
    if _of_one_value(pixels):
        return (_DRAWN,)
    return (_TOGETHER,) if any(_seams(pixels, axis) for axis in (0, 1)) else ()


def _of_one_value(pixels: Pixels) -> bool:
    height, width = (n // _BLOCK for n in pixels.shape[:2])
    first = pixels[: height * _BLOCK : _BLOCK, : width * _BLOCK : _BLOCK]
    flat = np.ones((height, width), bool)
    for row, column in _PLACES:
        here = pixels[row::_BLOCK, column::_BLOCK][:height, :width]
        flat &= (here == first).all(axis=2)
        if flat.mean() < _LEAST:
            return False
    values = first[flat]
    empty = (values.min(axis=1) >= _WHITE) | (values.max(axis=1) <= _BLACK)
    other = values[~empty].astype(np.int64) @ _PACKED
    commonest = np.unique(other, return_counts=True)[1].max(initial=0) / flat.size
    nothing, more = empty.sum() / flat.size, len(other) / flat.size
    return bool(
        commonest > _ONE_VALUE
        or more > _MANY_VALUES
        or nothing > _ONE_EMPTY
        or (nothing > _EMPTY_AND_MORE and more > _MORE)
    )


def _seams(pixels: Pixels, axis: int) -> bool:
    """Whether one to a few lines between two rows (axis 0) or columns part the whole picture.

    Only every few lines across are looked at: a seam crosses them all.
    """
    across = pixels if axis == 0 else pixels.swapaxes(0, 1)
    if _filled(across, _FIRST).max() < _PERHAPS:
        return False
    return 0 < int(np.count_nonzero(_filled(across, _LINES) > _SEAM)) <= _MANY


def _filled(across: Pixels, lines: int) -> Floats:
    """Share of some lines down a picture on which each row is a step, its margins left out."""
    some = across[:, :: max(1, across.shape[1] // lines)].astype(np.int16)
    steps = np.abs(np.diff(some, axis=0)).sum(axis=2, dtype=np.int16)
    beside = np.maximum(steps[:-2], steps[2:])
    share: Floats = (steps[1:-1] > _TIMES * beside + _STEP).mean(axis=1)
    margin = max(2, len(share) // _MARGIN)
    return share[margin:-margin]
