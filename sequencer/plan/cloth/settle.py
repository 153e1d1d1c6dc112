"""Settling the ledger: strip sets that suit the scraps, every strip cut, joins moved aside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from sequencer.inches import EIGHTH, round_down, round_up
from sequencer.models import Column, Print
from sequencer.plan.asked import Request
from sequencer.plan.cloth.ledger import Ledger
from sequencer.plan.cloth.pieces import Cutting, Order, lower_bound
from sequencer.plan.cloth.placing import joining, place_strips
from sequencer.plan.cloth.proof import cut_pieces, surely_short
from sequencer.plan.cloth.stock import Size, scraps_of, ways_to_cut
from sequencer.plan.sewing import StripSet, plan_sets

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
    return best[1], place_strips(request, scraps, best[1], best[2])


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
