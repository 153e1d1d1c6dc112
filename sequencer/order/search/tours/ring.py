"""The closed tour as a question, and its answer."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sequencer.order.graph.costs import FORBIDDEN, Ints
from sequencer.order.search.question import Pairs


@dataclass(frozen=True)
class Answer:
    """``order`` None and ``proved``: there is none. ``bound`` is never above the best weight."""

    order: tuple[int, ...] | None
    weight: int
    bound: float
    proved: bool


NONE = Answer(None, 0, np.inf, True)
"""There is no order."""


@dataclass(frozen=True)
class Ring:
    """One closed-tour question: symmetric whole ``weights`` (n, n), FORBIDDEN where not allowed.

    ``fixed``: pairs (a < b) that must meet. ``limits``: (pairs, at most so many of them).
    """

    weights: Ints
    fixed: Pairs = frozenset()
    limits: Sequence[tuple[Pairs, int]] = ()

    def allows(self, tour: Sequence[int]) -> bool:
        """Whether this tour keeps every rule."""
        pairs = tour_pairs(tour)
        forbidden = any(self.weights[pair] >= FORBIDDEN for pair in pairs)
        kept = self.fixed <= pairs and all(len(pairs & p) <= most for p, most in self.limits)
        return kept and not forbidden

    def pulled(self) -> Ints:
        """Weights that draw a heuristic to the fixed pairs and keep it off the forbidden ones."""
        weights = self.weights.copy()
        real = weights[weights < FORBIDDEN]
        pull = 4 * int(real.max(initial=0)) + 4
        weights[weights >= FORBIDDEN] = pull
        for a, b in self.fixed:
            weights[a, b] = weights[b, a] = -pull
        return weights


def tour_pairs(tour: Sequence[int]) -> Pairs:
    """The pairs (a < b) that meet in a closed tour."""
    closed = [*tour, tour[0]]
    return frozenset((min(a, b), max(a, b)) for a, b in pairwise(closed))


def one_ring(n: int, ends: Ints) -> list[int] | None:
    """The closed tour these n edges make, from node 0; None if they make several rings."""
    links: list[list[int]] = [[] for _ in range(n)]
    for a, b in ends.tolist():
        links[a].append(b)
        links[b].append(a)
    if any(len(link) != 2 for link in links):
        return None
    tour, previous, here = [0], 0, links[0][0]
    while here != 0:
        tour.append(here)
        previous, here = here, links[here][links[here][0] == previous]
    return tour if len(tour) == n else None


def share_of(deadline: float, share: float) -> float:
    """The moment when this share of the time left will have passed."""
    now = time.monotonic()
    return now + share * max(0.0, deadline - now)
