"""A photograph file → upright, colour-managed sRGB pixels at a size fit for looking.

Pillow decodes (JPEG at reduced size, which costs little more than half of a full decode),
LittleCMS turns the embedded profile into sRGB before anything else happens, EXIF orientation is
applied last. Whatever a damaged or hostile file makes a decoder raise becomes one
:class:`~sequencer.errors.PhotoError` line.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sequencer.models import Pixels


@dataclass(frozen=True, eq=False)
class Photo:
    """One photograph, upright, sRGB.

    ``pixels``: (h, w, 3), the analysis picture, longest side at most 1300. ``full_size``:
    (width, height) of the upright photo in its own pixels. ``factor``: photo pixels for one
    analysis pixel. ``notes``: what was found in the file that a user should know.
    ``managed``: whether the file stated its colour space and it was honoured (else sRGB is
    assumed). ``opaque``: (h, w) True where the photo is not transparent; None when it has no
    transparency. ``detail``: the same picture, ``detail_factor`` photo pixels for one of its
    pixels, finer than or equal to ``pixels``: what swatches are cut from.

    Coordinates count from the outer corner of the top left pixel: pixel i covers i to i + 1, so a
    point of the analysis picture times ``factor`` is the same point of the photo.
    """

    name: str
    stem: str
    pixels: Pixels
    full_size: tuple[int, int]
    factor: float = 1.0
    notes: tuple[str, ...] = ()
    managed: bool = False
    opaque: NDArray[np.bool_] | None = None
    detail: Pixels = field(default=None, repr=False)  # type: ignore[assignment]
    detail_factor: float = 1.0

    def __post_init__(self) -> None:
        if self.detail is None:
            object.__setattr__(self, "detail", self.pixels)
            object.__setattr__(self, "detail_factor", self.factor)


def load(path: str | Path) -> Photo:
    """Read one photograph."""
    raise NotImplementedError
