"""Would another measurement of the colours have given another order?

Each print's colours are drawn again within their uncertainty, and every time the sequence is
found anew: exactly, under the same wishes, for up to MOST_EXACT prints; beyond, a better order is
looked for close by (:mod:`sequencer.order.nearby`), which may miss one, and the answer says that
it is approximate. A neighbour that survives nine trials in ten is certain.

An error of the light or the reference moves all prints of one photograph together and leaves
their differences as they are; only a print's own part moves it alone. That is why scraps
photographed together can be ordered better than they can be measured. Uncertainties are ΔE00 and
are drawn as such: along lightness, chroma and hue, each stretched by CIEDE2000's weighting
functions at the colour (Sharma, Wu and Dalal 2005; its rotation term for blues left out).
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence as List
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sequencer.colour.meeting import Palettes, meet, palettes_of
from sequencer.colour.spaces import Floats, lch
from sequencer.models import Json, Print, Sequence
from sequencer.order.graph.costs import Box
from sequencer.order.nearby import descend
from sequencer.order.report import totals
from sequencer.order.wishes.answer import answer_for
from sequencer.order.wishes.asked import Usual
from sequencer.order.wishes.wish import Wishes

if TYPE_CHECKING:
    import networkx as nx

MOST_EXACT = 20
OWN_PART = 1 / 3
"""Part of the uncertainty that moves a print alone, where its measurement does not say."""

CERTAIN = 0.9
_NINE_IN_TEN = 2.5003  # radius, in standard deviations, that holds 90 % of a 3-D normal scatter
_NEAREST = 6
_ROUNDS = 8
_BLOCK = 20
_SECONDS = 60.0  # for one trial: never reached, so that the answer never depends on a clock


@dataclass(frozen=True)
class Confidence:
    """How the order fared when its colours were drawn again.

    ``trials``: how many were made. ``order``: share of them in which no other order was better.
    ``neighbours``: for each pair, in the sequence's order, the share of trials that kept it.
    ``exact``: whether each was solved exactly, or only searched close by.
    """

    trials: int
    order: float
    neighbours: tuple[float, ...]
    exact: bool = True

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "trials": self.trials,
            "order": round(self.order, 4),
            "exact": self.exact,
            "neighbours": [round(share, 4) for share in self.neighbours],
        }


def confidence(
    graph: nx.Graph[str],
    sequence: Sequence,
    prints: List[Print],
    seed: int = 0,
    trials: int | None = None,
    wishes: Wishes | None = None,
) -> Confidence:
    """Draw the colours again and see what stands.

    Args:
        graph: the transition graph the sequence was found on.
        sequence: what was found; a loop or a path.
        prints: with ``uncertainty`` (ΔE00, nine times in ten) and ``photo``.
        seed: same seed, same answer.
        trials: how many draws; by default 40, fewer for more than 50 prints, none beyond 200.
        wishes: kept in every trial, as far as they name prints of the sequence. With a number to
            pick, pairs that blur or lie too close stay apart as well.
    """
    names = list(sequence.order)
    exact = len(names) <= MOST_EXACT
    wanted = _trials_for(len(names)) if trials is None else trials
    if len(names) < 4 or wanted < 1 or "jump" not in graph.graph:
        return Confidence(0, 1.0, tuple(1.0 for _ in sequence.neighbours), exact)
    asked = _Again(graph, sequence, wishes or Wishes((), sequence.loop))
    trial = _Trials(graph, sequence, prints, seed)
    kept = np.zeros(len(sequence.neighbours))
    stood = 0
    for start in range(0, wanted, _BLOCK):
        for costs in trial.draw(min(_BLOCK, wanted - start)):
            pairs = asked.exactly(costs) if exact else asked.close_by(costs)
            kept += [pair in pairs for pair in trial.pairs]
            stood += pairs == set(trial.pairs)
    return Confidence(
        wanted, stood / wanted, tuple(float(x) for x in kept / wanted), exact)


class _Again:
    """Finds the order of the same prints anew, under the same wishes, for other costs."""

    def __init__(self, graph: nx.Graph[str], sequence: Sequence, wishes: Wishes) -> None:
        self.loop, self.aim, self.wishes = sequence.loop, sequence.aim, wishes
        self.ids = tuple(sequence.order)
        self.old = list(range(len(self.ids)))
        self.pairs = _pairs(self.old, self.loop)
        there = set(self.ids)
        self.kept = wishes.only(
            wish for wish in wishes.wishes
            if wish.kind in ("first", "last", "together", "apart", "before")
            and there >= set(wish.prints)
        )
        self.barred = _matrix(graph, sequence.order) == np.inf
        least = wishes.number("distinct")
        if wishes.number("pick") is not None or least is not None:
            self._bar_the_close(graph, float(graph.graph["distinct"] if least is None else least))

    def _bar_the_close(self, graph: nx.Graph[str], least: float) -> None:
        for i, a in enumerate(self.ids):
            for j in range(i):
                edge = graph.get_edge_data(a, self.ids[j]) or {}
                close = edge.get("verdict") == "blurs" or edge.get("cost", 0.0) < least
                if close and frozenset((i, j)) not in self.pairs:
                    self.barred[i, j] = self.barred[j, i] = True

    def exactly(self, costs: Floats) -> set[frozenset[int]]:
        """The pairs of the best order; of the old one where that is as good."""
        cost: NDArray[np.float64] = np.array(costs, dtype=np.float64)
        cost[self.barred] = np.inf
        box = Box(self.ids, cost, None)
        found = answer_for(box, self.kept, self.aim, Usual(), time.monotonic() + _SECONDS)
        if found is None or found.answer.order is None:
            return self.pairs
        order = found.asked.as_read(list(found.answer.order))
        old, new = (self._price(cost, way) for way in (self.old, order))
        return self.pairs if old <= new else _pairs(order, self.loop)

    def _price(self, cost: NDArray[np.float64], order: list[int]) -> tuple[float, ...]:
        total, worst = totals(Box(self.ids, cost, None), order, self.loop, self.aim)
        return (round(worst, 6), round(total, 6)) if self.aim == "worst" else (round(total, 6),)

    def close_by(self, costs: Floats) -> set[frozenset[int]]:
        """The pairs of the best order that a few moves lead to."""
        priced = np.where(self.barred, np.inf, _priced(costs, self.aim))
        order = descend(priced, self.old, self.loop, self._allows, _ROUNDS)
        return _pairs(order, self.loop)

    def _allows(self, order: list[int]) -> bool:
        return keeps(self.kept, tuple(self.ids[k] for k in order))


def keeps(wishes: Wishes, way: tuple[str, ...]) -> bool:
    """Whether an order keeps the wishes; it may be read from either end, a loop from any print."""
    met = {frozenset(pair) for pair in pairwise(way)}
    if wishes.loop:
        met.add(frozenset((way[-1], way[0])))
    if any(frozenset(pair) not in met for pair in wishes.named("together")):
        return False
    if any(frozenset(pair) in met for pair in wishes.named("apart")):
        return False
    first, last = wishes.end("first"), wishes.end("last")
    if wishes.loop:
        return not (first and last) or frozenset((first, last)) in met
    return any(
        first in (None, one[0]) and last in (None, one[-1])
        and all(one.index(a) < one.index(b) for a, b in wishes.named("before"))
        for one in (way, way[::-1])
    )


def _trials_for(count: int) -> int:
    """By size alone, so that the answer never depends on how fast the machine is."""
    return 0 if count > 200 else max(8, min(40, 2000 // max(count, 1)))


def with_confidence(sequence: Sequence, found: Confidence) -> Sequence:
    """The sequence with ``certain`` set on its neighbours."""
    if not found.trials:
        return sequence
    pairs = tuple(
        replace(pair, certain=share >= CERTAIN)
        for pair, share in zip(sequence.neighbours, found.neighbours, strict=True)
    )
    return replace(sequence, neighbours=pairs)


class _Trials:
    """Cost matrices of the sequence's prints with their colours drawn again."""

    def __init__(
        self, graph: nx.Graph[str], sequence: Sequence, prints: List[Print], seed: int
    ) -> None:
        by_id = {one.id: one for one in prints}
        self.prints = [by_id[name] for name in sequence.order]
        self.palettes = palettes_of(self.prints)
        self.loop, self.aim = sequence.loop, sequence.aim
        self.costs = _matrix(graph, sequence.order)
        place = {name: k for k, name in enumerate(sequence.order)}
        self.pairs = [frozenset((place[p.a], place[p.b])) for p in sequence.neighbours]
        self.first, self.second = self._watched()
        self.random = np.random.default_rng(seed)
        own, common = np.array([_parts(one) for one in self.prints]).T
        self.own, self.common = own / _NINE_IN_TEN, common / _NINE_IN_TEN
        photos = {one.photo: None for one in self.prints}
        number = {photo: k for k, photo in enumerate(photos)}
        self.photo = np.array([number[one.photo] for one in self.prints])

    def draw(self, count: int) -> list[Floats]:
        """``count`` matrices of costs; pairs far from being neighbours keep their cost."""
        size = len(self.prints)
        draws = self._draws(count)
        moved = Palettes(
            moved_by(self.palettes.labs, draws[:, :, None, :]).reshape(count * size, -1, 3),
            np.tile(self.palettes.masses, (count, 1)),
            moved_by(self.palettes.means, draws).reshape(count * size, 3),
            np.tile(self.palettes.spread, count),
        )
        offsets = (np.arange(count) * size)[:, None]
        run = meet(moved, (self.first + offsets).ravel(), (self.second + offsets).ravel())
        drawn = np.repeat(self.costs[None], count, axis=0)
        found = run.cost.reshape(count, -1)
        drawn[:, self.first, self.second] = drawn[:, self.second, self.first] = found
        return list(drawn)

    def _draws(self, count: int) -> Floats:
        """(count, n, 3): how far each print errs in lightness, chroma and hue, ΔE00."""
        photos = self.random.standard_normal((count, int(self.photo.max()) + 1, 3))
        alone = self.random.standard_normal((count, len(self.prints), 3))
        together = photos[:, self.photo] * self.common[None, :, None]
        return np.asarray(together + alone * self.own[None, :, None])

    def _watched(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The neighbours, and each print's nearest: pairs that could be neighbours at all."""
        size = len(self.costs)
        watched = {tuple(sorted(pair)) for pair in self.pairs}
        far = self.costs + np.diag(np.full(size, np.inf))
        nearest = np.argsort(far, axis=1, kind="stable")[:, : min(_NEAREST, size - 1)]
        watched |= {(min(i, int(j)), max(i, int(j))) for i in range(size) for j in nearest[i]}
        first, second = zip(*sorted(watched), strict=True)
        return np.array(first, dtype=np.intp), np.array(second, dtype=np.intp)


def _parts(one: Print) -> tuple[float, float]:
    """The uncertainty of its own, and what the whole photo shares (ΔE00, nine times in ten)."""
    own, common = one.own_uncertainty, one.shared_uncertainty
    if own is None:
        own = OWN_PART * one.uncertainty
    if common is None:
        common = math.sqrt(max(one.uncertainty**2 - own**2, 0.0))
    return own, common


def moved_by(labs: Floats, draws: Floats) -> Floats:
    """Colours (…, 3) moved by ΔE00 amounts along lightness, chroma and hue (…, 3).

    Each amount is stretched by CIEDE2000's S_L, S_C, S_H at the colour (Sharma, Wu, Dalal 2005,
    equations 15 to 20, on the ellipse's own chroma without its small correction of a*).
    """
    light, chroma, hue = np.moveaxis(lch(labs), -1, 0)
    angle = np.radians(hue)
    off = (light - 50.0) ** 2
    s_l = 1 + 0.015 * off / np.sqrt(20 + off)
    bumps = (1 - 0.17 * np.cos(angle - np.pi / 6) + 0.24 * np.cos(2 * angle)
             + 0.32 * np.cos(3 * angle + np.radians(6)) - 0.20 * np.cos(4 * angle - np.radians(63)))
    s_c, s_h = 1 + 0.045 * chroma, 1 + 0.015 * chroma * bumps
    along = draws * np.stack([s_l, s_c, s_h], axis=-1)
    cos, sin = np.cos(angle), np.sin(angle)
    return np.asarray(labs + np.stack([
        along[..., 0],
        along[..., 1] * cos - along[..., 2] * sin,
        along[..., 1] * sin + along[..., 2] * cos,
    ], axis=-1))


def _matrix(graph: nx.Graph[str], order: tuple[str, ...]) -> Floats:
    size = len(order)
    costs = np.full((size, size), np.inf)
    for i, a in enumerate(order):
        for j in range(i + 1, size):
            edge = graph.get_edge_data(a, order[j])
            if edge is not None:
                costs[i, j] = costs[j, i] = float(edge["cost"])
    np.fill_diagonal(costs, 0.0)
    return costs


def _priced(costs: Floats, aim: str) -> Floats:
    """Costs as the aim adds them up; the worst step weighs by a high power."""
    return costs ** {"total": 1.0, "worst": 8.0}.get(aim, 2.0)


def _pairs(order: list[int], loop: bool) -> set[frozenset[int]]:
    closing = [(order[-1], order[0])] if loop else []
    return {frozenset(pair) for pair in [*pairwise(order), *closing]}
