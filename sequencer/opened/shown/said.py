"""What is to be said of a piece at the place it is about: one sentence, and one remedy that works.

A remedy is what a page would send. Each is tried here before it is offered: the plan or order after
it was made, and what the sentence complains of is gone or less.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import TYPE_CHECKING

from sequencer.models import ContrastReport, Json, Plan
from sequencer.opened.shown.meetings import of_meetings
from sequencer.opened.shown.of_plan import OfPlan
from sequencer.opened.shown.pin import Said
from sequencer.piece import Piece

if TYPE_CHECKING:
    import networkx as nx

MOST = 8
"""Sentences said at once; more would not be read."""


def said(
    piece: Piece, plan: Plan | None, report: ContrastReport | None, graph: nx.Graph | None
) -> list[Json]:
    """Numbered, the weightiest first."""
    if plan is None:
        found: Iterable[Said] = _photos(piece)
    else:
        told = OfPlan(piece, plan)
        found = [*told.cloth(), *told.line(), *told.columns(),
                 *(of_meetings(piece, report, graph) if report and graph is not None else ()),
                 *told.rest(), *_photos(piece)]  # fmt: skip
    return [{"n": n, "text": one.text, "at": one.at, "remedy": one.remedy}
            for n, one in enumerate(islice(found, MOST), 1)]  # fmt: skip


def _photos(piece: Piece) -> Iterator[Said]:
    """Photographs whose colours cannot be trusted."""
    bare = [photo for photo in piece.photos
            if any(one.photo_id == photo.id and one.reference == "none" for one in piece.prints)]
    if bare:
        more = f" and {len(bare) - 1} more" if len(bare) > 1 else ""
        yield Said(
            f"Colours in {bare[0].name}{more} are approximate: photograph again with a white "
            "sheet of paper in the picture, the same in every photo.", {"photo": bare[0].id})


def blocked(piece: Piece, plan: Plan | None) -> str | None:
    """One sentence where the picture is not yet one that could be sewn, or there is none."""
    if not piece.prints:
        return "No scraps were found: draw them in the photograph." if piece.photos else None
    if len(piece.prints) == 1:
        return "One print makes no piece: add photographs of more scraps."
    if plan is None:
        return "There is no picture yet: say that these are your scraps."
    if all(need.have_length is None for need in plan.fabric):
        return ("No scrap's size is known, so this is only how it could look: type sizes at the "
                "scraps' sides, or photograph them with a bank card beside them.")  # fmt: skip
    return None
