"""The photographs of a piece as a page shows them, and the scraps that were found in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING
from urllib.parse import quote

from sequencer.inches import round_near, show_ruled
from sequencer.keys import colour_shares
from sequencer.models import Json, Print, Rejected, Seen, plain
from sequencer.photo.shapes.handles import handles
from sequencer.photo.shapes.laid import laid
from sequencer.piece import KeptPhoto, Piece

if TYPE_CHECKING:
    from sequencer.reading.photograph import ReadPhoto

_SURE, _ABOUT = 6.0, 12.0
"""ΔE00 up to which a colour counts as sure, and as about right (our judgement)."""
_MAIN = 3
_TOLD_SHARE = 0.08
_RULER = Fraction(1, 8)
_NO_SHEET = "no white sheet, grey card or target in this photo: "


def photos_json(piece: Piece) -> list[Json]:
    """Each photograph: those that were read, then those that could not be used."""
    return [*(_photo(piece, one) for one in piece.photos), *_refused(piece)]


def _photo(piece: Piece, photo: KeptPhoto) -> Json:
    mine = [one for one in piece.prints if one.photo_id == photo.id]
    size = photo.found.size if photo.found else (0, 0)
    found = photo.found
    return {
        "id": photo.id,
        "name": photo.name,
        "width": size[0],
        "height": size[1],
        "screen": f"/api/photos/{photo.id}/screen",
        "status": "read" if photo.reading or mine else "new",
        "why": None,
        "reference": _seen(found.reference if found else None),
        "card": _seen(found.scale if found else None),
        "wishes": plain(dict(photo.wishes)),
        "prints": [one.id for one in mine],
        # that there is no white sheet the page says itself, with what to do about it
        "remarks": [text for text in _shared_remarks(mine) if not text.startswith(_NO_SHEET)],
    }


def _refused(piece: Piece) -> list[Json]:
    """Photographs that could not be used: they have no picture and no prints."""
    return [
        {"id": f"refused-{number}", "name": one.photo, "width": 0, "height": 0, "screen": None,
         "status": "refused", "why": one.why, "reference": None, "card": None, "wishes": {},
         "prints": [], "remarks": []}
        for number, one in enumerate(piece.rejected, 1)
    ]  # fmt: skip


def _seen(seen: Seen | None) -> Json | None:
    if seen is None:
        return None
    corners = _points(seen.corners)
    sure = None if seen.odds is None else round(seen.odds, 3)
    return {"kind": seen.kind, "corners": corners, "sure": sure, "said": seen.marked}


def _shared_remarks(prints: list[Print]) -> list[str]:
    """What was said of every print of a photo is a remark on the photo."""
    if not prints:
        return []
    return [text for text in prints[0].warnings if all(text in one.warnings for one in prints)]


def found_json(found: ReadPhoto | Rejected) -> Json:
    """What a photograph gave, as soon as it is read."""
    if isinstance(found, Rejected):
        return {"error": found.why, "code": "photo"}
    return {
        "scraps": [_points(one.outline) for _, one in found.prints],
        "width": found.found.size[0], "height": found.found.size[1],
        "reference": _seen(found.found.reference), "card": _seen(found.found.scale),
    }  # fmt: skip


def _points(outline: Iterable[tuple[float, float]]) -> list[list[float]]:
    return [[round(x, 1), round(y, 1)] for x, y in outline]


def prints_json(piece: Piece, units: str) -> list[Json]:
    """Each print with its outline, sizes in these units, colours and doubt."""
    called = piece.labels
    return [_print(piece, one, units, called) for one in piece.prints]


def _print(piece: Piece, one: Print, units: str, called: Mapping[str, str]) -> Json:
    fellows = [other for other in piece.prints if other.photo_id == one.photo_id]
    shared = _shared_remarks(fellows)
    version = (one.swatch.content or "")[:8] if one.swatch else ""
    return {
        "id": one.id,
        "name": one.name or one.id,
        "label": called[one.id],
        "named": one.id in piece.names,
        "photo": one.photo_id,
        "outline": _points(one.outline),
        "handles": [[round(x, 1), round(y, 1)] for x, y in handles(one.outline)],
        "sizes": [[show_ruled(Fraction(side), units) for side in scrap]
                  for scrap in piece.sizes.get(one.id, ())],
        "measured": _measured(one, units),
        "shape": _shape(one),
        "uncertainty": round(one.uncertainty, 1),
        "doubt": _doubt(one),
        "colours": _colours(one),
        "value": round(one.value),
        "remarks": [text for text in one.warnings if text not in shared],
        "cloth": f"/api/prints/{quote(one.id, safe='')}/cloth?v={version}",
    }  # fmt: skip


def _measured(one: Print, units: str) -> list[str] | None:
    """What the photo measured, as a ruler shows it; a size that was typed is none."""
    if one.size_in is None or one.scraps:
        return None
    return [show_ruled(round_near(Fraction(side), _RULER), units) for side in one.size_in]


def _shape(one: Print) -> list[list[float]] | None:
    """Its scrap's outline in inches from the corner strips are cut from, lengthwise; None where it
    has no size, or is several scraps.
    """
    if one.cuttable_in is None or len(one.scraps) > 1 or len(one.outline) < 3:
        return None
    ragged = one.usable_in is not None
    return [list(at) for at in laid(one.outline, _first_scrap(one) or one.cuttable_in, ragged)]


def _first_scrap(one: Print) -> tuple[float, float] | None:
    """Long and short side in inches of the scrap that was typed."""
    sides = sorted(map(float, one.scraps[0]), reverse=True) if one.scraps else []
    return (sides[0], sides[1]) if sides else None


def _doubt(one: Print) -> str:
    """How far its colours can be trusted, in one word."""
    if one.uncertainty <= _SURE:
        return "sure"
    return "about" if one.uncertainty <= _ABOUT else "unsure"


def _colours(one: Print) -> str:
    """Its main colours in words."""
    return ", ".join([name for name, share in colour_shares(one).items()
                      if share >= _TOLD_SHARE][:_MAIN])  # fmt: skip
