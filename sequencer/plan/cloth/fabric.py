"""What each print must give, against what its scraps hold."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from sequencer.models import FabricNeed, StripCut
from sequencer.plan.asked import Request
from sequencer.plan.cloth.ledger import Ledger, Page
from sequencer.plan.cloth.shopping import cloth_for, precut_count, quarter_count

Bought = tuple[Fraction, int | None, int | None]


def fabric_needs(request: Request, ledger: Ledger) -> tuple[FabricNeed, ...]:
    """Every print's strips, what its scraps give of them, and what to buy instead."""
    bought: dict[tuple[StripCut, ...], Bought] = {}  # most prints need the very same strips
    needs = []
    for key in request.ids:
        page, width = ledger.pages[key], request.cut(request.strips[key])
        strips = tuple(
            StripCut(width, piece.length) for strip in page.strips for piece in strip.pieces
        )
        if strips not in bought:
            bought[strips] = _to_buy(request, strips)
        needs.append(_need(request, page, strips, bought[strips]))
    return tuple(needs)


def _to_buy(request: Request, strips: Sequence[StripCut]) -> Bought:
    """Off the bolt, in pre-cut strips, in fat quarters."""
    width, lengths = strips[0].width, [strip.length for strip in strips]
    cloth = cloth_for(request, width, lengths)
    return cloth, precut_count(request, width, lengths), quarter_count(request, width, lengths)


def _need(
    request: Request, page: Page, strips: tuple[StripCut, ...], bought: Bought
) -> FabricNeed:
    """``have_length`` is all the strip that the scraps give at this width."""
    needed = sum((strip.length for strip in strips), Fraction(0))
    known = page.scraps is not None
    return FabricNeed(
        page.print, strips, needed, page.held if known else None, page.short_by, page.joins,
        *bought, scraps=page.uses, piece=None if known else _piece(request, strips),
    )  # fmt: skip


def _piece(request: Request, strips: Sequence[StripCut]) -> tuple[Fraction, Fraction]:
    """(long, short) of one piece of cloth that holds the strips side by side, straightened."""
    straight = 2 * request.straighten
    along = max(strip.length for strip in strips) + straight
    across = len(strips) * strips[0].width + straight
    return max(along, across), min(along, across)
