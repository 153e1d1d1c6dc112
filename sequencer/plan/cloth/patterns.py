"""Chains of strips, joined end to end, and what each can be cut into (see the proof)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from sequencer.plan.cloth.pieces import Cutting, Order

MOST_CHAINS = 1_000
MOST_PATTERNS = 3_000
"""Chains of one length, and patterns of the largest model; beyond them the quick answer stands,
with its bound."""

Counts = tuple[int, ...]


@dataclass(frozen=True)
class Pattern:
    """``strips``: how many of each length there is; ``wanted``: of each length wanted."""

    strips: Counts
    wanted: Counts

    @property
    def joins(self) -> int:
        """Joins that the chain needs at least."""
        return sum(self.strips) - 1


def find_patterns(
    order: Order, quick: Cutting, have: Sequence[Fraction], want: Sequence[Fraction]
) -> list[Pattern]:
    """Every chain worth making; empty where there are too many to prove anything."""
    unit = math.lcm(*(x.denominator for x in (*have, *want, order.loss)))
    held, wanted = [int(x * unit) for x in have], [int(x * unit) for x in want]
    loss, counts = int(order.loss * unit), Counter(order.lengths)
    most = tuple(counts[length] for length in want)
    found: dict[Pattern, None] = {}
    for limits in _limits(order, have):
        if not _add_patterns(found, held, wanted, most, limits, loss, quick):
            return []
    return list(found)


def _limits(order: Order, have: Sequence[Fraction]) -> list[Counts]:
    """How many strips of each length there are, for each way of cutting all scraps."""
    mixes = product(*(scrap or (None,) for scrap in order.scraps))
    found = {
        tuple(sum(way.count for way in mix if way and way.length == length) for length in have)
        for mix in mixes
    }
    return sorted(found, reverse=True)


def _add_patterns(
    found: dict[Pattern, None],
    held: Sequence[int],
    wanted: Sequence[int],
    most: Counts,
    limits: Counts,
    loss: int,
    quick: Cutting,
) -> bool:
    """Add the chains that these strips give; False where there are too many."""
    longest_chain = sum(limits) if quick.short_by else min(sum(limits), quick.joins + 1)
    chains: dict[Counts, int] = {tuple(0 for _ in held): loss}
    gives: dict[Counts, int] = {}
    for size in range(1, longest_chain + 1):
        chains = _longer(chains, held, limits, loss)
        if not chains:
            break
        if len(chains) > MOST_CHAINS or len(found) > MOST_PATTERNS:
            return False
        for strips, room in chains.items():
            fillings = list(_fillings(room, wanted, most))
            if len(wanted) == 1:
                gives[strips] = fillings[0][0] if fillings else 0
                if size > 1 and _splits(strips, gives):
                    continue
            found.update(dict.fromkeys(Pattern(strips, filling) for filling in fillings))
    return True


def _longer(
    chains: Mapping[Counts, int], held: Sequence[int], limits: Sequence[int], loss: int
) -> dict[Counts, int]:
    """Chains of one strip more, with their lengths; a strip no longer than a join adds nothing."""
    longer: dict[Counts, int] = {}
    for strips, room in chains.items():
        for at, length in enumerate(held):
            if strips[at] < limits[at] and (length > loss or not any(strips)):
                grown = (*strips[:at], strips[at] + 1, *strips[at + 1 :])
                longer[grown] = room + length - loss
    return longer


def _splits(strips: Counts, gives: Mapping[Counts, int]) -> bool:
    """Whether the chain yields no more than it would with one strip set free."""
    for at, count in enumerate(strips):
        if count:
            rest = (*strips[:at], count - 1, *strips[at + 1 :])
            alone = tuple(int(i == at) for i in range(len(strips)))
            if gives.get(rest, 0) + gives.get(alone, 0) >= gives[strips]:
                return True
    return False


def _fillings(room: int, want: Sequence[int], most: Sequence[int]) -> Iterator[Counts]:
    """Numbers of each length wanted that fit into ``room``, none of which could take one more."""
    top = min(most[0], room // want[0])
    if len(want) == 1:
        if top > 0:
            yield (top,)
        return
    for count in range(top, -1, -1):
        rest = list(_fillings(room - count * want[0], want[1:], most[1:]))
        for more in rest:
            yield (count, *more)
        if not rest and count:
            yield (count, *(0 for _ in want[1:]))
