"""Would another measurement of the colours have given another order?

Each print's colours are drawn again within their uncertainty, and every time the sequence is
searched for a better one close by (:mod:`sequencer.order.nearby`). A neighbour that survives nine
trials in ten is certain. A search this short finds that an order would change, it does not prove
that it would not: the price of never keeping the answer waiting.

An error of the light or the reference moves all prints of one photograph together and leaves
their differences as they are; only what is left of a print's uncertainty moves it alone. That is
why scraps photographed together can be ordered better than they can be measured.
"""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Sequence as List
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sequencer.colour.meeting import Palettes, meet, palettes_of
from sequencer.colour.spaces import Floats
from sequencer.models import Json, Print, Sequence
from sequencer.order.nearby import descend

if TYPE_CHECKING:
    import networkx as nx

OWN_ERROR = 2.0
"""ΔE00 a print may err on its own beside its neighbours in one photo: uneven light, noise, weave
(an estimate: about what is left where the light has been evened)."""

CERTAIN = 0.9
_NINE_IN_TEN = 2.5003  # radius, in standard deviations, that holds 90 % of a 3-D normal scatter
_NEAREST = 6
_ROUNDS = 8
_BLOCK = 20

Accepts = Callable[[tuple[str, ...]], bool]


@dataclass(frozen=True)
class Confidence:
    """How the order fared when its colours were drawn again.

    ``trials``: how many were made. ``order``: share of them in which no better
    order lay close by. ``neighbours``: for each pair, in the sequence's order, the share of trials
    that kept it.
    """

    trials: int
    order: float
    neighbours: tuple[float, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "trials": self.trials,
            "order": round(self.order, 4),
            "neighbours": [round(share, 4) for share in self.neighbours],
        }


def confidence(
    graph: nx.Graph[str],
    sequence: Sequence,
    prints: List[Print],
    seed: int = 0,
    trials: int | None = None,
    accepts: Accepts | None = None,
) -> Confidence:
    """Draw the colours again and see what stands.

    Args:
        graph: the transition graph the sequence was found on.
        sequence: what was found; a loop or a path.
        prints: with ``uncertainty`` (ΔE00, nine times in ten) and ``photo``.
        seed: same seed, same answer.
        trials: how many draws; by default 40, fewer for more than 50 prints, none beyond 200.
        accepts: tells whether an order keeps the maker's wishes; orders that do not are no
            better ones. By default every order may come.
    """
    names = list(sequence.order)
    wanted = _trials_for(len(names)) if trials is None else trials
    if len(names) < 4 or wanted < 1 or "jump" not in graph.graph:
        return Confidence(0, 1.0, tuple(1.0 for _ in sequence.neighbours))
    trial = _Trials(graph, sequence, prints, seed)

    def allows(order: list[int]) -> bool:
        return accepts is None or accepts(tuple(names[k] for k in order))

    kept = np.zeros(len(sequence.neighbours))
    stood = 0
    for start in range(0, wanted, _BLOCK):
        for costs in trial.draw(min(_BLOCK, wanted - start)):
            order = descend(costs, list(range(len(names))), sequence.loop, allows, _ROUNDS)
            pairs = _pairs(order, sequence.loop)
            kept += [pair in pairs for pair in trial.pairs]
            stood += pairs == set(trial.pairs)
    return Confidence(wanted, stood / wanted, tuple(float(x) for x in kept / wanted))


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
        own = np.array([min(one.uncertainty, OWN_ERROR) for one in self.prints])
        whole = np.array([one.uncertainty for one in self.prints])
        self.own = own / _NINE_IN_TEN
        self.common = np.sqrt(np.maximum(whole**2 - own**2, 0.0)) / _NINE_IN_TEN
        photos = {one.photo: None for one in self.prints}
        number = {photo: k for k, photo in enumerate(photos)}
        self.photo = np.array([number[one.photo] for one in self.prints])

    def draw(self, count: int) -> list[Floats]:
        """``count`` matrices of priced steps; pairs far from being neighbours keep their cost."""
        size = len(self.prints)
        shift = self._shifts(count)
        moved = Palettes(
            (self.palettes.labs + shift[:, :, None, :]).reshape(count * size, -1, 3),
            np.tile(self.palettes.masses, (count, 1)),
            (self.palettes.means + shift).reshape(count * size, 3),
            np.tile(self.palettes.spread, count),
        )
        offsets = (np.arange(count) * size)[:, None]
        run = meet(moved, (self.first + offsets).ravel(), (self.second + offsets).ravel())
        drawn = np.repeat(self.costs[None], count, axis=0)
        found = run.cost.reshape(count, -1)
        drawn[:, self.first, self.second] = drawn[:, self.second, self.first] = found
        return [_priced(matrix, self.aim) for matrix in drawn]

    def _shifts(self, count: int) -> Floats:
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
