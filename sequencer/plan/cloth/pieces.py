"""Strips cut from scraps and joined end to end: the least shortage, then the fewest joins.

A cutting-stock problem (Gilmore and Gomory, Operations Research 9 (1961) 849) in which a piece
ordered may also be put together from several, each join costing a known length, and in which
each scrap may be cut one way or the other. First-fit decreasing gives an answer at once; where
it does not meet the lower bound, HiGHS proves the best or states what it could not prove.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import islice, product

from sequencer.plan.cloth.stock import Way

MOST_MIXES = 32
"""Mixes of cutting directions tried one by one before the solver."""
ABSENT = -1
"""Number of the scrap that a piece comes from when no scrap holds it."""


@dataclass(frozen=True)
class Piece:
    """``length`` of strip cut from strip ``strip`` of scrap ``scrap`` (ABSENT: not in the box)."""

    scrap: int
    strip: int
    length: Fraction


@dataclass(frozen=True)
class Cutting:
    """How one print's strips are made; a strip that the scraps cannot give is ABSENT as a whole.

    ``ways``: how each scrap is cut, None where it gives nothing. ``strips``: the pieces of each
    strip ordered. ``left``: what remains of each strip cut. ``short_by``: length of strips
    that are absent. ``status``: optimal, or bounded by ``bound`` (least shortage, least joins).
    """

    ways: tuple[Way | None, ...]
    strips: tuple[tuple[Piece, ...], ...]
    left: tuple[Piece, ...]
    short_by: Fraction
    joins: int
    status: str
    bound: tuple[Fraction, int]


@dataclass(frozen=True)
class Order:
    """What is wanted of one print.

    ``scraps``: the ways to cut each. ``lengths``: of the strips wanted. ``loss``: length a join
    costs. ``shortest``: piece worth joining (more than ``loss``).
    """

    scraps: tuple[tuple[Way, ...], ...]
    lengths: tuple[Fraction, ...]
    loss: Fraction
    shortest: Fraction


@lru_cache(maxsize=4096)
def quick_pieces(order: Order) -> Cutting:
    """A cutting with little shortage, then few joins, at once; ``status`` says what is known."""
    bound = lower_bound(order)
    best: Cutting | None = None
    for ways in _mixes(order):
        for turn, whole_first in _turns(order.lengths):
            found = _first_fit(order, ways, bound, turn, whole_first)
            if best is None or _merit(found) < _merit(best):
                best = found
            if not found.short_by:
                break
        assert best is not None
        if _merit(best) == bound:
            break
    assert best is not None
    return best


def _merit(cutting: Cutting) -> tuple[Fraction, int]:
    return cutting.short_by, cutting.joins


def _mixes(order: Order) -> list[tuple[Way | None, ...]]:
    """Mixes of ways, those that give most strip first."""
    choices: list[tuple[Way | None, ...]] = [ways or (None,) for ways in order.scraps]
    if math.prod(map(len, choices)) <= MOST_MIXES:
        return list(product(*choices))
    longest = max(order.lengths)
    fit = tuple(max(ways, key=lambda way: _whole(way, longest)) for ways in choices)
    return [fit, *islice(product(*choices), MOST_MIXES - 1)]


def _turns(lengths: Sequence[Fraction]) -> Iterator[tuple[list[int], bool]]:
    """Longest first, whole strips before joined ones; then, for where cloth lacks, as they come,
    and with each length in turn left to the last.
    """
    first = sorted(range(len(lengths)), key=lambda i: (-lengths[i], i))
    yield first, True
    distinct = sorted(set(lengths))
    if len(distinct) > 1:
        yield first, False
        for length in distinct:
            last = max(i for i in first if lengths[i] == length)
            yield [*(i for i in first if i != last), last], False


def _whole(way: Way | None, length: Fraction) -> tuple[int, Fraction]:
    return (0, Fraction(0)) if way is None else (
        way.count * math.floor(way.length / length), way.total)  # fmt: skip


def lower_bound(order: Order) -> tuple[Fraction, int]:
    """No cutting is shorter of cloth, or (where nothing lacks) has fewer joins, than this.

    Joins: a strip longer than the longest there is needs several, and of the shortest wanted only
    so many can be cut whole. Shortage: all lengths less all there is.
    """
    ways = [way for scrap in order.scraps for way in scrap]
    longest = max((way.length for way in ways), default=Fraction(0))
    wanted = sum(order.lengths, Fraction(0))
    if longest <= order.loss:  # nothing can be joined
        return sum((length for length in order.lengths if length > longest), Fraction(0)), 0
    joins = sum(
        max(0, math.ceil((length - order.loss) / (longest - order.loss)) - 1)
        for length in order.lengths
    )
    held = sum((max(way.total for way in scrap) for scrap in order.scraps if scrap), Fraction(0))
    least = min(order.lengths)
    whole = sum(max(_whole(way, least)[0] for way in scrap) for scrap in order.scraps if scrap)
    joins = max(joins, len(order.lengths) - whole)
    lacks = max(Fraction(0), wanted - held)
    if wanted + joins * order.loss > held:  # not all can be made, so one whole strip lacks at least
        lacks = max(lacks, least)
    if least == max(order.lengths):
        lacks = math.ceil(lacks / least) * least
    return lacks, 0 if lacks else joins


class _Strip:
    """A strip as cut from its scrap, and what is left of it."""

    def __init__(self, scrap: int, number: int, length: Fraction) -> None:
        self.scrap, self.number, self.left = scrap, number, length

    def take(self, length: Fraction) -> Piece:
        self.left -= length
        return Piece(self.scrap, self.number, length)


def stock(ways: Sequence[Way | None]) -> list[tuple[int, int, Fraction]]:
    """(scrap, strip, length) of every strip that these ways give."""
    return [
        (scrap, number, way.length)
        for scrap, way in enumerate(ways)
        if way is not None
        for number in range(way.count)
    ]


def _first_fit(
    order: Order,
    ways: tuple[Way | None, ...],
    bound: tuple[Fraction, int],
    turn: Sequence[int],
    whole_first: bool,
) -> Cutting:
    """In turn, each from the strip it leaves least of; what is left over is joined."""
    strips = [_Strip(*item) for item in stock(ways)]
    made: dict[int, list[Piece]] = {}
    if whole_first:
        for wanted in turn:
            _whole_strip(strips, order.lengths[wanted], wanted, made)
    for wanted in turn:
        if wanted not in made and not _whole_strip(strips, order.lengths[wanted], wanted, made):
            made[wanted] = _joined(order, strips, order.lengths[wanted])
    pieces = tuple(tuple(made[i]) for i in range(len(order.lengths)))
    return finish(order, ways, pieces, bound)


def _whole_strip(
    strips: Sequence[_Strip], length: Fraction, wanted: int, made: dict[int, list[Piece]]
) -> bool:
    """Cut the strip whole from the one it leaves least of, if there is one."""
    fits = [strip for strip in strips if strip.left >= length]
    if fits:
        best = min(fits, key=lambda strip: (strip.left, strip.scrap, strip.number))
        made[wanted] = [best.take(length)]
    return bool(fits)


def _joined(order: Order, strips: Sequence[_Strip], length: Fraction) -> list[Piece]:
    """Pieces of the longest remnants, the last the shortest that still reaches; else ABSENT."""
    loss, shortest = order.loss, order.shortest
    usable = sorted(
        (strip for strip in strips if strip.left >= shortest),
        key=lambda strip: (-strip.left, strip.scrap, strip.number),
    )
    need = length
    for count, strip in enumerate(usable):
        enough = [one for one in usable[count:] if one.left >= need]
        if count and enough:
            last = max(need, shortest)
            pieces = [one.take(one.left) for one in usable[:count]]
            return [*_lend(pieces, usable[count - 1], last - need, shortest),
                    enough[-1].take(last)]  # fmt: skip
        need += loss - strip.left
    return [Piece(ABSENT, 0, length)]


def _lend(pieces: list[Piece], strip: _Strip, surplus: Fraction, shortest: Fraction) -> list[Piece]:
    """Take from the last piece what the one after it, cut long enough to join, has too much."""
    last = pieces[-1]
    back = min(surplus, max(Fraction(0), last.length - shortest))
    strip.left += back
    return [*pieces[:-1], Piece(last.scrap, last.strip, last.length - back)]


def finish(
    order: Order,
    ways: tuple[Way | None, ...],
    pieces: tuple[tuple[Piece, ...], ...],
    bound: tuple[Fraction, int],
) -> Cutting:
    """The cutting with its left-overs counted and compared with the bound."""
    left = {(scrap, number): length for scrap, number, length in stock(ways)}
    short = Fraction(0)
    for piece in (piece for strip in pieces for piece in strip):
        if piece.scrap == ABSENT:
            short += piece.length
        else:
            left[piece.scrap, piece.strip] -= piece.length
    joins = sum(len(strip) - 1 for strip in pieces)
    status = "optimal" if (short, joins) == bound else "bounded"
    rest = tuple(Piece(*key, length) for key, length in left.items() if length)
    return Cutting(ways, pieces, rest, short, joins, status, bound)
