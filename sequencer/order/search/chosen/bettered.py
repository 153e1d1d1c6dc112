"""A choice made better by taking some of it out and putting the cheapest back in.

Ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt and Dueck, J. Comput. Phys. 159, 2000): a
run of neighbours or a few anywhere go, then, of all prints that are not in, the cheapest is put
where it costs least until the size is right. What is a little dearer is taken too, at first
(threshold accepting: Dueck and Scheuer, J. Comput. Phys. 90, 1990). Begun round every print, many
side by side, fewer and fewer go on. Chance has a fixed seed and rounds are counted, so the same
box begins alike where time allows. Nothing is proved here.
"""

from __future__ import annotations

import time

import numpy as np

from sequencer.order.graph.costs import Floats, Ints
from sequencer.order.search.question import Question
from sequencer.order.search.tours.ring import Answer, Ring
from sequencer.order.search.tours.turning import turned

_LADDER = ((100, 20), (32, 120), (10, 400), (3, 800))
"""How many go on at most, for how many rounds."""
_SHORT = ((10, 30),)
"""Where no order is known and time is up already."""
_MOST_WORK = 20_000_000
"""Prices looked at to fill all that go side by side, so that memory and time stay small."""
_DEARER = 0.1
"""At first what is dearer by so much of the best is still taken."""
_MOST_OUT = 0.4
_RUNS = 0.6
"""How often a run goes, rather than a few anywhere."""
_OFF = 0.3
"""By how much a price may be overstated on the way in, so that not always the same comes back."""


def bettered(q: Question, ring: Ring, rough: Answer, deadline: float) -> Answer:
    """``rough`` or a cheaper choice that keeps every rule; its bound stays.

    ``deadline`` in time.monotonic seconds. Choices so large that one round would be slow, and
    those without a start, are handed back as they came.
    """
    if rough.order is None or rough.proved:
        return rough
    order = _Bettering(q, ring, rough.order, deadline).run(_LADDER)
    return rough if order is None else Answer(order, q.weigh(order), rough.bound, False)


def tried_round(q: Question, ring: Ring, deadline: float) -> tuple[int, ...] | None:
    """The first order that keeps every rule, or None where a few rounds find none (there may be
    one)."""
    return _Bettering(q, ring, None, deadline).run(_SHORT)


class _Bettering:
    """Closed tours of the same size, (m, size), a node beyond the prints among them on a path."""

    def __init__(
        self, q: Question, ring: Ring, rough: tuple[int, ...] | None, deadline: float
    ) -> None:
        self.q, self.deadline, self.order = q, deadline, rough
        self.any_will_do = rough is None
        self.upper = np.inf if rough is None else q.weigh(rough)
        self.weights, self.n = ring.pulled().astype(float), len(ring.weights)
        extra = range(q.count, self.n)
        self.size = q.size + len(extra)
        self.begun = np.array([[*rough, *extra]] if rough else np.empty((0, self.size), np.int64))
        must = {*q.include, *extra, *(v for pair in ring.fixed for v in pair)}
        must |= {v for v in (q.first, q.last) if v is not None}
        self.stays = np.isin(np.arange(self.n), sorted(must))
        self.random = np.random.default_rng(0)

    def run(self, ladder: tuple[tuple[int, int], ...]) -> tuple[int, ...] | None:
        """The cheapest order that came by, so many side by side for so many rounds."""
        most = _MOST_WORK // (self.size * self.size * self.n)
        if most < 1:
            return self.order
        most = min(most, ladder[0][0]) if self.any_will_do else most
        tours = np.vstack([self.begun, self._round_every_print(most)])[:most]
        for going, rounds in ladder:
            cheapest = np.argsort(self._weigh(tours), kind="stable")
            tours = self._annealed(tours[cheapest[:going]], rounds)
        return self.order

    def _round_every_print(self, most: int) -> Ints:
        must = np.flatnonzero(self.stays)
        if len(must) >= self.size:  # nothing to choose: any start will do
            first = self.random.permuted(np.tile(must, (min(most, len(must)), 1)), axis=1)
            return self._filled(first[:, : self.size // 2])
        more = self.random.permutation(np.flatnonzero(~self.stays))[:most, None]
        return self._filled(np.hstack([np.broadcast_to(must, (len(more), len(must))), more]))

    def _weigh(self, tours: Ints) -> Floats:
        """Of each tour; where value spans too little, more than any that spans enough."""
        weight: Floats = self.weights[tours, np.roll(tours, -1, axis=1)].sum(axis=1)
        if self.q.value is None or self.q.value_range <= 0:
            return weight
        value = np.append(self.q.value, [np.nan] * (self.n - self.q.count))[tours]
        short = np.nanmax(value, axis=1) - np.nanmin(value, axis=1) < self.q.value_range
        return np.asarray(weight + short * self.size * self.weights.max())

    def _annealed(self, tours: Ints, rounds: int) -> Ints:
        """The best that each of them became."""
        weight = self._weigh(tours)
        best, least = tours.copy(), weight.copy()
        for done in range(rounds):
            found = self.any_will_do and self.order is not None
            if found or time.monotonic() > self.deadline:
                break
            others = self._filled(self._thinned(tours))
            other = self._weigh(others)
            taken = other < weight + _DEARER * (1 - done / rounds) ** 2 * np.abs(least)
            tours[taken], weight[taken] = others[taken], other[taken]
            better = weight < least
            best[better], least[better] = tours[better], weight[better]
            self._keep(best[int(least.argmin())])
        return best

    def _keep(self, tour: Ints) -> None:
        opened = self.n > self.q.count
        order = turned(self.q, Answer(tuple(tour.tolist()), 0, 0.0, False), opened).order
        if order and self.q.weigh(order) < self.upper and self.q.accepts(order):
            self.order, self.upper = order, self.q.weigh(order)

    def _thinned(self, tours: Ints) -> Ints:
        """Without as many prints from each: a run, or a few anywhere."""
        count, size = tours.shape
        free = size - int(self.stays.sum())
        out = min(free, int(self.random.integers(1, max(2, _MOST_OUT * size))))
        turn = self.random.random((count, size))
        if self.random.random() < _RUNS:
            turn += (np.arange(size) - self.random.integers(size, size=(count, 1))) % size
        turn[self.stays[tours]] = np.inf
        kept = np.sort(np.argsort(turn, axis=1)[:, out:], axis=1)
        return np.take_along_axis(tours, kept, axis=1)

    def _filled(self, tours: Ints) -> Ints:
        """Each with the cheapest put in where it costs least, until the size is right."""
        row = np.arange(len(tours))
        there = np.zeros((len(tours), 1, self.n))
        there[row[:, None], 0, tours] = np.inf
        off = 1 + _OFF * self.random.random(there.shape)
        while tours.shape[1] < self.size:
            to, ahead = self.weights[tours], np.roll(tours, -1, axis=1)
            price = to + np.roll(to, -1, axis=1) - self.weights[tours, ahead][:, :, None]
            price = price * off + there
            after, put = np.divmod(price.reshape(len(row), -1).argmin(axis=1), self.n)
            place = np.arange(tours.shape[1] + 1)
            tours = np.take_along_axis(tours, place - (place > after[:, None]), axis=1)
            tours[row, after + 1] = put
            there[row, 0, put] = np.inf
        return tours
