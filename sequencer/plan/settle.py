"""Settling the ledger: strip sets that suit the scraps, every strip cut, joins moved aside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from sequencer.inches import EIGHTH, round_down, round_up
from sequencer.models import Column, Plan, Print
from sequencer.plan.fabric import join_loss
from sequencer.plan.joins import Join, Joining, Segments, place_joins
from sequencer.plan.ledger import Ledger, Page, Strip
from sequencer.plan.pieces import ABSENT, Cutting, Order, Piece, cut_pieces, finish, lower_bound
from sequencer.plan.proof import surely_short
from sequencer.plan.request import Request
from sequencer.plan.sets import StripSet, plan_sets
from sequencer.plan.stock import Size, scraps_of, ways_to_cut

Sets = list[StripSet]
Merit = tuple[Fraction, int, int]
"""Length of strips lacking, joins, sets."""

MOST_LENGTHS = 12
"""Lengths of strip set that are tried where the first is short of cloth or needs joins."""
MOST_DOUBTS = 50
"""Cuttings that a search for the largest or the best piece may prove."""
MOST_PROVED = 3
"""Lengths whose cuttings are proved where cloth lacks."""


def settle(
    request: Request, known: Mapping[str, Print], columns: Sequence[Column], first: Fraction
) -> tuple[list[StripSet], Ledger]:
    """Strip sets of the length that suits the scraps best, and the ledger of their strips.

    ``first`` is the length tried first; others only where it is short of cloth or needs joins.
    Least shortage wins, then fewest joins, then fewest sets. The best by the quick cutting are
    proved, up to the first that lacks nothing.
    """
    scraps = _scraps(request, known)
    tried = [_tried(request, scraps, plan_sets(request, columns, first))]
    if any(tried[0][0][:2]) and request.set_length is None:
        tried += [
            _tried(request, scraps, plan_sets(request, columns, longest))
            for longest in _set_lengths(request, scraps, columns, first, MOST_LENGTHS)
        ]
    others = sorted(range(1, len(tried)), key=lambda i: (tried[i][0], i))
    best: tuple[Merit, Sets, dict[str, Cutting | None]] | None = None
    for at in sorted([0, *others[: MOST_PROVED - 1]], key=lambda i: (tried[i][0], i)):
        sets = tried[at][1]
        cuttings = _cuttings(request, scraps, sets, prove=True)
        merit = _merit(cuttings, sets)
        if best is None or merit < best[0]:
            best = merit, sets, cuttings
        if not merit[0]:
            break
    assert best is not None
    return best[1], _ledger(request, scraps, best[1], best[2])


def _tried(
    request: Request, scraps: Mapping[str, tuple[Size, ...] | None], sets: Sets
) -> tuple[Merit, Sets]:
    """What the quick cutting makes of these sets."""
    return _merit(_cuttings(request, scraps, sets, prove=False), sets), sets


class Effort:
    """How many cuttings a search may still prove, a limit that a slow machine does not change."""

    def __init__(self, left: int = MOST_DOUBTS) -> None:
        self.left = left

    def spend(self) -> bool:
        """Take one; False when there is none left."""
        self.left -= 1
        return self.left >= 0


def length_that_fits(
    request: Request,
    known: Mapping[str, Print],
    columns: Sequence[Column],
    first: Fraction,
    effort: Effort,
) -> tuple[Fraction | None, bool]:
    """A length of strip set with which every print's scraps suffice, and whether that is proved.

    (None, True): with every length tried some print is short, whatever its cutting. (None,
    False): none was found. The tightest print is asked first, so that most failures show at once.
    """
    scraps = _scraps(request, known)
    need = sum((column.cut_width for column in columns), Fraction(0)) * request.repeats
    tight = sorted(request.ids, key=lambda key: _plenty(request, key, scraps[key]) / need)
    lengths = [first]
    if request.set_length is None:
        lengths += _set_lengths(request, scraps, columns, first, 3 * MOST_LENGTHS)
    proved = True
    seen: set[tuple[Fraction, ...]] = set()
    for longest in lengths:
        sets = plan_sets(request, columns, longest)
        kind = tuple(sorted(one.length for one in sets))
        if kind in seen:
            continue
        seen.add(kind)
        wanted = _wanted(request, sets)
        orders = {key: _order(request, key, scraps[key], wanted[key]) for key in tight}
        known_orders = [order for order in orders.values() if order is not None]
        if any(lower_bound(order)[0] for order in known_orders):
            continue
        doubtful = (order for order in known_orders if cut_pieces(order, False).short_by)
        lacking = next(filter(None, (_shortage(order, effort) for order in doubtful)), None)
        if lacking is None:
            return longest, True
        proved = proved and lacking == "proved"
    return None, proved


def _shortage(order: Order, effort: Effort) -> str | None:
    """"proved" or "likely" where the scraps do not suffice, None where they do."""
    if not effort.spend():
        return "likely"
    if surely_short(order, cut_pieces(order, False)):
        return "proved"
    found = cut_pieces(order)
    return None if not found.short_by else "proved" if found.bound[0] else "likely"


def _scraps(
    request: Request, known: Mapping[str, Print]
) -> dict[str, tuple[Size, ...] | None]:
    """Scraps by print; a photograph measures no finer than 1/8 in, or the metric ruler."""
    grid = request.grid if request.units == "cm" else max(request.grid, EIGHTH)
    return {key: scraps_of(known[key], grid) for key in request.ids}


def _plenty(request: Request, key: str, sizes: tuple[Size, ...] | None) -> Fraction:
    """Most length of strip the scraps can give; very much where no size is known."""
    if sizes is None:
        return Fraction(10**9)
    cut = request.cut(request.strips[key])
    best = [ways_to_cut(size, cut, key in request.directional)[:1] for size in sizes]
    return sum((way.total for ways in best for way in ways), Fraction(0))


def _merit(cuttings: Mapping[str, Cutting | None], sets: Sets) -> Merit:
    found = [cutting for cutting in cuttings.values() if cutting]
    short = sum((cutting.short_by for cutting in found), Fraction(0))
    return short, sum(cutting.joins for cutting in found), len(sets)


def _set_lengths(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    columns: Sequence[Column],
    first: Fraction,
    most: int,
) -> list[Fraction]:
    """Other lengths worth trying: one set for all, and what the scraps' sides give."""
    widest = max(column.cut_width for column in columns) + request.squaring
    whole = request.squaring + sum((column.cut_width for column in columns), Fraction(0)) * (
        1 if request.tall else request.repeats
    )
    sides = {side for sizes in scraps.values() for size in sizes or () for side in size}
    parts = {round_down(side / part, request.grid) for side in sides for part in (1, 2, 3)}
    evenly = {round_up(whole / part, request.grid) for part in (1, 2, 3, 4)}
    lengths = {request.usable, *evenly, *parts} - {first}
    able = sorted((x for x in lengths if widest <= x <= request.usable), reverse=True)
    step = max(1, -(-len(able) // most))
    return able[::step]


def _cuttings(
    request: Request,
    scraps: Mapping[str, tuple[Size, ...] | None],
    sets: Sequence[StripSet],
    prove: bool,
) -> dict[str, Cutting | None]:
    lengths = _wanted(request, sets)
    return {key: _cutting(request, key, scraps[key], lengths[key], prove) for key in request.ids}


def _wanted(request: Request, sets: Sequence[StripSet]) -> dict[str, list[Fraction]]:
    """Lengths of the strips of each print, sets in order, each top to bottom."""
    lengths: dict[str, list[Fraction]] = {key: [] for key in request.ids}
    for one in sets:
        for key in one.order:
            lengths[key].append(one.length)
    return lengths


def _cutting(
    request: Request,
    key: str,
    sizes: tuple[Size, ...] | None,
    lengths: Sequence[Fraction],
    prove: bool,
) -> Cutting | None:
    order = _order(request, key, sizes, lengths)
    return None if order is None else cut_pieces(order, prove)


def _order(
    request: Request, key: str, sizes: tuple[Size, ...] | None, lengths: Sequence[Fraction]
) -> Order | None:
    if sizes is None:
        return None
    cut, how = request.cut(request.strips[key]), joining(request, key)
    ways = tuple(ways_to_cut(size, cut, key in request.directional) for size in sizes)
    return Order(ways, tuple(lengths), how.loss, how.shortest)


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


def take_stock(plan: Plan, prints: Sequence[Print]) -> Ledger:
    """The ledger behind a plan made with ``prove=True`` (others: what proving would make of it)."""
    from sequencer.plan.asking import ask
    from sequencer.plan.fabric import Scraps
    from sequencer.plan.follow import follow
    from sequencer.plan.setlength import best_set_length

    request, curve = ask(prints, plan.prints, plan.options["asked"])
    columns = follow(request, curve).columns
    known = {item.id: item for item in prints}
    first = best_set_length(request, columns, Scraps(request, known))
    return settle(request, known, columns, first)[1]
