"""The piece as it hangs on the wall: bands and frame for scissors, trials, the view from afar.

A :class:`Packet` is what one picture request is answered with. Cloth is kept at each scale that is
used, the least recently used given up first; bands and frames are cut anew, which is quicker than
keeping them is worth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sequencer.errors import PieceError
from sequencer.kept import Kept
from sequencer.models import Json, Pixels, Plan, Print
from sequencer.opened.shown.plan_head import plan_head
from sequencer.opened.trying import Move, sketched
from sequencer.piece import Piece
from sequencer.plan.scaling import scale
from sequencer.rendering import bands, cloth_seen, frame, geometry, page_ppi, render
from sequencer.rendering.textures import Cloth
from sequencer.summary import outside

_CLOTH = 80_000_000
"""Bytes of cloth that are kept ready to be cut."""
MOST_PIXELS = 12_000_000
"""Pictures are asked for at a scale; a larger one than this is drawn smaller."""
_FAR_PIXELS = 3_000_000
"""As large as what is seen from across the room is drawn: nothing finer is left of it, and working
it out takes sixty bytes a pixel."""


@dataclass(frozen=True)
class Packet:
    """What is told of pictures, and the pictures by name: each (h, w, 4), sRGB with alpha."""

    head: Json
    images: dict[str, Pixels]


class Wall:
    """Cuts the pictures of a piece; every method may be called from any thread."""

    def __init__(self) -> None:
        self._cloth: Kept[Cloth] = Kept(_CLOTH, lambda cloth: cloth.nbytes)

    def bands(self, piece: Piece, plan: Plan | None, ppi: float, view: str) -> Packet:
        """A band for each print of the plan, near ``ppi`` pixels an inch.

        Raises:
            PieceError: nothing is planned yet.
            UsageError: no such view.
        """
        plan = _there(plan)
        scale = _scale(plan, ppi)
        cut = bands(plan, piece.prints, scale, view, self._keep)
        return Packet(_head(plan, scale), _named(cut))

    def frame(self, piece: Piece, plan: Plan | None, ppi: float, view: str) -> Packet:
        """Borders and binding round a transparent centre. Raises as :meth:`bands`."""
        plan = _there(plan)
        scale = _scale(plan, ppi)
        edges = frame(plan, piece.prints, scale, view, self._keep)
        return Packet(_head(plan, scale), {"frame": edges})

    def far(self, piece: Piece, plan: Plan | None, ppi: float) -> Packet:
        """The whole piece as it looks from across the room. Raises as :meth:`bands`."""
        plan = _there(plan)
        scale = _scale(plan, ppi, _FAR_PIXELS)
        picture = render(plan, piece.prints, ppi=scale, view="across-room")
        return Packet(_head(plan, scale), {"far": np.asarray(picture.convert("RGBA"))})

    def scaled(
        self, piece: Piece, plan: Plan | None, size: str, ppi: float, view: str
    ) -> Packet:
        """The same design with its centre at another size, framed; what became of it in words.

        Raises:
            PieceError: nothing is planned yet.
            UsageError, PlanError: as for :func:`sequencer.plan.scale`.
        """
        found = scale(_there(plan), list(piece.prints), size)
        at = _scale(found.plan, ppi)
        images = _named(bands(found.plan, piece.prints, at, view, self._keep))
        images["frame"] = frame(found.plan, piece.prints, at, view, self._keep)
        answers = [answer.to_json() for answer in found.answers]
        head = {**_head(found.plan, at), "plan": plan_head(piece, found.plan), "answers": answers}
        return Packet(head, images)

    def trial(
        self, piece: Piece, plan: Plan | None, move: Move, ppi: float, view: str, framed: bool
    ) -> Packet:
        """The bands of the plan as it would be after the move; with its frame if ``framed``.

        Raises:
            PieceError: nothing is planned yet.
            UsageError, PlanError: as for :func:`sequencer.opened.trying.sketched`.
        """
        prints = list(piece.prints)
        tried = sketched(_there(plan), prints, move)
        scale = _scale(tried, ppi)
        images = _named(bands(tried, prints, scale, view, self._keep))
        if framed:
            images["frame"] = frame(tried, prints, scale, view, self._keep)
        return Packet({**_head(tried, scale), "plan": plan_head(piece, tried)}, images)

    def _keep(self, cloth: Print, ppi: float, view: str) -> Cloth:
        swatch = cloth.swatch
        told = None if swatch is None else (swatch.content or id(swatch.source), swatch.matrix)
        key = (cloth.id, told, ppi, view)
        return self._cloth.get(key, lambda: cloth_seen(cloth, ppi, view))


def light_ppi(plan: Plan) -> float:
    """The scale of the light picture that a page asks for before the one for its screen."""
    return 32 * max(1.0, 12 / max(map(float, outside(plan))))


def _there(plan: Plan | None) -> Plan:
    if plan is None:
        raise PieceError("Nothing is planned yet: there is no picture to show.")
    return plan


def _scale(plan: Plan, ppi: float, pixels: int = MOST_PIXELS) -> float:
    width, height = (float(side) for side in plan.bordered)
    most = (pixels / (width * height)) ** 0.5
    return page_ppi(plan, min(ppi, most))


def _head(plan: Plan, ppi: float) -> Json:
    return {"geometry": geometry(plan, ppi).to_json(), "order": list(plan.prints)}


def _named(cut: dict[str, Pixels]) -> dict[str, Pixels]:
    return {f"band:{key}": pixels for key, pixels in cut.items()}
