"""Photographs that cannot be measured, and those that can only be measured badly.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.errors import PhotoError
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo

_EACH, _BRIGHTEST, _STEEPEST = 4, 99, 0.997
"""Analysis pixels each way of which one is looked at; percentile of them that is the brightest, and
share of steps that the steepest exceeds."""
_BLACK = 24
"""8-bit value of the brightest hundredth's brightest channel below which a photo is refused."""
_DARK = 60
"""The same below which it is called very dark."""
_WHITE, _BLOWN = 250, 0.9
"""8-bit value from which a channel is near white; share of pixels with all of them so beyond which
a photo is refused."""
_SMALL = 400
"""Photo pixels of the longer side below which it is called small."""
_SHARP = 0.18
"""Steepest step at full detail, as a share of the coarse copy's, below which it is blurred."""
_STEP_SEEN = 6.0
"""Steepest step of the coarse copy, 8-bit values of green, up to which blur is not told."""
_COARSER, _EVERY, _FEWEST = 8, 16, 16
"""Finest pixels in one of the coarse copy; of how many lines at full detail one is looked at;
pixels of the coarse copy's shorter side with which blur is not told."""


def check_quality(photo: Photo) -> tuple[str, ...]:
    """Warnings about a photo that is dark, blurred or small.

    Raises:
        PhotoError: nearly black, or so overexposed that no colour is left.
    """
    few = photo.pixels[::_EACH, ::_EACH]
    brightest = np.maximum(np.maximum(few[..., 0], few[..., 1]), few[..., 2])
    if photo.opaque is not None:
        brightest = brightest[photo.opaque[::_EACH, ::_EACH]]
        if not brightest.size:
            raise PhotoError(photo.name, "the whole picture is transparent: no cloth in it")
    top = float(np.percentile(brightest, _BRIGHTEST))
    if top < _BLACK:
        raise PhotoError(photo.name, "nearly black: no colour can be measured; use more light")
    if photo.opaque is None and float((few >= _WHITE).all(axis=-1).mean()) > _BLOWN:
        raise PhotoError(
            photo.name, "overexposed to white: no colour is left; photograph it with less light"
        )
    notes = []
    if top < _DARK:
        notes.append("a very dark photo: its colours are uncertain; use more light")
    if max(photo.full_size) < _SMALL:
        width, height = photo.full_size
        notes.append(f"only {width} × {height} pixels: colours are rough; use the original photo")
    if _is_blurred(photo):
        notes.append(
            "the photo is blurred: prints with small figures read as more mixed than they are; "
            "hold the camera still and tap the cloth to focus"
        )
    return tuple(notes)


def _is_blurred(photo: Photo) -> bool:
    """Whether the steepest edges, seen at full detail, are still slopes.

    The steepest gradients are compared with those of a copy eight times coarser: the same for a
    sharp edge, an eighth for an edge many pixels wide. Soft prints have slopes of their own, so
    that only wide blur is called so.
    """
    grey = photo.finest[0][..., 1]
    if min(grey.shape) < _FEWEST * _COARSER:
        return False
    ratio = max(1, round(photo.factor / photo.finest[1]))
    coarse = np.asarray(Image.fromarray(photo.pixels).reduce(max(1, _COARSER // ratio)))[..., 1]
    steep = _steepest(coarse, 1)
    return steep > _STEP_SEEN and _steepest(grey, _EVERY) < _SHARP * steep


def _steepest(grey: Pixels, every: int) -> float:
    """The 99.7th percentile of the step from a pixel to the next, both ways, on some lines."""
    rows, columns = grey[::every].astype(np.int16), grey[:, ::every].astype(np.int16)
    steps = np.diff(rows, axis=1), np.diff(columns, axis=0)
    return max(_percentile(np.abs(step).ravel()) for step in steps)


def _percentile(steps: NDArray[np.int16]) -> float:
    """99.7th percentile of small whole numbers, interpolated within its count."""
    counts = np.cumsum(np.bincount(steps))
    wanted = _STEEPEST * counts[-1]
    k = int(np.searchsorted(counts, wanted))
    before = counts[k - 1] if k else 0
    return k - 0.5 + float((wanted - before) / max(counts[k] - before, 1))
