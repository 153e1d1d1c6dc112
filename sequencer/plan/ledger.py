"""The ledger: for each print its scraps, the strips cut from them, joins, and what is left.

Nothing is lost between the lines: for each print the strips its scraps give are what is cut plus
what is left over, and what is cut is what the strip sets use plus what the joins cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sequencer.models import Column, Json, Plan, Print, plain
from sequencer.plan.fabric import join_loss
from sequencer.plan.joins import WHERE, Join, Joining, Segments, place_joins
from sequencer.plan.pieces import ABSENT, Cutting, Order, Piece, cut_pieces, finish, stock
from sequencer.plan.request import Request
from sequencer.plan.sets import StripSet, plan_sets
from sequencer.plan.stock import Size, scraps_of, ways_to_cut

MOST_LENGTHS = 8
"""Lengths of strip set that are tried where the first is short of cloth or needs joins."""


@dataclass(frozen=True)
class Strip:
    """One strip of a set: its pieces in the order they are joined, and where the joins lie."""

    set: str
    number: int
    length: Fraction
    pieces: tuple[Piece, ...]
    joins: tuple[Join, ...]


@dataclass(frozen=True)
class Page:
    """One print's account. ``cutting`` and ``scraps`` are None where no size is known."""

    print: str
    cut_width: Fraction
    loss: Fraction
    scraps: tuple[Size, ...] | None
    cutting: Cutting | None
    strips: tuple[Strip, ...]

    @property
    def short_by(self) -> Fraction:
        """Length of strips that the scraps cannot give."""
        return self.cutting.short_by if self.cutting else Fraction(0)

    @property
    def joins(self) -> int:
        """Joins end to end."""
        return sum(len(strip.pieces) - 1 for strip in self.strips)

    @property
    def lanes(self) -> list[Fraction] | None:
        """Length of every strip the scraps give, longest first."""
        if self.cutting is None:
            return None
        return sorted((length for *_, length in stock(self.cutting.ways)), reverse=True)

    def to_json(self) -> Json:
        """Plain form, lengths as fractions."""
        cutting = self.cutting
        return {
            "print": self.print,
            "cut_width": str(self.cut_width),
            "scraps": None if self.scraps is None or cutting is None else [
                {"size": plain(size), "along": way.along if way else None,
                 "strips": way.count if way else 0,
                 "strip_length": str(way.length) if way else "0",
                 "beside": str(way.beside) if way else None}
                for size, way in zip(self.scraps, cutting.ways, strict=True)
            ],
            "strips": [_strip_json(strip) for strip in self.strips],
            "left": [] if cutting is None else [
                {"scrap": piece.scrap, "length": str(piece.length)} for piece in cutting.left],
            "joins": self.joins,
            "join_loss": str(self.loss * self.joins),
            "short_by": str(self.short_by),
            "status": "assumed" if cutting is None else cutting.status,
            "least": None if cutting is None else {
                "short_by": str(cutting.bound[0]), "joins": cutting.bound[1]},
        }  # fmt: skip


def _strip_json(strip: Strip) -> Json:
    return {
        "set": strip.set,
        "number": strip.number,
        "length": str(strip.length),
        "pieces": [
            {"scrap": None if piece.scrap == ABSENT else piece.scrap, "length": str(piece.length)}
            for piece in strip.pieces
        ],
        "joins": [
            {"from": str(join.start), "to": str(join.end),
             "columns": [column + 1 for column in join.columns], "where": WHERE[join.kind]}
            for join in strip.joins
        ],
    }  # fmt: skip


@dataclass(frozen=True)
class Ledger:
    """Every print's page, in sequence."""

    pages: Mapping[str, Page]

    @property
    def short(self) -> dict[str, Fraction]:
        """What is lacking, by print."""
        return {key: page.short_by for key, page in self.pages.items() if page.short_by}

    @property
    def joins(self) -> int:
        """Joins end to end in all."""
        return sum(page.joins for page in self.pages.values())

    @property
    def status(self) -> str:
        """Optimal if every page is, else bounded."""
        pages = [page.cutting.status for page in self.pages.values() if page.cutting]
        return "optimal" if all(status == "optimal" for status in pages) else "bounded"

    def to_json(self) -> Json:
        """Document ``passalong.ledger/1``."""
        return {
            "schema": "passalong.ledger/1",
            "status": self.status,
            "prints": [page.to_json() for page in self.pages.values()],
        }


class Handing:
    """Hands the ledger's pieces to the sewing steps, strip by strip in order."""

    def __init__(self, request: Request, ledger: Ledger) -> None:
        self.request = request
        self.lanes = {key: page.lanes for key, page in ledger.pages.items()}
        self.beyond = {key: page.short_by for key, page in ledger.pages.items()}
        self.waiting = {key: iter(page.strips) for key, page in ledger.pages.items()}

    def __call__(self, print_id: str, cut_width: Fraction, length: Fraction) -> list[Fraction]:
        """Pieces of the print's next strip, in the order they are joined."""
        return [piece.length for piece in next(self.waiting[print_id]).pieces]


def settle(
    request: Request, known: Mapping[str, Print], columns: Sequence[Column], first: Fraction
) -> tuple[list[StripSet], Ledger]:
    """Strip sets of the length that suits the scraps best, and the ledger of their strips.

    ``first`` is the length tried first; others only where it is short of cloth or needs joins.
    By the quick cutting of each the least shortage wins, then fewest joins, then fewest sets;
    the cutting of the one chosen is then proved.
    """
    scraps = {key: scraps_of(known[key], request.grid) for key in request.ids}
    sets = plan_sets(request, columns, first)
    merit = _merit(_cuttings(request, scraps, sets, prove=False), sets)
    if any(merit[:2]) and request.set_length is None:
        for longest in _set_lengths(request, scraps, columns, first):
            others = plan_sets(request, columns, longest)
            found = _merit(_cuttings(request, scraps, others, prove=False), others)
            if found < merit:
                sets, merit = others, found
    return sets, _ledger(request, scraps, sets, _cuttings(request, scraps, sets, prove=True))


def _merit(
    cuttings: Mapping[str, Cutting | None], sets: Sequence[StripSet]
) -> tuple[Fraction, int, int]:
    found = [cutting for cutting in cuttings.values() if cutting]
    short = sum((cutting.short_by for cutting in found), Fraction(0))
    return short, sum(cutting.joins for cutting in found), len(sets)


def _set_lengths(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    columns: Sequence[Column],
    first: Fraction,
) -> list[Fraction]:
    """Other lengths worth trying: one set for all, and what the scraps' sides give."""
    widest = max(column.cut_width for column in columns) + request.squaring
    whole = request.squaring + sum((column.cut_width for column in columns), Fraction(0)) * (
        1 if request.tall else request.repeats
    )
    sides = {side for sizes in scraps.values() for size in sizes or () for side in size}
    lengths = {request.usable, whole, whole / 2, whole / 3, *sides} - {first}
    able = sorted((x for x in lengths if widest <= x <= request.usable), reverse=True)
    step = max(1, -(-len(able) // MOST_LENGTHS))
    return able[::step]


def _cuttings(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    sets: Sequence[StripSet],
    prove: bool,
) -> dict[str, Cutting | None]:
    lengths: dict[str, list[Fraction]] = {key: [] for key in request.ids}
    for one in sets:
        for key in one.order:
            lengths[key].append(one.length)
    return {key: _cutting(request, key, scraps[key], lengths[key], prove) for key in request.ids}


def _cutting(
    request: Request,
    key: str,
    sizes: tuple[Size, ...] | None,
    lengths: Sequence[Fraction],
    prove: bool,
) -> Cutting | None:
    if sizes is None:
        return None
    cut, how = request.cut(request.strips[key]), joining(request, key)
    ways = tuple(ways_to_cut(size, cut, key in request.directional) for size in sizes)
    return cut_pieces(Order(ways, tuple(lengths), how.loss, how.shortest), prove)


def joining(request: Request, key: str) -> Joining:
    """How two ends of this print's strips are joined."""
    cut = request.cut(request.strips[key])
    loss = join_loss(request.join, cut, request.seam)
    # a diagonal seam's allowances stick out past the overlap by less than a seam allowance
    reach = request.seam if request.join == "diagonal" else Fraction(0)
    return Joining(loss, reach, loss + cut / 2, request.grid)


def _ledger(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    sets: Sequence[StripSet],
    cuttings: Mapping[str, Cutting | None],
) -> Ledger:
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
    strips = []
    for (one, number), pieces in zip(places, cutting.strips, strict=True):
        joins: list[Join] = []
        if len(pieces) > 1:
            pieces, joins = _move(how, one, pieces, spare, segments[one.name])
        strips.append(Strip(one.name, number, one.length, pieces, tuple(joins)))
    order = Order((), (), how.loss, how.shortest)
    made = tuple(strip.pieces for strip in strips)
    return strips, finish(order, cutting.ways, made, cutting.bound)


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
        spare[key] = spare.get(key, Fraction(0)) + piece.length - length
        moved.append(Piece(piece.scrap, piece.strip, length))
    return tuple(moved), joins


def take_stock(plan: Plan, prints: Sequence[Print]) -> Ledger:
    """The ledger behind a plan made with ``prove=True`` (others: what proving would make of it)."""
    from sequencer.plan.asking import ask
    from sequencer.plan.fabric import Scraps
    from sequencer.plan.follow import follow

    request, curve = ask(prints, plan.prints, plan.options["asked"])
    columns = follow(request, curve).columns
    known = {item.id: item for item in prints}
    return settle(request, known, columns, Scraps(request, known).longest_set(columns))[1]
