"""From cuttings to the ledger: every strip in its set, joins moved aside, every piece placed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from sequencer.plan.asked import Request, join_loss
from sequencer.plan.cloth.addresses import Layout, Named, places
from sequencer.plan.cloth.box import Box, Cut
from sequencer.plan.cloth.laying.cuttings import ABSENT, lanes_left
from sequencer.plan.cloth.laying.joins import Join, Joining, Segments, place_joins
from sequencer.plan.cloth.ledger import Ledger, Page, Part, Strip
from sequencer.plan.sewing import StripSet, Supplied, strip_names

Spare = dict[tuple[int, int], Fraction]


def joining(request: Request, key: str) -> Joining:
    """How two ends of this print's strips are joined."""
    cut = request.cut(request.strips[key])
    loss = join_loss(request.join, cut, request.seam)
    # a diagonal seam's allowances stick out past the overlap by less than a seam allowance
    reach = request.seam if request.join == "diagonal" else Fraction(0)
    return Joining(loss, reach, loss + cut / 2, request.grid)


def place_strips(
    box: Box, sets: Sequence[StripSet], cuts: Mapping[str, Cut], tried: int
) -> Ledger:
    """The ledger of these sets: which pieces make each strip, and where its joins come to lie."""
    request = box.request
    segments = {one.name: Segments(one, request.squaring, request.seam) for one in sets}
    pages = {}
    for key in request.ids:
        where = [(one, number) for one in sets
                 for number, print_id in enumerate(one.order, 1) if print_id == key]  # fmt: skip
        pages[key] = _page(box, key, cuts[key], _strips(box, key, where, cuts[key], segments))
    return Ledger(pages, tried)


def _strips(
    box: Box,
    key: str,
    where: Sequence[tuple[StripSet, int]],
    cut: Cut,
    segments: Mapping[str, Segments],
) -> list[Strip]:
    """Every strip of the print, its joins where they do least harm."""
    how = joining(box.request, key)
    spare: Spare = {}
    if cut.cutting is not None:
        spare = {at: Fraction(left, box.unit) for at, left in lanes_left(cut.cutting).items()}
    strips = []
    for at, (one, number) in enumerate(where):
        pieces = cut.pieces(at, one.length, box.unit)
        joins: list[Join] = []
        if len(pieces) > 1 and cut.given is None:
            pieces, joins = _move(how, one, pieces, spare, segments[one.name])
        elif len(pieces) > 1:
            joins = _as_given(how, pieces, segments[one.name])
        strips.append(Strip(one.name, number, one.length, pieces, tuple(joins)))
    return strips


def _as_given(how: Joining, pieces: Sequence[Part], segments: Segments) -> list[Join]:
    """Where joins lie that the maker has settled."""
    joins, end = [], Fraction(0)
    for piece in pieces[:-1]:
        end += piece.length
        joins.append(segments.judge(end - how.loss - how.reach, end + how.reach))
        end -= how.loss
    return joins


def _move(
    how: Joining,
    one: StripSet,
    pieces: tuple[Part, ...],
    spare: Spare,
    segments: Segments,
) -> tuple[tuple[Part, ...], list[Join]]:
    """Pieces reordered and recut so that joins do least harm; ``spare`` is kept up to date."""
    times = Counter((piece.scrap, piece.lane) for piece in pieces)
    free = [spare.get(key, Fraction(0)) if times[key] == 1 else Fraction(0)
            for key in ((piece.scrap, piece.lane) for piece in pieces)]  # fmt: skip
    lengths = [piece.length for piece in pieces]
    cut, joins = place_joins(lengths, free, how, segments, one.length)
    moved = []
    for at, length in cut:
        piece = pieces[at]
        if piece.scrap != ABSENT:
            spare[piece.scrap, piece.lane] += piece.length - length
        moved.append(Part(piece.scrap, piece.lane, length))
    return tuple(moved), joins


def _page(box: Box, key: str, cut: Cut, strips: Sequence[Strip]) -> Page:
    """The print's page with every piece in its place."""
    request, scraps = box.request, box.scraps[key]
    width = request.cut(request.strips[key])
    lanes: dict[tuple[int, int], list[Named]] = {}
    for strip in strips:
        names = strip_names(strip.set, strip.number, len(strip.pieces))
        for piece, name in zip(strip.pieces, names, strict=True):
            lanes.setdefault((piece.scrap, piece.lane), []).append(Named(piece.length, name))
    uses = []
    for at, scrap in enumerate(scraps or ()):
        way = cut.cutting.ways[at] if cut.cutting else None
        mine = {lane: made for (number, lane), made in lanes.items() if number == at}
        usable = scrap.full if cut.full else scrap.sure
        uses.append(Layout(way, usable, width, box.unit, mine).use(scrap, request.straighten))
    found = {name: (use.scrap, one) for use in uses for name, one in places(use.cuts)}
    supplied = []
    for strip in strips:
        names = strip_names(strip.set, strip.number, len(strip.pieces))
        supplied.append(tuple(
            Supplied(piece.length, found[name][0], found[name][1].along, found[name][1].at)
            if name in found else Supplied(piece.length)
            for piece, name in zip(strip.pieces, names, strict=True)
        ))  # fmt: skip
    cut_length = sum((one.length for use in uses for one in use.cuts), Fraction(0))
    held = max(Fraction(cut.held, box.unit), cut_length)  # slivers that ways were spared
    return Page(key, scraps, tuple(strips), held, cut.proved, tuple(uses), tuple(supplied))
