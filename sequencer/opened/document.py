"""The piece as one document for a page: photos, prints, sequence, plan, all in words and lengths.

``passalong.page/1``. Lengths that are shown are text in the piece's units, without a unit; those
that are drawn (``fabric``) are exact fractions of an inch as in ``passalong.plan/1``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from sequencer.inches import round_near, show_length, show_ruled
from sequencer.keys import colour_shares, told
from sequencer.models import (
    ContrastReport,
    FabricNeed,
    Json,
    Plan,
    Print,
    Rejected,
    Seen,
    Sequence,
    plain,
)
from sequencer.ordering.sequence import doubts_open
from sequencer.photo.shapes.handles import handles
from sequencer.photo.shapes.laid import laid
from sequencer.piece import KeptPhoto, Piece, history_json
from sequencer.plan.columns import page_line
from sequencer.summary import outside, summary

if TYPE_CHECKING:
    from sequencer.reading.photograph import ReadPhoto

_SURE, _ABOUT = 6.0, 12.0
"""ΔE00 up to which a colour counts as sure, and as about right (our judgement)."""
_MAIN = 3
_TOLD_SHARE = 0.08
_RULER = Fraction(1, 8)


def page_json(
    piece: Piece, plan: Plan | None, report: ContrastReport | None, name: str
) -> Json:
    """The document of a piece whose folder is called ``name``; without what is kept by revision."""
    units, called = units_of(piece), piece.labels
    done = history_json(piece)["steps"]
    return {
        "schema": "passalong.page/1",
        "folder": name,
        "units": units,
        "undo": _step(piece.past[-1:]),
        "redo": _step(piece.future[-1:]),
        "moment": "piece" if plan else "photos" if piece.photos else "empty",
        "photos": [*(_photo(piece, one) for one in piece.photos), *_refused(piece)],
        "prints": [_print(piece, one, units, called) for one in piece.prints],
        "sequence": _sequence(piece, report),
        "plan": None if plan is None else plan_head(piece, plan),
        "summary": _summary(piece, plan, report),
        "sewn": dict(piece.sewn),
        "steps": done,
    }


def units_of(piece: Piece) -> str:
    """The piece's units, in or cm."""
    return str(piece.plan_wishes.get("units") or "in")


def _step(steps: tuple[Any, ...]) -> Json | None:
    return {"step": steps[0].name, "at": steps[0].at} if steps else None


def _summary(piece: Piece, plan: Plan | None, report: ContrastReport | None) -> Json:
    if plan is None:
        return {"piece": [], "first": []}
    return summary(piece, plan, report).to_json()


# ── photos ────────────────────────────────────────────────────────────────────────────────


_NO_SHEET = "no white sheet, grey card or target in this photo: "


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


# ── prints ────────────────────────────────────────────────────────────────────────────────


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
        "sizes": [[_shown(Fraction(side), units) for side in scrap]
                  for scrap in piece.sizes.get(one.id, ())],
        "measured": _measured(one, units),
        "shape": _shape(one),
        "uncertainty": round(one.uncertainty, 1),
        "doubt": doubt_of(one),
        "colours": colours_of(one),
        "value": round(one.value),
        "remarks": [text for text in one.warnings if text not in shared],
        "cloth": f"/api/prints/{quote(one.id, safe='')}/cloth?v={version}",
    }  # fmt: skip


def _measured(one: Print, units: str) -> list[str] | None:
    """What the photo measured, as a ruler shows it; a size that was typed is none."""
    if one.size_in is None or one.scraps:
        return None
    return [_shown(round_near(Fraction(side), _RULER), units) for side in one.size_in]


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


def _shown(length: Fraction, units: str) -> str:
    return show_ruled(length, units)


def doubt_of(one: Print) -> str:
    """How far its colours can be trusted, in one word."""
    if one.uncertainty <= _SURE:
        return "sure"
    return "about" if one.uncertainty <= _ABOUT else "unsure"


def colours_of(one: Print) -> str:
    """Its main colours in words."""
    return ", ".join([name for name, share in colour_shares(one).items()
                      if share >= _TOLD_SHARE][:_MAIN])  # fmt: skip


# ── sequence ──────────────────────────────────────────────────────────────────────────────


def _sequence(piece: Piece, report: ContrastReport | None) -> Json | None:
    found = piece.sequence
    if found is None:
        return None
    wishes = {key: plain(value) for key, value in piece.order_wishes.items()
              if value not in (None, [], (), False) and key not in ("sequence", "seconds")}
    return {
        "order": list(found.order),
        "loop": found.loop,
        "aim": found.aim,
        "own": bool(piece.order_wishes.get("sequence")),
        "sure": sure_words(found),
        "following": doubts_open(piece),
        "percent": found.percent,
        "price": price_words(found),
        "best": list(found.best or found.order),
        "left_out": list(found.left_out),
        "neighbours": neighbours_json(piece, found, report),
        "wishes": wishes,
        "notes": [told(note, piece.labels) for note in found.notes],
        "others": [{"order": list(other.order), "note": other.note,
                    "price": _price_of_other(found, other)} for other in found.alternatives],
    }  # fmt: skip


def sure_words(found: Sequence) -> str:
    """How sure the best order is: the proof first, the photographs' doubt in a sentence after."""
    proof = "proved" if found.status == "optimal" else (
        f"within {100 * found.gap:.1f} % of the best there could be")
    if not found.confidence and not found.best:
        return f"{proof}. Not yet tried with colours a little off, as photographs have them"
    held = found.confidence.get("order") if found.confidence.get("trials") else None
    lost = 0 if held is None else round(10 * (1 - held))
    if not lost:
        return proof
    times = "once in ten times" if lost == 1 else (
        "every time" if lost == 10 else f"{lost} times in ten")
    return (f"{proof}. The photographs leave it open: with colours a little off, as they may be, "
            f"another order is smoother {times}")  # fmt: skip


def price_words(found: Sequence) -> str:
    """What her order costs against the best of the same prints, in words."""
    if found.percent is None:
        proved = found.status == "optimal"
        return "the best order there is" if proved else "the best order that was found"
    return _rougher(found.percent, "as", "than", "the best order")


_ROUGHER = ((2, "hardly"), (10, "a little"), (30, ""), (100, "much"))
"""Up to so many percent more of squared steps an order is so much rougher (our words)."""


def _rougher(percent: float, as_: str = "", than: str = "", best: str = "") -> str:
    """How much rougher an order is, in words; ``as_`` or ``than`` lead on to ``best``."""
    if percent <= 0.05:
        return f"as smooth {as_} {best}".rstrip()
    word = next((word for most, word in _ROUGHER if percent <= most), "far")
    return f"{word} rougher {than} {best}".strip()


def _price_of_other(found: Sequence, other: Any) -> str:
    return _rougher(100 * (other.total / found.total - 1)) if found.total > 0 else ""


def neighbours_json(
    piece: Piece, found: Sequence, report: ContrastReport | None
) -> list[Json]:
    """Each meeting, with what the two hand over."""
    pairs = report.pairs if report else found.neighbours
    handed = {(one["a"], one["b"]): one for one in report.hand_over} if report else {}
    called = piece.labels
    return [
        {
            "a": pair.a, "b": pair.b, "verdict": pair.verdict, "certain": pair.certain,
            "value_step": None if pair.value_step is None else round(pair.value_step),
            "words": _meeting(called, pair.a, pair.b, pair.verdict, pair.certain),
            **_handed(handed.get((pair.a, pair.b)), called),
        }
        for pair in pairs
    ]  # fmt: skip


_VERDICTS = {
    "blurs": "blur together", "gentle": "meet gently", "clear": "meet clearly", "jumps": "jump",
}


def _meeting(
    called: Mapping[str, str], a: str, b: str, verdict: str | None, certain: bool
) -> str:
    maybe = "" if certain else "perhaps "
    return f"{called[a]} and {called[b]} {maybe}{_VERDICTS.get(verdict or '', 'meet')}"


def _handed(one: Json | None, called: Mapping[str, str]) -> Json:
    if one is None:
        return {"shared": [], "handed": ""}
    return {"shared": one["parts"], "handed": told(one["text"], called)}


# ── plan ──────────────────────────────────────────────────────────────────────────────────


def plan_head(piece: Piece, plan: Plan) -> Json:
    """What a page shows of a plan: everything but the sewing."""
    units, called = str(plan.options.get("units") or "in"), piece.labels

    def shown(length: Fraction) -> str:
        return show_ruled(Fraction(length), units)

    return {
        "units": units,
        "prints": list(plan.prints),
        "method": plan.method,
        "press": plan.press,
        "repeats": plan.repeats,
        "rows": plan.rows,
        "seam": shown(plan.seam),
        "strip": {key: shown(width) for key, width in plan.finished_strip.items()},
        "columns": [{"offset": one.offset, "finished": shown(one.finished_width),
                     "cut": shown(one.cut_width)} for one in plan.columns],
        "centre": [shown(side) for side in plan.centre],
        "bordered": [shown(side) for side in plan.bordered],
        "outside": [shown(side) for side in outside(plan)],
        "words": plan_words(plan, units),
        "wishes": plain(dict(piece.plan_wishes)),
        "line": page_line(plan),
        "edges": [[one.get("print"), str(one.get("width", one.get("cut_width"))),
                   one.get("corners")] for one in _edges(plan)],
        "fabric": [_fabric(need, units, called) for need in plan.fabric],
        "search": plain(plan.search),
        "warnings": [{"code": one.code, "text": told(one.said(units), called)}
                     for one in plan.warnings],
    }  # fmt: skip


def _edges(plan: Plan) -> list[Mapping[str, Any]]:
    """Borders from the inside out, then the binding, as far as there are any."""
    borders = plan.border.get("borders") or [plan.border] if plan.border else []
    return [*borders, *([plan.binding] if plan.binding else [])]


def plan_words(plan: Plan, units: str) -> Json:
    """Size, columns and strips in words."""
    wide, high = (show_length(side, units) for side in outside(plan))
    widths = {one.finished_width for one in plan.columns}
    strips = set(plan.finished_strip.values())
    return {
        "size": f"{wide} wide, {high} high",
        "columns": f"{len(plan.columns)} columns, {_span(widths, units)} wide",
        "strips": f"strips {_span(strips, units)} finished",
        "rows": f"{plan.rows} rows: {len(plan.prints)} prints"
        + ("" if plan.repeats == 1 else f", {plan.repeats} times"),
    }  # fmt: skip


def _span(lengths: set[Fraction], units: str) -> str:
    least, most = min(lengths), max(lengths)
    told = show_length(most, units)
    return told if least == most else f"{show_ruled(least, units)} to {told}"


def _fabric(need: FabricNeed, units: str, called: Mapping[str, str]) -> Json:
    kept = need.to_json()
    name = called.get(need.print, need.print)
    if need.have_length is None:
        words = f"{name}: no size is known"
        if need.piece:
            sides = " × ".join(show_length(side, units) for side in need.piece)
            words += f"; it takes a piece of {sides}"
    elif need.short_by > 0:
        words = f"{name} lacks {show_length(need.short_by, units)} of strip"
    else:
        words = f"{name} is long enough"
    keys = ("print", "short_by", "have_length", "needed_length", "joins", "scraps", "piece",
            "strips")
    return {**{key: kept[key] for key in keys}, "words": words}
