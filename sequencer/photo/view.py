"""A small view of a photo and where it is smooth: what reference and light are looked for in."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from sequencer.colour import srgb8_to_lab
from sequencer.models import Pixels
from sequencer.photo.load import Photo

Floats = NDArray[np.floating]

_SIDE = 660


@dataclass(frozen=True, eq=False)
class View:
    """``pixels`` (h, w, 3): averages of ``step`` × ``step`` analysis pixels; ``lab``: of those.

    ``change`` (h, w): CIE76 change of the 3 × 3 mean over two pixels, the larger of across and
    down. It is small inside a patch of one colour and large on borders, weave and print.
    """

    pixels: Pixels
    lab: Floats
    change: Floats
    step: int


_views: WeakKeyDictionary[Photo, View] = WeakKeyDictionary()


def view_of(photo: Photo) -> View:
    """The view of a photo, made once."""
    view = _views.get(photo)
    if view is None:
        view = _views[photo] = make_view(photo.pixels)
    return view


def make_view(pixels: Pixels) -> View:
    """A view of analysis pixels (h, w, 3)."""
    step = max(1, -(-max(pixels.shape[:2]) // _SIDE))
    small = _shrunk(pixels, step)
    lab = np.ascontiguousarray(srgb8_to_lab(small))
    return View(small, lab, _change(lab), step)


def _shrunk(pixels: Pixels, step: int) -> Pixels:
    """Averages of step × step blocks, cut to whole blocks."""
    if step == 1:
        return pixels
    rows, columns = pixels.shape[0] // step, pixels.shape[1] // step
    total = np.zeros((rows, columns, 3), dtype=np.uint32)
    for down in range(step):
        for across in range(step):
            total += pixels[down : rows * step : step, across : columns * step : step]
    return ((total + step * step // 2) // (step * step)).astype(np.uint8)


def _change(lab: Floats) -> Floats:
    from scipy.ndimage import uniform_filter

    calm = uniform_filter(lab, size=(3, 3, 1), mode="nearest")
    change = np.zeros(calm.shape[:2], dtype=calm.dtype)
    change[:, 1:-1] = np.square(calm[:, 2:] - calm[:, :-2]).sum(axis=-1)
    down = np.square(calm[2:] - calm[:-2]).sum(axis=-1)
    change[1:-1] = np.maximum(change[1:-1], down)
    return np.asarray(np.sqrt(change))
