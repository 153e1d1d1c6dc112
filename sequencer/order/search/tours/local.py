"""A good closed tour, fast: chained Lin-Kernighan steps by flips, with neighbour lists.

Lin and Kernighan (1973); Johnson and McGeoch (1997); Applegate, Cook and Rohe (2003). The answer
is only a start: the exact model proves it or improves it. Same input → same tour.
"""

from __future__ import annotations

import random
import time
from collections import deque

import numpy as np

from sequencer.order.graph.costs import Floats, Ints

_BREADTH = (3, 2, 1, 1, 0)
"""Ways tried at each depth before giving up; at the last depth only closing counts."""

_LONGEST_TRIAL = 100
"""Longer stretches are turned only when that gains at once: trying costs too much."""


def near_neighbours(weights: Ints, count: int) -> Ints:
    """For each node its ``count`` nearest others, nearest first, ties by position; (n, count)."""
    n = len(weights)
    count = min(count, n - 1)
    own = weights.copy()
    np.fill_diagonal(own, np.iinfo(np.int64).max)
    if count < n - 1:
        part = np.argpartition(own, count, axis=1)[:, :count]
        part.sort(axis=1)
        near = np.take_along_axis(own, part, axis=1)
        return np.take_along_axis(part, np.argsort(near, axis=1, kind="stable"), axis=1)
    return np.argsort(own, axis=1, kind="stable")[:, :count]


def greedy_tour(weights: Ints, near: Ints) -> list[int]:
    """Shortest edges first, as long as they make paths; path ends are then joined nearest first."""
    n = len(weights)
    rows = np.repeat(np.arange(n), near.shape[1])
    columns = near.ravel()
    order = np.argsort(weights[rows, columns], kind="stable")
    links: list[list[int]] = [[] for _ in range(n)]
    other_end = list(range(n))
    for a, b in zip(rows[order].tolist(), columns[order].tolist(), strict=True):
        if len(links[a]) < 2 and len(links[b]) < 2 and other_end[a] != b:
            links[a].append(b)
            links[b].append(a)
            end_a, end_b = other_end[a], other_end[b]
            other_end[end_a], other_end[end_b] = end_b, end_a
    return _joined(weights, links, other_end)


def _joined(weights: Ints, links: list[list[int]], other_end: list[int]) -> list[int]:
    ends = {v for v in range(len(links)) if len(links[v]) < 2}
    start = min(ends) if ends else 0
    tour: list[int] = []
    while True:
        ends -= {start, other_end[start]}
        previous, here = -1, start
        while True:
            tour.append(here)
            onward = [v for v in links[here] if v != previous]
            if not onward or onward[0] == start:
                break
            previous, here = here, onward[0]
        if not ends:
            return tour
        choices = np.array(sorted(ends))
        start = int(choices[np.argmin(weights[tour[-1], choices])])


def tour_weight(weights: Ints, tour: list[int]) -> int:
    """Weight of the closed tour."""
    at = np.array(tour)
    return int(weights[at, np.roll(at, -1)].sum())


class Tour:
    """A tour that can be improved in place."""

    def __init__(self, weights: Ints, near: Ints, tour: list[int]) -> None:
        self.n = len(tour)
        self.rows = weights.tolist()
        self.near = near.tolist()
        self.tour = list(tour)
        self.place = [0] * self.n
        for i, v in enumerate(tour):
            self.place[v] = i

    def flip(self, a: int, b: int) -> None:
        """Reverse the stretch from a forward to b (or, the same tour, all the rest)."""
        tour, place, n = self.tour, self.place, self.n
        i, j = place[a], place[b]
        length = j - i + 1 if j >= i else j - i + 1 + n
        if 2 * length > n:
            i, j, length = (j + 1) % n, (i - 1) % n, n - length
        if i <= j:
            tour[i : j + 1] = tour[i : j + 1][::-1]
            for k in range(i, j + 1):
                place[tour[k]] = k
            return
        for _ in range(length // 2):
            u, v = tour[i], tour[j]
            tour[i], tour[j] = v, u
            place[v], place[u] = i, j
            i = i + 1 if i + 1 < n else 0
            j = j - 1 if j else n - 1

    def improve_from(self, base: int, touched: list[int]) -> int:
        """One Lin-Kernighan step from this node, forward then backward; the weight gained."""
        for step in (1, -1):
            end = self.tour[(self.place[base] + step) % self.n]
            gain = self._deepen(base, end, 0, 0, touched)
            if gain > 0:
                touched.append(base)
                return gain
        return 0

    def _deepen(self, base: int, end: int, depth: int, gained: int, touched: list[int]) -> int:
        """Open the tour at base, lead its loose end to a near node, close; deeper while it pays."""
        tour, place, rows, n = self.tour, self.place, self.rows, self.n
        step = 1 if tour[(place[base] + 1) % n] == end else -1
        row, base_row = rows[end], rows[base]
        loose = gained + base_row[end]
        options: list[tuple[int, int, int]] = []
        best, pick = 0, (0, 0)
        for near in self.near[end]:
            left = loose - row[near]
            if left <= 0:
                break
            beyond = tour[(place[near] - step) % n]
            if near == base or beyond == end:
                continue
            left += rows[near][beyond]
            total = left - base_row[beyond]
            if total > best:
                best, pick = total, (near, beyond)
            options.append((left, near, beyond))
        if best > 0:
            self._turn(base, end, pick[1])
            touched += (end, *pick)
            return best
        breadth = _BREADTH[depth]
        if not breadth:
            return 0
        if len(options) > breadth:
            options.sort(key=_first, reverse=True)
        for left, near, beyond in options[:breadth]:
            apart = abs(place[end] - place[beyond])
            if min(apart, n - apart) > _LONGEST_TRIAL:
                continue
            self._turn(base, end, beyond)
            total = self._deepen(base, beyond, depth + 1, left - base_row[beyond], touched)
            if total > 0:
                touched += (end, near, beyond)
                return total
            self._turn(base, beyond, end)
        return 0

    def _turn(self, base: int, a: int, b: int) -> None:
        """Turn round the stretch a … b that follows base, whichever way the tour now runs."""
        if self.tour[(self.place[base] + 1) % self.n] == a:
            self.flip(a, b)
        else:
            self.flip(b, a)

    def settle(self, dirty: list[int], deadline: float = float("inf")) -> int:
        """Improve until no step from any node helps, or time is up; the weight gained."""
        queue = deque(dirty)
        waiting = set(dirty)
        total = steps = 0
        while queue:
            steps += 1
            if steps % 256 == 0 and time.monotonic() > deadline:
                break
            base = queue.popleft()
            waiting.discard(base)
            touched: list[int] = []
            gain = self.improve_from(base, touched)
            total += gain
            for v in touched:
                if v not in waiting:
                    waiting.add(v)
                    queue.append(v)
        return total

    def kick(self, rng: random.Random) -> tuple[int, list[int]]:
        """Swap two short neighbouring stretches (a local double bridge); the weight lost."""
        n, tour, rows = self.n, self.tour, self.rows
        reach = min(50, (n - 2) // 2)
        start = rng.randrange(n)
        first, second = rng.randint(1, reach), rng.randint(1, reach)
        at = [(start + k) % n for k in range(first + second + 2)]
        stretch = [tour[k] for k in at]
        a, b, c, d = stretch[0], stretch[1], stretch[first], stretch[first + 1]
        e, f = stretch[-2], stretch[-1]
        moved = [a, *stretch[first + 1 : -1], *stretch[1 : first + 1], f]
        for k, v in zip(at, moved, strict=True):
            tour[k] = v
            self.place[v] = k
        lost = rows[a][d] + rows[e][b] + rows[c][f] - rows[a][b] - rows[c][d] - rows[e][f]
        return lost, [a, b, c, d, e, f]


def _first(option: tuple[int, int, int]) -> int:
    return option[0]


def good_tour(weights: Ints, *, kicks: int, deadline: float) -> list[int]:
    """A good closed tour by chained Lin-Kernighan; ``weights`` (n, n) symmetric, n ≥ 5."""
    near = near_neighbours(weights, 8)
    return chained(weights, near, greedy_tour(weights, near), kicks=kicks, deadline=deadline)


def polished(
    weights: Ints, potential: Floats, price: Floats, tour: list[int], *, kicks: int, deadline: float
) -> list[int]:
    """A better tour, sought where a relaxation points (after Helsgaun 2000).

    ``potential``: (n,) duals of the nodes; taking them off every edge changes no tour's rank but
    makes most edges plainly bad. ``price``: (n, n) reduced costs, which choose the neighbours.
    """
    whole = np.rint(potential).astype(np.int64)  # before use, so that the matrix stays symmetric
    bent = weights - whole[:, None] - whole[None, :]
    near = near_neighbours(np.rint(price).astype(np.int64), 5)
    return chained(bent, near, tour, kicks=kicks, deadline=deadline)


def chained(
    weights: Ints, near: Ints, start: list[int], *, kicks: int, deadline: float
) -> list[int]:
    """Settle, then kick and settle again, keeping what is no worse.

    Stops after ``kicks`` or at ``deadline`` (time.monotonic), whichever comes first.
    """
    tour = Tour(weights, near, start)
    tour.settle(list(tour.tour), deadline)
    rng = random.Random(1)
    for count in range(kicks):
        if count % 16 == 0 and time.monotonic() > deadline:
            break
        before = (list(tour.tour), list(tour.place))
        lost, dirty = tour.kick(rng)
        if lost > tour.settle(dirty):
            tour.tour, tour.place = before
    return tour.tour
