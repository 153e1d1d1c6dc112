"""The piece as one document for a page: photos, prints, sequence, plan, all in words and lengths.

``passalong.page/1``. Lengths that are shown are text in the piece's units, without a unit; those
that are drawn (``fabric``) are exact fractions of an inch as in ``passalong.plan/1``.
"""

from __future__ import annotations

from typing import Any

from sequencer.models import ContrastReport, Json, Plan
from sequencer.opened.shown.ordered import sequence_json
from sequencer.opened.shown.plan_head import plan_head
from sequencer.opened.shown.scraps import photos_json, prints_json
from sequencer.piece import Piece, history_json
from sequencer.summary import summary


def page_json(
    piece: Piece, plan: Plan | None, report: ContrastReport | None, name: str
) -> Json:
    """The document of a piece whose folder is called ``name``; without what is kept by revision."""
    units = _units(piece)
    done = history_json(piece)["steps"]
    return {
        "schema": "passalong.page/1",
        "folder": name,
        "units": units,
        "undo": _step(piece.past[-1:]),
        "redo": _step(piece.future[-1:]),
        "moment": "piece" if plan else "photos" if piece.photos else "empty",
        "photos": photos_json(piece),
        "prints": prints_json(piece, units),
        "sequence": sequence_json(piece, report),
        "plan": None if plan is None else plan_head(piece, plan),
        "summary": _summary(piece, plan, report),
        "sewn": dict(piece.sewn),
        "steps": done,
    }


def _units(piece: Piece) -> str:
    """The piece's units, in or cm."""
    return str(piece.plan_wishes.get("units") or "in")


def _step(steps: tuple[Any, ...]) -> Json | None:
    return {"step": steps[0].name, "at": steps[0].at} if steps else None


def _summary(piece: Piece, plan: Plan | None, report: ContrastReport | None) -> Json:
    if plan is None:
        return {"piece": [], "first": []}
    return summary(piece, plan, report).to_json()
