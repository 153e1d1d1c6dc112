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

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequencer.colour.spaces import Floats

Places = NDArray[np.int8]
"""Which of a palette's colours; -1 none."""
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
        curve[part] = run.curve.T
        moved[part] = run.moved.T
        if flow is not None:
            flow[part] = np.moveaxis(run.kept, -1, 0)
    return Transport(curve / (MASS * GRAIN), moved / MASS, None if flow is None else flow / MASS)


class _Run:
    """One chunk of pairs, all augmented in step; a pair leaves when its last mark is reached.

    Pairs lie along the last axis of every array, so that each step runs over them at full width.
    """

    def __init__(
        self,
        cost: Floats,
        supply: Floats,
        demand: Floats,
        marks: Floats,
        ceilings: Floats,
        with_flow: bool,
    ) -> None:
        self.cost = np.ascontiguousarray(np.moveaxis(cost, 0, -1))
        self.supply, self.demand = supply.T.copy(), demand.T.copy()
        self.marks, self.ceilings, self.with_flow = marks, ceilings, with_flow
        self.flow = np.zeros(self.cost.shape)
        self.live = np.arange(len(cost))
        self.done = np.zeros(len(cost))
        self.curve = np.zeros((len(marks), len(cost)))
        self.moved = np.zeros((len(ceilings), len(cost)))
        self.kept = np.zeros(self.cost.shape if with_flow else 0)

    def augment_all(self) -> None:
        while len(self.live):
            reach, from_i, from_j = self._shortest_paths()
            ends = np.where(self.demand > 0, reach, np.inf)
            price, last = np.full(len(self.live), np.inf), np.zeros(len(self.live), dtype=np.int8)
            _relax(price[None], last[None], ends[:, None])
            amount = self._push(last, from_i, from_j)
            self._record(price, amount)
            self._drop_finished(price)

    def _shortest_paths(self) -> tuple[Floats, Places, Places]:
        """Bellman-Ford from every colour with mass left; exact integers, so no false cycles."""
        at_i = np.where(self.supply > 0, 0.0, np.inf)
        at_j = np.full(self.demand.shape, np.inf)
        back = np.where(self.flow > 0, -self.cost, np.inf).swapaxes(0, 1)
        from_i = np.full(at_j.shape, -1, dtype=np.int8)
        from_j = np.full(at_i.shape, -1, dtype=np.int8)
        while True:
            # Only a strictly shorter way replaces a known one: a tie could close a circle.
            if not _relax(at_j, from_i, (at_i[i] + self.cost[i] for i in range(len(at_i)))):
                return at_j, from_i, from_j
            if not _relax(at_i, from_j, (at_j[j] + back[j] for j in range(len(at_j)))):
                return at_j, from_i, from_j

    def _push(self, last: Places, from_i: Places, from_j: Places) -> Floats:
        """Send as much as each path bears; returns the amounts.

        The paths are walked back from their last colour: forward legs i → j bear anything,
        backward legs j → i bear the flow they undo, the start bears what is left of its mass.
        """
        pairs = np.arange(len(last))
        amount = self.demand[last, pairs]
        legs: list[tuple[float, NDArray[np.intp], Places, Places]] = []
        starts: list[tuple[NDArray[np.intp], Places]] = []
        rows, j = pairs, last
        while len(rows):
            i = from_i[j, rows]
            legs.append((1.0, rows, i, j))
            before = from_j[i, rows]
            start, on = before < 0, before >= 0
            starts.append((rows[start], i[start]))
            bears = self.supply[i[start], rows[start]]
            amount[rows[start]] = np.minimum(amount[rows[start]], bears)
            rows, i, j = rows[on], i[on], before[on]
            amount[rows] = np.minimum(amount[rows], self.flow[i, j, rows])
            legs.append((-1.0, rows, i, j))
        for sign, rows, i, j in legs:
            self.flow[i, j, rows] += sign * amount[rows]
        for rows, i in starts:
            self.supply[i, rows] -= amount[rows]
        self.demand[last, pairs] -= amount
        return amount

    def _record(self, price: Floats, amount: Floats) -> None:
        """Book this stretch of the curve, on which every piece costs ``price``."""
        stretch = np.clip(self.marks[:, None] - self.done, 0.0, amount)
        self.curve[:, self.live] += price * stretch
        self.done += amount
        for i, ceiling in enumerate(self.ceilings):
            within = price <= ceiling
            self.moved[i, self.live[within]] = self.done[within]
        if self.with_flow:
            within = price <= self.ceilings[-1]
            self.kept[..., self.live[within]] = self.flow[..., within]

    def _drop_finished(self, price: Floats) -> None:
        """Pairs past their last mark and past the ceiling need no more paths."""
        enough = price > self.ceilings[-1]
        if not self.with_flow:
            enough &= self.done >= self.marks[-1]
        stay = np.flatnonzero(~(enough | (self.done >= MASS)))
        if len(stay) == len(self.live):
            return
        for name in ("cost", "supply", "demand", "flow", "live", "done"):
            setattr(self, name, getattr(self, name).take(stay, axis=-1))


def _relax(known: Floats, via: Places, ways: Iterable[Floats]) -> bool:
    """Take the first of the shortest ``ways`` wherever it beats what is known; whether any did."""
    moved = False
    for number, way in enumerate(ways):
        better = way < known
        if better.any():
            moved = True
            np.copyto(known, way, where=better)
            np.copyto(via, number, where=better)
    return moved
