"""An order at once, whatever the clock says: cheapest insertion.

Starts from what must be in, then puts in whatever costs least where it costs least (Rosenkrantz,
Stearns and Lewis, SIAM J. Comput. 6, 1977). Never proved, so only where a search ran out of time
before its first order, or as a start.
"""

from __future__ import annotations

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Floats, Ints
from sequencer.order.search.question import Question

_MOST_WORK = 4_000_000_000
"""Places tried; beyond, a box has its first tour from elsewhere or none."""


def inserted(q: Question) -> tuple[int, ...] | None:
    """An order that keeps every rule, or None where insertion finds none (there may be one)."""
    if q.size * q.size * q.count > _MOST_WORK:
        return None
    order, waiting = _start(q)
    free = [v for v in range(q.count) if v not in order and v not in waiting]
    while waiting or (free and len(order) < q.size):
        choices = waiting or free
        v, place = _cheapest(q, order, choices)
        order.insert(place, v)
        choices.remove(v)
    return tuple(order) if len(order) == q.size and q.accepts(order) else None


def _start(q: Question) -> tuple[list[int], list[int]]:
    """Ends or the first print, in order; and what must still come in."""
    needed = set(q.include) | (set() if q.size < q.count else set(range(q.count)))
    needed |= _range_keepers(q, needed)
    order = [v for v in (q.first, q.last) if v is not None]
    if q.loop and len(order) == 2:
        order = order[:1] if order[0] == order[1] else order
    if not order:
        cheapest = np.where(q.weights < FORBIDDEN, q.weights, FORBIDDEN).min(axis=1)
        among = sorted(needed) or list(range(q.count))
        order = [among[int(cheapest[among].argmin())]]
    return order, sorted(needed - set(order))


def _range_keepers(q: Question, needed: set[int]) -> set[int]:
    """Two prints that span the range asked for, the cheapest pair; those there count as free."""
    if q.value_range <= 0 or q.value is None:
        return set()
    there = [*needed, *(v for v in (q.first, q.last) if v is not None)]
    far = np.abs(q.value[:, None] - q.value[None, :]) >= q.value_range
    price = np.where(far, np.minimum(q.weights, FORBIDDEN).astype(float), np.inf)
    price[there] -= 2.0 * FORBIDDEN
    price[:, there] -= 2.0 * FORBIDDEN
    a, b = np.unravel_index(int(price.argmin()), price.shape)
    return {int(a), int(b)} if far[a, b] else set()


def _cheapest(q: Question, order: list[int], choices: list[int]) -> tuple[int, int]:
    """Which of these costs least to put in, and at which place of the list."""
    some = np.array(choices)
    price = _prices(q, order, some)
    for pair in q.together:
        for v, mate in (pair, pair[::-1]):
            if v in choices and mate in order:
                at = order.index(mate)
                beside = np.isin(np.arange(len(order) + 1), (at, at + 1))
                price[choices.index(v), ~beside] += 4.0 * FORBIDDEN
            if v in order and mate in order and abs(order.index(v) - order.index(mate)) == 1:
                price[:, max(order.index(v), order.index(mate))] += 4.0 * FORBIDDEN
    for a, b in q.before:
        if b in choices and a in order:
            price[choices.index(b), : order.index(a) + 1] += 4.0 * FORBIDDEN
        if a in choices and b in order:
            price[choices.index(a), order.index(b) + 1 :] += 4.0 * FORBIDDEN
    row, place = np.unravel_index(int(price.argmin()), price.shape)
    return choices[int(row)], int(place)


def _prices(q: Question, order: list[int], some: Ints) -> Floats:
    """(choices, places): what each costs more, put in before the print that stands there now."""
    at = np.array(order)
    to = q.weights[np.ix_(some, at)].astype(float)
    price = np.empty((len(some), len(order) + 1))
    price[:, 1:-1] = to[:, :-1] + to[:, 1:] - q.weights[at[:-1], at[1:]]
    price[:, 0], price[:, -1] = to[:, 0], to[:, -1]
    if q.loop and len(order) > 1:
        around = to[:, 0] + to[:, -1] - float(q.weights[at[-1], at[0]])
        price[:, 0] = price[:, -1] = around
    if q.first is not None:
        price[:, 0] = 8.0 * FORBIDDEN
    if q.last is not None:
        price[:, -1] = 8.0 * FORBIDDEN
    return price
