"""The colours of a sequence's prints drawn again within their uncertainty, as cost matrices.

An error of the light or the reference moves all prints of one photograph together and leaves
their differences as they are; only a print's own part moves it alone. That is why scraps
photographed together can be ordered better than they can be measured. Uncertainties are ΔE00 and
are drawn as such (:func:`sequencer.colour.differences.moved_by`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence as List
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sequencer.colour.differences import moved_by
from sequencer.colour.meeting import Palettes, meet, palettes_of
from sequencer.colour.spaces import Floats
from sequencer.models import Print, Sequence

if TYPE_CHECKING:
    import networkx as nx

OWN_PART = 0.6
"""Part of the uncertainty that moves a print alone, where its measurement does not say: real photos
of targets, .53 to .78 by what they are read by (benchmarks/photo/real_cameras.py,
'own' over errors)."""

_NINE_IN_TEN = 2.5003  # radius, in standard deviations, that holds 90 % of a 3-D normal scatter
_NEAREST = 6


class Trials:
    """Cost matrices of the sequence's prints with their colours drawn again."""

    def __init__(
        self, graph: nx.Graph[str], sequence: Sequence, prints: List[Print], seed: int
    ) -> None:
        by_id = {one.id: one for one in prints}
        self.prints = [by_id[name] for name in sequence.order]
        self.palettes = palettes_of(self.prints)
        self.loop, self.aim = sequence.loop, sequence.aim
        self.costs = costs_of(graph, sequence.order)
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


def costs_of(graph: nx.Graph[str], order: tuple[str, ...]) -> Floats:
    """(n, n) costs in this order, inf where two may not meet, 0 on the diagonal."""
    size = len(order)
    costs = np.full((size, size), np.inf)
    for i, a in enumerate(order):
        for j in range(i + 1, size):
            edge = graph.get_edge_data(a, order[j])
            if edge is not None:
                costs[i, j] = costs[j, i] = float(edge["cost"])
    np.fill_diagonal(costs, 0.0)
    return costs
