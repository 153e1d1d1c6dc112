"""What each print must give, against what its scraps hold."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from sequencer.models import FabricNeed, ScrapUse, SetTable, StripCut
from sequencer.plan.asked import Request
from sequencer.plan.cloth.addresses import needed_of
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


def without_sets(
    fabric: Sequence[FabricNeed], dropped: Sequence[SetTable], straighten: Fraction
) -> tuple[FabricNeed, ...]:
    """The needs after some sets are given up: their strips are not cut, their cloth is left."""
    gone: dict[str, list[tuple[str, int | None, Fraction]]] = {}
    for table in dropped:
        for strip in table.strips:
            gone.setdefault(strip.print, []).extend(strip.pieces)
    return tuple(_without(need, gone[need.print], straighten) if need.print in gone else need
                 for need in fabric)  # fmt: skip


def _without(
    need: FabricNeed, pieces: Sequence[tuple[str, int | None, Fraction]], straighten: Fraction
) -> FabricNeed:
    names = {name for name, _, _ in pieces}
    strips = list(need.strips)
    for _, _, length in pieces:
        strips.remove(next(strip for strip in strips if strip.length == length))
    known = need.have_length is not None
    lacked = sum((length for _, scrap, length in pieces if scrap is None), Fraction(0))
    joined = len({name.partition(" piece ")[0] for name in names if " piece " in name})
    return replace(
        need, strips=tuple(strips),
        needed_length=sum((strip.length for strip in strips), Fraction(0)),
        short_by=need.short_by - lacked if known else need.short_by,
        joins=need.joins - sum(" piece " in name for name in names) + joined,
        scraps=tuple(_uncut(use, names, straighten) for use in need.scraps),
    )  # fmt: skip


def _uncut(use: ScrapUse, names: Collection[str], straighten: Fraction) -> ScrapUse:
    """The scrap without these cuts, whose cloth is left."""
    kept = tuple(cut for cut in use.cuts if cut.makes not in names)
    freed = tuple(
        (*cut.at, cut.length, cut.width) if cut.along == "long"
        else (*cut.at, cut.width, cut.length)
        for cut in use.cuts if cut.makes in names
    )  # fmt: skip
    least = needed_of(kept, straighten)[1]
    return replace(use, cuts=kept, left=(*use.left, *freed), at_least=least)


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
