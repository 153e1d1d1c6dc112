"""What each print must give, read off the cutting steps, against what its scraps hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from sequencer.models import FabricNeed, StripCut
from sequencer.plan.asked import Request
from sequencer.plan.cloth.ledger import Ledger, Page
from sequencer.plan.cloth.shopping import cloth_for, precut_count, quarter_count

Bought = tuple[Fraction, int | None, int | None]


def fabric_needs(
    request: Request, ledger: Ledger, steps: Sequence[Mapping[str, Any]]
) -> tuple[FabricNeed, ...]:
    """Every print's strips, what its scraps give of them, and what to buy instead."""
    strips: dict[str, list[StripCut]] = {key: [] for key in request.ids}
    for step in steps:
        if step["op"] == "cut_strip":
            strips[step["print"]].append(StripCut(step["width"], step["length"]))
    bought: dict[tuple[StripCut, ...], Bought] = {}  # most prints need the very same strips
    for key in request.ids:
        if tuple(strips[key]) not in bought:
            bought[tuple(strips[key])] = _to_buy(request, strips[key])
    return tuple(
        _need(ledger.pages[key], strips[key], bought[tuple(strips[key])]) for key in request.ids
    )


def _to_buy(request: Request, strips: Sequence[StripCut]) -> Bought:
    """Off the bolt, in pre-cut strips, in fat quarters."""
    width, lengths = strips[0].width, [strip.length for strip in strips]
    cloth = cloth_for(request, width, lengths)
    return cloth, precut_count(request, width, lengths), quarter_count(request, width, lengths)


def _need(page: Page, strips: Sequence[StripCut], bought: Bought) -> FabricNeed:
    """``have_length`` is all the strip that the scraps give at this width."""
    needed = sum((strip.length for strip in strips), Fraction(0))
    known = page.scraps is not None
    return FabricNeed(
        page.print, tuple(strips), needed, page.held if known else None,
        page.short_by, page.joins, *bought, scraps=page.uses,
    )  # fmt: skip
