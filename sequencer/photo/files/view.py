"""A small view of a photo and where it is smooth: what reference and light are looked for in."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sequencer.colour import srgb8_to_lab
from sequencer.models import Pixels
from sequencer.photo.files.load import Photo

Floats = NDArray[np.floating]

_SIDE = 660
"""Longest side of a view, at most, in its own pixels: by hand, never fitted."""
_ROWS = 32
"""Rows of the view worked on at a time, for the cache alone: by hand."""


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


def make_view(pixels: Pixels, step: int | None = None) -> View:
    """A view of pixels (h, w, 3), ``step`` of them in one, else as many as keep it small."""
    step = step or max(1, -(-max(pixels.shape[:2]) // _SIDE))
    small = _shrunk(pixels, step)
    lab = np.ascontiguousarray(srgb8_to_lab(small))
    return View(small, lab, _change(lab), step)


def _shrunk(pixels: Pixels, step: int) -> Pixels:
    """Averages of step × step blocks, cut to whole blocks."""
    if step == 1:
        return pixels
    rows, columns = pixels.shape[0] // step, pixels.shape[1] // step
    return np.asarray(Image.fromarray(pixels).reduce(step, (0, 0, columns * step, rows * step)))


def _change(lab: Floats) -> Floats:
    """A mean of three columns less the one two columns on is the outer pairs' difference.

    Some rows at a time, so that all the sums stay in the cache.
    """
    height, width = lab.shape[:2]
    planes = np.pad(np.moveaxis(lab, -1, 0), ((0, 0), (2, 2), (2, 2)), mode="edge")
    change = np.empty((height, width), planes.dtype)
    for first in range(0, height, _ROWS):
        last = min(first + _ROWS, height)
        part = planes[:, first : last + 4]
        across = _apart(part[:, 1:-1].swapaxes(1, 2)).T
        np.maximum(across, _apart(part[:, :, 1:-1]), out=change[first:last])
    np.sqrt(change, out=change)
    change /= 3 * 3
    return change


def _apart(planes: Floats) -> Floats:
    """81 times the squared change (h - 4, w - 2) between 3 × 3 means two rows apart, summed over
    planes."""
    pair = planes[:, :-1] + planes[:, 1:]
    step = pair[:, 3:] - pair[:, :-3]
    three = step[:, :, :-2] + step[:, :, 1:-1]
    three += step[:, :, 2:]
    np.square(three, out=three)
    total: Floats = three[0] + three[1]
    total += three[2]
    return total
