"""Partial optimal transport between colour palettes, exact, over many pairs at once.

A palette is a handful of colours with shares. Moving the cheapest part s of one palette's mass on
to another costs C(s): the earth mover's distance of Rubner, Tomasi and Guibas (Int. J. Comput.
Vision 40, 2000) when s is everything, its partial form when s is less. C is convex and piecewise
linear, and successive shortest augmenting paths (Ford and Fulkerson 1962; Ahuja, Magnanti and
Orlin 1993, section 9.7) walk along it from 0: one run yields the cost of every share.

Masses are whole millionths and distances whole ten-thousandths, held in float64, so every sum is
exact: the curve does not depend on the order of the palettes or on the machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequencer.colour.spaces import Floats

MASS = 1_000_000
GRAIN = 10_000
_CHUNK = 4096


@dataclass(frozen=True)
class Transport:
    """What moving part of P palettes costs.

    ``curve``: (P, S) cost C(s) at each share asked for. ``moved``: (P, C) mass matched at no more
    than each ceiling a piece. ``flow``: (P, m, n) the match itself, None unless it was asked for.
    """

    curve: Floats
    moved: Floats
    flow: Floats | None


def whole_masses(shares: ArrayLike) -> Floats:
    """Rows of shares (N, m), zero where a palette is short, as millionths that add up exactly.

    The rounding rest goes to the largest share.

    Raises:
        ValueError: a share is negative or not finite, or a row adds up to nothing.
    """
    rows = np.atleast_2d(np.asarray(shares, dtype=float))
    total = rows.sum(axis=1, keepdims=True)
    if not np.isfinite(rows).all() or (rows < 0).any() or (total <= 0).any():
        raise ValueError("shares must be finite, not negative, and add up to more than nothing")
    masses: Floats = np.rint(rows / total * MASS)
    largest = masses.argmax(axis=1)
    masses[np.arange(len(rows)), largest] += MASS - masses.sum(axis=1)
    return masses


def partial_transport(
    distances: ArrayLike,
    supply: Floats,
    demand: Floats,
    shares: tuple[float, ...] = (1.0,),
    ceilings: tuple[float, ...] = (np.inf,),
    with_flow: bool = False,
) -> Transport:
    """The cheapest way to move each share of the mass.

    Args:
        distances: (P, m, n), between each colour of the one palette and each of the other, ≥ 0.
        supply: (P, m) masses from :func:`whole_masses`.
        demand: (P, n) likewise.
        shares: ascending, each in (0, 1].
        ceilings: ascending; ``moved`` counts mass while the next piece costs at most each. Every
            piece of that match then lies within it, for leaving out a dearer one would pay.
        with_flow: keep the match at the last ceiling; nothing beyond it is then computed, so the
            curve is only filled that far.

    Raises:
        ValueError: a distance is negative or not finite.
    """
    if not (np.asarray(distances) >= 0).all() or not np.isfinite(distances).all():
        raise ValueError("distances must be finite and not negative")
    cost = np.rint(np.asarray(distances, dtype=float) * GRAIN)
    pairs = len(cost)
    marks = np.rint(np.asarray(shares) * MASS)
    curve = np.zeros((pairs, len(marks)))
    moved = np.zeros((pairs, len(ceilings)))
    limits = np.array(ceilings) * GRAIN
    flow = np.zeros(cost.shape) if with_flow else None
    for start in range(0, pairs, _CHUNK):
        part = slice(start, start + _CHUNK)
        run = _Run(cost[part], supply[part], demand[part], marks, limits, with_flow)
        run.augment_all()
        curve[part] = run.curve
        moved[part] = run.moved
        if flow is not None:
            flow[part] = run.kept
    return Transport(curve / (MASS * GRAIN), moved / MASS, None if flow is None else flow / MASS)


class _Run:
    """One chunk of pairs, all augmented in step; a pair leaves when its last mark is reached."""

    def __init__(
        self,
        cost: Floats,
        supply: Floats,
        demand: Floats,
        marks: Floats,
        ceilings: Floats,
        with_flow: bool,
    ) -> None:
        self.cost, self.supply, self.demand = cost, supply.copy(), demand.copy()
        self.marks, self.ceilings, self.with_flow = marks, ceilings, with_flow
        self.flow = np.zeros(cost.shape)
        self.live = np.arange(len(cost))
        self.done = np.zeros(len(cost))
        self.curve = np.zeros((len(cost), len(marks)))
        self.moved = np.zeros((len(cost), len(ceilings)))
        self.kept = np.zeros(cost.shape)

    def augment_all(self) -> None:
        while len(self.live):
            reach, from_i, from_j = self._shortest_paths()
            last = np.where(self.demand > 0, reach, np.inf).argmin(axis=1)
            price = reach[np.arange(len(last)), last]
            amount = self._push(last, from_i, from_j)
            self._record(price, amount)
            self._drop_finished(price)

    def _shortest_paths(self) -> tuple[Floats, NDArray[np.intp], NDArray[np.intp]]:
        """Bellman-Ford from every colour with mass left; exact integers, so no false cycles."""
        at_i = np.where(self.supply > 0, 0.0, np.inf)
        at_j = np.full(self.demand.shape, np.inf)
        back = np.where(self.flow > 0, self.cost, -np.inf)
        from_i = np.full(at_j.shape, -1, dtype=np.intp)
        from_j = np.full(at_i.shape, -1, dtype=np.intp)
        while True:
            # Only a strictly shorter way replaces a known one: a tie could close a circle.
            at_j, from_i, moved = _relax(at_j, from_i, at_i[:, :, None] + self.cost, axis=1)
            if not moved:
                return at_j, from_i, from_j
            at_i, from_j, moved = _relax(at_i, from_j, at_j[:, None, :] - back, axis=2)
            if not moved:
                return at_j, from_i, from_j

    def _push(
        self, last: NDArray[np.intp], from_i: NDArray[np.intp], from_j: NDArray[np.intp]
    ) -> Floats:
        """Send as much as each path bears; returns the amounts.

        The paths are walked back from their last colour: forward legs i → j bear anything,
        backward legs j → i bear the flow they undo, the start bears what is left of its mass.
        """
        pairs = np.arange(len(last))
        amount = self.demand[pairs, last]
        legs: list[tuple[float, NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]] = []
        starts: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
        rows, j = pairs, last
        while len(rows):
            i = from_i[rows, j]
            legs.append((1.0, rows, i, j))
            before = from_j[rows, i]
            start, on = before < 0, before >= 0
            starts.append((rows[start], i[start]))
            bears = self.supply[rows[start], i[start]]
            amount[rows[start]] = np.minimum(amount[rows[start]], bears)
            rows, i, j = rows[on], i[on], before[on]
            amount[rows] = np.minimum(amount[rows], self.flow[rows, i, j])
            legs.append((-1.0, rows, i, j))
        for sign, rows, i, j in legs:
            self.flow[rows, i, j] += sign * amount[rows]
        for rows, i in starts:
            self.supply[rows, i] -= amount[rows]
        self.demand[pairs, last] -= amount
        return amount

    def _record(self, price: Floats, amount: Floats) -> None:
        """Book this stretch of the curve, on which every piece costs ``price``."""
        stretch = np.clip(self.marks[None, :] - self.done[:, None], 0.0, amount[:, None])
        self.curve[self.live] += price[:, None] * stretch
        self.done += amount
        for i, ceiling in enumerate(self.ceilings):
            within = price <= ceiling
            self.moved[self.live[within], i] = self.done[within]
        if self.with_flow:
            self.kept[self.live[within]] = self.flow[within]  # of the last ceiling

    def _drop_finished(self, price: Floats) -> None:
        """Pairs past their last mark and past the ceiling need no more paths."""
        enough = (self.done >= self.marks[-1]) & (price > self.ceilings[-1])
        if self.with_flow:
            enough = price > self.ceilings[-1]
        stay = ~(enough | (self.done >= MASS))
        if stay.all():
            return
        for name in ("cost", "supply", "demand", "flow", "live", "done"):
            setattr(self, name, getattr(self, name)[stay])


def _relax(
    known: Floats, via: NDArray[np.intp], ways: Floats, axis: int
) -> tuple[Floats, NDArray[np.intp], bool]:
    """Take the shortest of ``ways`` along ``axis`` wherever it beats what is known."""
    found = ways.min(axis=axis)
    better = found < known
    if not better.any():
        return known, via, False
    return np.where(better, found, known), np.where(better, ways.argmin(axis=axis), via), True
