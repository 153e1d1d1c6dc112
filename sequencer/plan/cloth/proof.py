"""The best cutting of one print's scraps, proved by integer programming (HiGHS).

Patterns after Gilmore and Gomory (1961), widened to joins: a pattern is a chain of strips joined
end to end and cut into strips wanted. A chain of u strips costs u - 1 joins, and its lengths
must hold

    sum of strips - loss (u - 1) >= sum of strips wanted.

However pieces are cut and joined, the strips that hang together through them keep that
inequality with at least u - 1 joins; so the best choice of chains is a lower bound on every
cutting, and where the chains can be cut with no piece too short to sew, it is the optimum.
Strips of one length are interchangeable, so a pattern only counts them.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from sequencer.plan.cloth.chains import cut_chain
from sequencer.plan.cloth.patterns import Pattern, find_patterns
from sequencer.plan.cloth.pieces import ABSENT, Cutting, Order, Piece, finish, quick_pieces, stock
from sequencer.plan.cloth.solver import Program
from sequencer.plan.cloth.stock import Way

MOST_LENGTHS = 12
COARSER = (4, 3, 2)
"""Different lengths wanted that are looked at as they are, and then taken together."""


@lru_cache(maxsize=4096)
def cut_pieces(order: Order, prove: bool = True) -> Cutting:
    """The cutting with the least shortage, then the fewest joins; quick where not to be proved."""
    quick = quick_pieces(order)
    return prove_pieces(order, quick) if prove and quick.status != "optimal" else quick


def prove_pieces(order: Order, quick: Cutting) -> Cutting:
    """The proved best cutting, or ``quick`` with the best bound known.

    Where the lengths wanted are too many for every pattern to be looked at, those that are close
    are first taken as short as the shortest of them: easier to cut, so a bound for the real ones.
    """
    for kinds in (MOST_LENGTHS, *COARSER):
        easier = order if kinds == MOST_LENGTHS else _coarser(order, kinds)
        have = sorted({way.length for scrap in order.scraps for way in scrap}, reverse=True)
        want = sorted(set(easier.lengths), reverse=True)
        if len(want) > kinds:
            continue
        patterns = find_patterns(easier, quick, have, want)
        if not patterns:
            continue
        chosen, missing, ways, solved = _solve(easier, patterns, have, want)
        if not solved:
            continue
        lacks = (times * length for times, length in zip(missing, want, strict=True))
        bound = sum(lacks, Fraction(0)), sum(times * one.joins for one, times in chosen.items())
        if easier is order:
            made = _make(order, chosen, missing, ways, have, want)
            if made is not None:
                found = finish(order, ways, made, bound)
                if (found.short_by, found.joins) <= (quick.short_by, quick.joins):
                    return found
        return finish(order, quick.ways, quick.strips, max(bound, quick.bound))
    return quick


def surely_short(order: Order, quick: Cutting) -> bool:
    """Whether some strip is lacking even if the lengths wanted are taken as two short ones.

    A small model that says yes at once where cloth clearly lacks; no means nothing.
    """
    easier = _coarser(order, 2)
    have = sorted({way.length for scrap in order.scraps for way in scrap}, reverse=True)
    want = sorted(set(easier.lengths), reverse=True)
    patterns = find_patterns(easier, quick, have, want)
    if not patterns:
        return False
    _, missing, _, solved = _solve(easier, patterns, have, want)
    return solved and any(missing)


def _coarser(order: Order, kinds: int) -> Order:
    """The order with at most ``kinds`` lengths, split where they lie farthest apart."""
    distinct = sorted(set(order.lengths))
    gaps = sorted(range(1, len(distinct)), key=lambda i: (distinct[i - 1] - distinct[i], i))
    starts = sorted([0, *gaps[: kinds - 1]])
    least = {
        length: distinct[max(start for start in starts if start <= at)]
        for at, length in enumerate(distinct)
    }
    return replace(order, lengths=tuple(least[length] for length in order.lengths))


# ── the program ───────────────────────────────────────────────────────────────────────────


def _solve(
    order: Order, patterns: Sequence[Pattern], have: Sequence[Fraction], want: Sequence[Fraction]
) -> tuple[dict[Pattern, int], list[int], tuple[Way | None, ...], bool]:
    """How often each pattern is cut, what is missing, each scrap's way, and whether proved."""
    counts = Counter(order.lengths)
    unit = math.lcm(*(length.denominator for length in want))
    heavy = len(order.lengths) + sum(w.count for scrap in order.scraps for w in scrap) + 1
    program = Program()
    times = [program.add(one.joins, len(order.lengths)) for one in patterns]
    missing = [program.add(int(length * unit) * heavy, counts[length]) for length in want]
    choice = [[program.add(0, 1) for _ in scrap] for scrap in order.scraps]
    for columns in choice:
        if columns:
            program.at_most(1, [(column, 1) for column in columns])
    for at, length in enumerate(have):
        used = [(times[i], one.strips[at]) for i, one in enumerate(patterns) if one.strips[at]]
        given = [
            (choice[scrap][way], -one.count)
            for scrap, ways in enumerate(order.scraps)
            for way, one in enumerate(ways) if one.length == length
        ]  # fmt: skip
        program.at_most(0, [*used, *given])
    for at, length in enumerate(want):
        made = [(times[i], one.wanted[at]) for i, one in enumerate(patterns) if one.wanted[at]]
        program.at_least(counts[length], [*made, (missing[at], 1)])
    value, solved = program.solve()
    chosen = {one: value[times[i]] for i, one in enumerate(patterns) if value[times[i]]}
    ways: list[Way | None] = []
    for scrap, columns in zip(order.scraps, choice, strict=True):
        picked = [way for way, column in zip(scrap, columns, strict=True) if value[column]]
        ways.append(picked[0] if picked else scrap[0] if scrap else None)
    return chosen, [value[column] for column in missing], tuple(ways), solved


# ── from patterns to pieces ───────────────────────────────────────────────────────────────


def _make(
    order: Order,
    chosen: dict[Pattern, int],
    missing: Sequence[int],
    ways: tuple[Way | None, ...],
    have: Sequence[Fraction],
    want: Sequence[Fraction],
) -> tuple[tuple[Piece, ...], ...] | None:
    """The pieces of every strip wanted, or None where some would be too short to sew."""
    open_ = {
        length: [i for i, one in enumerate(order.lengths) if one == length] for length in want
    }
    strips = {length: [item for item in stock(ways) if item[2] == length] for length in have}
    made: dict[int, tuple[Piece, ...]] = {}
    for length, times in zip(want, missing, strict=True):
        for _ in range(times):
            made[open_[length].pop()] = (Piece(ABSENT, 0, length),)
    for pattern in sorted(chosen, key=lambda one: (one.joins, one.strips, one.wanted)):
        for _ in range(chosen[pattern]):
            chain = [
                strips[length].pop(0)
                for length, count in zip(have, pattern.strips, strict=True) for _ in range(count)
            ]  # fmt: skip
            targets = [
                open_[length].pop(0)
                for length, count in zip(want, pattern.wanted, strict=True)
                for _ in range(min(count, len(open_[length])))
            ]
            cut = cut_chain([length for *_, length in chain], [order.lengths[i] for i in targets],
                            order.loss, order.shortest)  # fmt: skip
            if cut is None:
                return None
            for target, parts in zip(targets, cut, strict=True):
                made[target] = tuple(Piece(*chain[at][:2], length) for at, length in parts)
    return tuple(made[i] for i in range(len(order.lengths)))
