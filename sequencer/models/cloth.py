"""Photo → prints: colours, swatches, prints, and what else a photograph shows."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import numpy as np

from sequencer.errors import PieceError
from sequencer.files import fingerprint, read_ordinary
from sequencer.kept import Kept
from sequencer.models.plainly import Json, Lab, Pixels, maybe, plain, rounded
from sequencer.models.png import png_of


@dataclass(frozen=True)
class PaletteColour:
    """One colour of a print: ``share`` of the cloth in (0, 1], ``name`` in plain words."""

    lab: Lab
    share: float
    name: str = ""

    def to_json(self) -> Json:
        """The contract's object, with the plain name beside it."""
        return {"lab": rounded(self.lab), "share": round(self.share, 6), "name": self.name}


class Swatch:
    """A rectangle of photographed cloth for the render: sRGB, (h, w, 3), upright.

    ``source``: the pixels, a PNG of them, or the file that holds it, which is decoded when it is
    looked at: a box of sixty prints can be opened without sixty pictures. ``ppi``: pixels for an
    inch of cloth; None where the photo has no scale. ``matrix``: XYZ to XYZ, row by row, that
    brings the source's colours to the print's when it is looked at; None where nothing does.
    ``content``: the fingerprint that a file's bytes must have, so that no other cloth is shown.
    """

    def __init__(
        self,
        source: Pixels | bytes | Path,
        ppi: float | None = None,
        matrix: tuple[float, ...] | None = None,
        content: str | None = None,
    ) -> None:
        self.source = source
        self.ppi = ppi
        self.matrix = matrix
        self.content = content

    @property
    def pixels(self) -> Pixels:
        """(h, w, 3) sRGB.

        Raises:
            PieceError: the file it is kept in is gone, damaged or another one.
        """
        if isinstance(self.source, np.ndarray):
            return _coloured(self.source, self.matrix)
        source, matrix, content = self.source, self.matrix, self.content
        return _SEEN.get((source, matrix, content), lambda: _decoded(source, matrix, content))

    def packed(self) -> Swatch:
        """The same swatch with its pixels as PNG: less than half the memory, ready to be kept."""
        if not isinstance(self.source, np.ndarray):
            return self
        return Swatch(png_of(self.source), self.ppi, self.matrix)


_MOST_BYTES, _MOST_PIXELS = 100_000_000, 20_000_000


def _weight(pixels: Pixels) -> int:
    return pixels.nbytes


_SEEN: Kept[Pixels] = Kept(24_000_000, _weight)
"""Bytes of swatches that are kept decoded: some twenty as they are cut, one of the largest."""


def _decoded(
    source: bytes | Path, matrix: tuple[float, ...] | None, content: str | None
) -> Pixels:
    from PIL import Image

    try:
        data = source if isinstance(source, bytes) else read_ordinary(source, _MOST_BYTES)
        if content is not None and fingerprint(data) != content:
            raise ValueError("its bytes are no longer those that were kept")
        with Image.open(io.BytesIO(data), formats=["PNG"]) as image:
            if image.width * image.height > _MOST_PIXELS:
                raise ValueError(f"{image.width} × {image.height} pixels are no swatch")
            pixels = np.asarray(image.convert("RGB"))
    except Exception as error:  # decoders raise nearly anything on damaged files
        where = f"{source}: " if isinstance(source, Path) else ""
        raise PieceError(
            f"{where}the picture of a print cannot be read ({error}). Read the photos again."
        ) from None
    return _coloured(pixels, matrix)


def _coloured(pixels: Pixels, matrix: tuple[float, ...] | None) -> Pixels:
    """The pixels by a matrix of XYZ: the same as one matrix in linear light."""
    if matrix is None:
        return pixels
    from sequencer.colour import spaces

    of_xyz = np.reshape(matrix, (3, 3))
    of_light = spaces.xyz_to_linear(spaces.linear_to_xyz(np.eye(3)) @ of_xyz.T)
    return spaces.linear_to_srgb8(spaces.srgb8_to_linear(pixels) @ of_light.astype(np.float32))


@dataclass(frozen=True)
class Seen:
    """A thing of known colour or size in a photo.

    ``kind``: sheet, grey, target, bankcard… ``corners``: x, y in the upright photo. ``odds``: how
    likely it is that it is one, 0 to 1; None where the maker says so, which is ``marked``.
    """

    kind: str
    corners: tuple[tuple[float, float], ...]
    odds: float | None = None
    marked: bool = False


@dataclass(frozen=True)
class Found:
    """What was seen in a photo beside cloth: for faces to show and for the maker to set right.

    ``size``: width, height of the upright photo in pixels. ``reference``: what its colours were
    taken from. ``scale``: what its sizes were taken from.
    """

    size: tuple[int, int]
    reference: Seen | None = None
    scale: Seen | None = None


@dataclass(frozen=True)
class Print:
    """One fabric as the photograph shows it.

    ``outline``: polygon in the upright photo. ``mean_lab``: arithmetic mean over the cloth.
    ``palette``: shares add up to 1, largest first. ``spread``: ΔE00 of strip-sized patches from
    their mean, None without scale. ``size_in``: measured (long, short) in inches, or None.
    ``usable_in``: (long, short) in inches of the largest rectangle that a ragged outline holds;
    None where the outline is a rectangle itself or no size is known.
    ``reference``: sheet, grey, target, table or none. ``uncertainty``: ΔE00 that the true mean
    colour stays within about nine times in ten; ``shared_uncertainty``: what of it all prints of
    the photo share, mostly lightness; ``own_uncertainty``: what moves this print alone (the squares
    of both add up to the square of the whole; None where not known). ``length`` and ``width`` of
    the usable scrap are what planning takes; a user may set them. ``scraps``: (length, width) in
    inches of each scrap of the print where they were typed; empty where ``size_in`` is all that is
    known. ``photo_id`` and ``number``: fingerprint of the photograph's content, and which find of
    that photo it is, from 1; empty and 0 where the print belongs to no piece.
    """

    id: str
    name: str
    photo: str
    outline: tuple[tuple[float, float], ...]
    mean_lab: Lab
    palette: tuple[PaletteColour, ...]
    spread: float | None = None
    size_in: tuple[float, float] | None = None
    reference: str = "none"
    uncertainty: float = 10.0
    warnings: tuple[str, ...] = ()
    swatch: Swatch | None = field(default=None, compare=False, repr=False)
    scraps: tuple[tuple[Fraction, Fraction], ...] = ()
    usable_in: tuple[float, float] | None = None
    photo_id: str = ""
    number: int = 0
    shared_uncertainty: float | None = None
    own_uncertainty: float | None = None

    @property
    def value(self) -> float:
        """Lightness L* of the mean colour, 0 (black) to 100 (white)."""
        return self.mean_lab[0]

    @property
    def cuttable_in(self) -> tuple[float, float] | None:
        """(long, short) in inches that strips are cut from; None where no size is known."""
        return self.usable_in or self.size_in

    def to_json(self) -> Json:
        """The contract's print object (the swatch is kept as a picture beside it)."""
        return {
            "id": self.id,
            "name": self.name,
            "photo": self.photo,
            "outline": [[round(x, 1), round(y, 1)] for x, y in self.outline],
            "mean_lab": rounded(self.mean_lab),
            "palette": [colour.to_json() for colour in self.palette],
            "value": round(self.value, 4),
            "spread": None if self.spread is None else round(self.spread, 3),
            "size_in": None if self.size_in is None else [round(s, 3) for s in self.size_in],
            "usable_in": None if self.usable_in is None else [round(s, 3) for s in self.usable_in],
            "reference": self.reference,
            "uncertainty": round(self.uncertainty, 3),
            "shared_uncertainty": maybe(self.shared_uncertainty),
            "own_uncertainty": maybe(self.own_uncertainty),
            "warnings": list(self.warnings),
            **({"scraps": plain(self.scraps)} if self.scraps else {}),
        }


@dataclass(frozen=True)
class Rejected:
    """A photograph that could not be used, and why, in one line."""

    photo: str
    why: str

    def to_json(self) -> Json:
        """The contract's object."""
        return {"photo": self.photo, "why": self.why}
