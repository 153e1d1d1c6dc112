"""Where each strip comes from: which numbered scrap, which cut, for which place in which set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sequencer.models import Plan, ScrapUse


@dataclass(frozen=True)
class Address:
    """One strip or piece: the scrap's label (``C1``), the cut's number there, and where it goes."""

    scrap: str
    cut: int
    goes_to: str


@dataclass(frozen=True)
class Addresses:
    """Addresses by the name that the step gives a piece; ``places`` where every piece goes."""

    by_name: Mapping[str, Address] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)

    def of(self, makes: str) -> str:
        """``C1, cut 3`` in few signs, or nothing where no scrap is known."""
        found = self.by_name.get(makes)
        return f"{found.scrap} cut {found.cut}" if found else ""


def addresses(plan: Plan, keys: Mapping[str, str]) -> Addresses:
    """Read off the plan's scraps and its tables of sets."""
    places = _places(plan)
    found = {
        cut.makes: Address(label(keys, ident, use.scrap), number, places.get(cut.makes, ""))
        for ident, use in used(plan)
        for number, cut in enumerate(use.cuts, 1)
    }
    return Addresses(found, places)


def label(keys: Mapping[str, str], ident: str, scrap: int) -> str:
    """A scrap's label: the print's letter and the scrap's number, from 1."""
    return f"{keys.get(ident, ident)}{scrap + 1}"


def used(plan: Plan) -> list[tuple[str, ScrapUse]]:
    """Print and scrap, every scrap that something is cut from, in sequence; border and binding are
    cut after the strips.
    """
    edges = {(one.print, one.use.scrap): one.use for one in plan.edges}
    found = []
    for need in plan.fabric:
        for use in need.scraps:
            edge = edges.pop((need.print, use.scrap), None)
            whole = replace(edge, cuts=(*use.cuts, *edge.cuts)) if edge else use
            if whole.cuts:
                found.append((need.print, whole))
    return [*found, *((ident, use) for (ident, _), use in edges.items())]


def _places(plan: Plan) -> dict[str, str]:
    """For each piece: ``set 1, strip 4``, and which piece of a joined strip it is."""
    places = {}
    for one in plan.sets:
        for strip in one.strips:
            for number, (makes, _, _) in enumerate(strip.pieces, 1):
                many = len(strip.pieces)
                piece = f", piece {number} of {many}" if many > 1 else ""
                places[makes] = f"set {one.name}, strip {strip.number}{piece}"
    return places | {cut.makes: cut.makes for edge in plan.edges for cut in edge.use.cuts}
