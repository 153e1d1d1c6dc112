"""From cuttings to the ledger: every strip in its set, joins moved aside, left-overs put to use."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from sequencer.plan.asked import Request, join_loss
from sequencer.plan.cloth.joins import Join, Joining, Segments, place_joins
from sequencer.plan.cloth.ledger import Ledger, Page, Strip
from sequencer.plan.cloth.pieces import ABSENT, Cutting, Order, Piece, finish
from sequencer.plan.cloth.stock import Size
from sequencer.plan.sewing import StripSet


def joining(request: Request, key: str) -> Joining:
    """How two ends of this print's strips are joined."""
    cut = request.cut(request.strips[key])
    loss = join_loss(request.join, cut, request.seam)
    # a diagonal seam's allowances stick out past the overlap by less than a seam allowance
    reach = request.seam if request.join == "diagonal" else Fraction(0)
    return Joining(loss, reach, loss + cut / 2, request.grid)


def place_strips(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    sets: Sequence[StripSet],
    cuttings: Mapping[str, Cutting | None],
) -> Ledger:
    """The ledger of these sets: which pieces make each strip, and where its joins come to lie."""
    segments = {one.name: Segments(one, request.squaring, request.seam) for one in sets}
    places: dict[str, list[tuple[StripSet, int]]] = {key: [] for key in request.ids}
    for one in sets:
        for number, key in enumerate(one.order, 1):
            places[key].append((one, number))
    pages = {}
    for key in request.ids:
        how, cutting = joining(request, key), cuttings[key]
        if cutting is None:
            whole = [Strip(one.name, n, one.length, (Piece(0, 0, one.length),), ())
                     for one, n in places[key]]  # fmt: skip
        else:
            whole, cutting = _strips(how, places[key], cutting, segments)
        pages[key] = Page(key, request.cut(request.strips[key]), how.loss, scraps[key], cutting,
                          tuple(whole))  # fmt: skip
    return Ledger(pages)


def _strips(
    how: Joining,
    places: Iterable[tuple[StripSet, int]],
    cutting: Cutting,
    segments: Mapping[str, Segments],
) -> tuple[list[Strip], Cutting]:
    """The strips with their joins moved, and the cutting as it then is."""
    spare = {(piece.scrap, piece.strip): piece.length for piece in cutting.left}
    made: dict[int, Strip] = {}
    where = list(places)
    absent = [any(piece.scrap == ABSENT for piece in pieces) for pieces in cutting.strips]
    for at in sorted(range(len(where)), key=lambda at: (absent[at], at)):
        (one, number), pieces = where[at], cutting.strips[at]
        if absent[at]:
            pieces = _top_up(how, one.length, spare)
        joins: list[Join] = []
        if len(pieces) > 1:
            pieces, joins = _move(how, one, pieces, spare, segments[one.name])
        made[at] = Strip(one.name, number, one.length, pieces, tuple(joins))
    strips = [made[at] for at in range(len(where))]
    order = Order((), (), how.loss, how.shortest)
    found = finish(order, cutting.ways, tuple(strip.pieces for strip in strips), cutting.bound)
    return strips, replace(found, status=cutting.status)


def _top_up(
    how: Joining, length: Fraction, spare: dict[tuple[int, int], Fraction]
) -> tuple[Piece, ...]:
    """What left-overs can do for a strip that is lacking, and a new piece for the rest of it."""
    pieces, need = [], length
    for key in sorted(spare, key=lambda key: (-spare[key], key)):
        taken = min(spare[key], need + how.loss - how.shortest)
        if taken >= how.shortest and need > how.shortest:
            spare[key] -= taken
            need += how.loss - taken
            pieces.append(Piece(*key, taken))
    return (*pieces, Piece(ABSENT, 0, need))


def _move(
    how: Joining,
    one: StripSet,
    pieces: tuple[Piece, ...],
    spare: dict[tuple[int, int], Fraction],
    segments: Segments,
) -> tuple[tuple[Piece, ...], list[Join]]:
    """Pieces reordered and recut so that joins do least harm; ``spare`` is kept up to date."""
    lengths = [piece.length for piece in pieces]
    free = []
    for piece in pieces:
        key = piece.scrap, piece.strip
        twice = sum(other.scrap == piece.scrap and other.strip == piece.strip for other in pieces)
        free.append(spare.get(key, Fraction(0)) if twice == 1 else Fraction(0))
    cut, joins = place_joins(lengths, free, how, segments, one.length)
    moved = []
    for at, length in cut:
        piece = pieces[at]
        key = piece.scrap, piece.strip
        if piece.scrap != ABSENT:
            spare[key] = spare.get(key, Fraction(0)) + piece.length - length
        moved.append(Piece(piece.scrap, piece.strip, length))
    return tuple(moved), joins
