"""A photograph file → upright, colour-managed sRGB pixels at a size fit for looking.

Pillow decodes (JPEG at reduced size, which costs little more than half of a full decode),
LittleCMS turns the embedded profile into sRGB before anything else happens, EXIF orientation is
applied last. Whatever a damaged or hostile file makes a decoder raise becomes one
:class:`~sequencer.errors.PhotoError` line.

Constants below are by hand, never fitted, unless they say otherwise.
"""

from __future__ import annotations

import math
import threading
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from sequencer.errors import PhotoError
from sequencer.models import Pixels
from sequencer.photo.files.opening import (
    bomb,
    check_size,
    open_picture,
    refuse_at_the_door,
    unrecognised,
)
from sequencer.photo.files.profile import eight_bit, states_srgb, to_srgb
from sequencer.photo.files.stated import camera_of, equivalent, frame_notes, orientation

ANALYSIS_SIDE = 1300
"""Longest side of the analysis picture, at most, in its own pixels."""
DETAIL_SIDE = 2600
"""The same of the finer picture that swatches and straight sides are taken from."""
_DRAFTS, _DRAFT_FILLS = (8, 4, 2), 0.6
"""Reductions that JPEG decoders offer, largest first; share of DETAIL_SIDE that one must still
fill: by hand, never fitted."""
_BIG = 30_000_000
"""Photo pixels beyond which pictures that decode only whole wait for each other."""
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What turns each EXIF orientation upright (CIPA DC-008, tag 274)."""

_SAME_SHAPE = (
    Image.Transpose.FLIP_LEFT_RIGHT,
    Image.Transpose.FLIP_TOP_BOTTOM,
    Image.Transpose.ROTATE_180,
)
"""Turns that leave width and height as they are."""
_SOLID = 250
"""Alpha, of 255, from which a pixel counts as opaque."""

_one_big_at_a_time = threading.Lock()


@dataclass(frozen=True, eq=False)
class Photo:
    """One photograph, upright, sRGB.

    ``pixels``: (h, w, 3), the analysis picture, longest side at most 1300. ``full_size``:
    (width, height) of the upright photo in its own pixels. ``factor``: photo pixels for one
    analysis pixel. ``notes``: what was found in the file that a user should know.
    ``managed``: whether the file stated its colour space and it was honoured (else sRGB is
    assumed). ``opaque``: (h, w) True where the photo is not transparent; None when it has no
    transparency. ``detail``: the same picture, finer, ``detail_factor`` photo pixels for one of
    its pixels: what swatches are cut from. ``taken_by``: make, model and lens as the file states
    them, empty where it does not. ``equivalent``: focal length for 35 mm film as the file
    states it, None where it does not.

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
    detail: Pixels | None = None
    detail_factor: float = 1.0
    equivalent: float | None = None
    taken_by: tuple[str, str, str] = ("", "", "")

    @property
    def finest(self) -> tuple[Pixels, float]:
        """The finest pixels kept, and how many photo pixels one of them stands for."""
        if self.detail is None:
            return self.pixels, self.factor
        return self.detail, self.detail_factor


@dataclass(frozen=True, eq=False)
class _Decoded:
    """What the decoder gave: upright picture at detail size and what the file says of itself."""

    image: Image.Image
    full_size: tuple[int, int]
    scale: int
    notes: tuple[str, ...]
    icc: bytes | None
    states_srgb: bool
    equivalent: float | None
    taken_by: tuple[str, str, str]


def load(path: str | Path) -> Photo:
    """Read one photograph: first frame, upright, in sRGB, at analysis and at detail size.

    Raises:
        PhotoError: missing, a folder, empty, not a picture, damaged, too large or too small; the
            message says which.
    """
    path = Path(path)
    refuse_at_the_door(path)
    decoded = _decode(path)
    rgb, managed, notes = to_srgb(decoded.image, decoded.icc)
    detail = np.asarray(rgb)
    step = max(1, math.ceil(max(rgb.size) / ANALYSIS_SIDE))
    small = rgb.reduce(step) if step > 1 else rgb
    return Photo(
        name=path.name,
        stem=path.stem,
        pixels=np.asarray(small),
        full_size=decoded.full_size,
        factor=float(decoded.scale * step),
        notes=decoded.notes + notes,
        managed=managed or decoded.states_srgb,
        opaque=_opaque(decoded.image, small.size),
        detail=detail,
        detail_factor=float(decoded.scale),
        equivalent=decoded.equivalent,
        taken_by=decoded.taken_by,
    )


def _decode(path: Path) -> _Decoded:
    try:
        with open_picture(path) as image:
            check_size(path, image)
            with _turn_to_decode(image):
                return _upright(image)
    except PhotoError:
        raise
    except Image.DecompressionBombError:
        raise PhotoError(path.name, bomb("far more")) from None
    except UnidentifiedImageError:
        raise PhotoError(path.name, unrecognised(path)) from None
    except MemoryError:
        why = "too large for this computer's memory; save it smaller"
        raise PhotoError(path.name, why) from None
    except Exception as error:  # decoders raise nearly anything on hostile files
        why = " ".join(str(error).split())[:80] or type(error).__name__
        raise PhotoError(
            path.name, f"damaged or cut short ({why}); copy it from the camera again"
        ) from None


def _turn_to_decode(image: Image.Image) -> AbstractContextManager[object]:
    """Pictures that decode only at full size and are large wait for each other, to save memory."""
    whole = image.format not in ("JPEG", "MPO")
    return _one_big_at_a_time if whole and image.width * image.height > _BIG else nullcontext()


def _upright(image: Image.Image) -> _Decoded:
    notes = frame_notes(image)
    marked = states_srgb(image)
    size, drafted = image.size, _draft(image)
    image.load()
    if drafted == 1:
        size = image.size  # a TIFF turns itself upright while loading
    plain = eight_bit(image)
    step = max(1, math.ceil(max(plain.size) / DETAIL_SIDE))
    small = plain.reduce(step) if step > 1 else plain
    turn = _TURNS.get(orientation(image))
    if turn is not None:
        small = small.transpose(turn)
        size = size if turn in _SAME_SHAPE else size[::-1]
    icc = image.info.get("icc_profile")
    return _Decoded(
        small, size, drafted * step, notes, icc, marked, equivalent(image), camera_of(image)
    )


def _draft(image: Image.Image) -> int:
    """Ask a JPEG for a reduced decode that still fills DETAIL_SIDE; the reduction it grants."""
    if image.format not in ("JPEG", "MPO"):
        return 1
    width, height = image.size
    wanted = next((s for s in _DRAFTS if max(width, height) / s >= DETAIL_SIDE * _DRAFT_FILLS), 1)
    if wanted == 1:
        return 1
    image.draft(None, (width // wanted, height // wanted))
    return round(width / image.size[0])


def _opaque(image: Image.Image, size: tuple[int, int]) -> NDArray[np.bool_] | None:
    if image.mode not in ("RGBA", "LA"):
        return None
    alpha = image.getchannel("A")
    if int(np.asarray(alpha).min()) >= _SOLID:
        return None
    return np.asarray(alpha.resize(size, Image.Resampling.BOX)) >= _SOLID
