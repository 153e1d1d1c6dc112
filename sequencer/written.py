"""What is left to look at and to sew from: pictures and sheets, as files."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sequencer.errors import SheetError
from sequencer.files import write_out
from sequencer.models import Plan
from sequencer.ordering.sequence import contrast, doubted
from sequencer.piece import Piece

if TYPE_CHECKING:
    from sequencer.plan.scaling import Scaled
    from sequencer.sheets.pages.table_photo import TablePhoto

PREVIEW_PPI = 100
UNNAMED = "piece"
"""The folder that a page makes where none is named."""


def write_scale_picture(piece: Piece, scaled: Scaled, path: Path) -> Path:
    """Both sizes side by side, as PNG."""
    from sequencer.rendering import beside

    return _write_png(beside(scaled.before, scaled.plan, list(piece.prints)), path)


def write_sequence_picture(piece: Piece, path: Path) -> Path:
    """Swatches in order with the contrast between them, as PNG."""
    from sequencer.rendering import sequence_picture

    piece, sequence = doubted(piece)
    return _write_png(sequence_picture(list(piece.prints), sequence), path)


def write_preview(
    piece: Piece, plan: Plan, path: Path, view: str = "colour", ppi: float | None = None
) -> Path:
    """The finished piece as it will look, as PNG.

    Without ``ppi`` near PREVIEW_PPI, where the ruler's steps are whole pixels.
    """
    from sequencer.rendering import page_ppi, render

    ppi = page_ppi(plan, PREVIEW_PPI) if ppi is None else ppi
    return _write_png(render(plan, list(piece.prints), ppi=ppi, view=view), path)


def write_sheets(
    piece: Piece, plan: Plan, path: Path, paper: str = "letter", units: str | None = None,
    title: str | None = None, date: str | None = None, folder: Path | None = None,
) -> Path:  # fmt: skip
    """The cutting and sewing sheets, as PDF; ``units`` of the plan unless given.

    With the piece's ``folder`` they show the photographs of its scraps, where those are there, and
    are called after it unless they have a ``title``.
    """
    from sequencer.sheets import write_sheets as write

    piece, sequence = doubted(piece)
    try:
        write(plan, list(piece.prints), path, paper=paper, units=units, seq=sequence,
              report=contrast(piece), title=title or _named(folder), date=date,
              photos=table_photos(piece, folder) if folder else ())
    except OSError as error:
        raise SheetError(f"{path} cannot be written: {error.strerror or error}.") from None
    return path


def _named(folder: Path | None) -> str | None:
    """What the sheets of a folder are called; None where nobody gave it a name."""
    name = folder.resolve().name if folder else UNNAMED
    return None if name == UNNAMED else name


def table_photos(piece: Piece, folder: Path) -> list[TablePhoto]:
    """The photographs in which several scraps lie, upright, with the outline of each find."""
    from sequencer.errors import PhotoError
    from sequencer.keeping.originals import place_of
    from sequencer.photo.files.load import load as load_photo
    from sequencer.sheets.pages.table_photo import TablePhoto

    shown = []
    for kept in piece.photos:
        finds = tuple((one.id, one.outline) for one in piece.prints if one.photo_id == kept.id)
        path = place_of(kept, folder) if len(finds) > 1 else None
        if path is None:
            continue
        try:
            photo = load_photo(path)
        except PhotoError:
            continue  # the sheets do without a picture that has gone bad
        shown.append(TablePhoto(kept.name, photo.pixels, photo.factor, finds))
    return shown


def _write_png(picture: Any, path: Path) -> Path:
    buffer = io.BytesIO()
    picture.save(buffer, "PNG")
    try:
        write_out(path, buffer.getvalue())
    except OSError as error:
        raise SheetError(f"{path} cannot be written: {error.strerror or error}.") from None
    return path
