"""The order of a piece as a page shows it: how sure it is, what it costs, how its prints meet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sequencer.keys import told
from sequencer.models import ContrastReport, Json, Sequence, plain
from sequencer.ordering.sequence import doubts_open
from sequencer.piece import Piece


def sequence_json(piece: Piece, report: ContrastReport | None) -> Json | None:
    """The order, None where there is none."""
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
        "sure": _sure(found),
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


def _sure(found: Sequence) -> str:
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
