"""Cutting a chain of strips, joined end to end, into strips wanted."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import islice, permutations, product

Parts = list[tuple[int, Fraction]]
MOST_ORDERS = 120


def cut_chain(
    strips: Sequence[Fraction], wanted: Sequence[Fraction], loss: Fraction, shortest: Fraction
) -> list[Parts] | None:
    """(strip, length) of the pieces of each strip wanted, none that is joined under ``shortest``.

    Tries several orders of the strips and of the strips wanted; None where none of them can be
    cut so.
    """
    first, second = _orders(strips), _orders(wanted)
    for order, turn in islice(product(first, second), MOST_ORDERS):
        found = _cut([strips[i] for i in order], [wanted[i] for i in turn], loss, shortest)
        if found is not None:
            made = dict(zip(turn, found, strict=True))
            return [
                [(order[at], length) for at, length in made[i]] for i in range(len(wanted))
            ]
    return None


def _orders(lengths: Sequence[Fraction]) -> list[tuple[int, ...]]:
    """Orders that differ in length somewhere, as they come first."""
    found: dict[tuple[Fraction, ...], tuple[int, ...]] = {}
    for order in islice(permutations(range(len(lengths))), 5000):
        found.setdefault(tuple(lengths[i] for i in order), order)
        if len(found) == MOST_ORDERS:
            break
    return list(found.values())


def _cut(
    strips: Sequence[Fraction], wanted: Sequence[Fraction], loss: Fraction, shortest: Fraction
) -> list[Parts] | None:
    """One after the other along the chain; a remnant too short to join is left over."""
    at, rest, found = 0, strips[0], []
    for length in wanted:
        parts: Parts = []
        need = length
        while need > 0:
            if parts and need < shortest:
                before, cut = parts[-1]
                if cut - (shortest - need) < shortest:
                    return None
                parts[-1], need = (before, cut - (shortest - need)), shortest
            if rest >= need:
                parts.append((at, need))
                rest, need = rest - need, Fraction(0)
                continue
            if rest >= shortest:
                parts.append((at, rest))
                need += loss - rest
            elif parts:
                return None
            at += 1
            if at == len(strips):
                return None
            rest = strips[at]
        found.append(parts)
    return found
