"""What no cutting can beat: least shortage, then least joins.

With the ways fixed, let T be the length of all lanes and W how many of the shortest strips wanted
they hold whole. Of the strips made, M, at least |M| - W are joined, so

    sum over M of length + loss (|M| - W) <= T,    that is    sum over M of (length + loss) <= C

with C = T + loss W. C is a sum over the scraps, so its greatest value over all ways is found
scrap by scrap, and what cannot be made within it is surely lacking.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import product
from math import prod

from sequencer.plan.cloth.laying.lanes import Way

MOST_COUNTED = 4000
"""Mixes of lengths that are counted one by one; with more kinds a weaker bound serves."""
Bound = tuple[int, int]
"""Length lacking, joins."""


@dataclass(frozen=True)
class Order:
    """What is wanted of one print, in whole parts of an inch.

    ``scraps``: the ways to cut each. ``lengths``: of the strips wanted. ``loss``: length a join
    costs. ``shortest``: piece worth joining (more than ``loss``). ``most_pieces``: in a strip.
    """

    scraps: tuple[tuple[Way, ...], ...]
    lengths: tuple[int, ...]
    loss: int
    shortest: int
    most_pieces: int = 1000


def pieces_needed(order: Order, length: int, longest: int) -> int:
    """Pieces that a strip needs at least; 0 where no number of them will do."""
    if length <= longest:
        return 1
    if longest <= order.loss or longest < order.shortest:
        return 0
    count = -(-(length - order.loss) // (longest - order.loss))
    return count if count <= order.most_pieces else 0


def lower_bound(order: Order) -> Bound:
    """No cutting lacks less, nor (where nothing lacks) has fewer joins."""
    ways = [way for scrap in order.scraps for way in scrap]
    longest = max((max(way.lanes) for way in ways), default=0)
    needs = {length: pieces_needed(order, length, longest) for length in set(order.lengths)}
    lost = sum(length for length in order.lengths if not needs[length])
    able = [length for length in order.lengths if needs[length]]
    whole_kinds = [length for length in able if needs[length] == 1]
    least = min(whole_kinds, default=0)
    joining = order.most_pieces > 1
    loss = order.loss if joining else 0
    room = whole = 0
    for scrap in order.scraps:
        held = [(sum(way.lanes), sum(lane // least for lane in way.lanes) if least else 0)
                for way in scrap]  # fmt: skip
        room += max((total + loss * count for total, count in held), default=0)
        whole += max((count for _, count in held), default=0)
    weight = {
        length: length + loss * (needs[length] - 1 if needs[length] > 1 else 1) for length in able
    }
    made = _most_made(Counter(able), weight, room, len(able) if joining else whole)
    short = lost + sum(able) - made
    joins = max(sum(needs[length] - 1 for length in able), len(able) - whole)
    return short, 0 if short else max(0, joins)


def _most_made(
    wanted: Counter[int], weight: dict[int, int], room: int, most: int
) -> int:
    """Greatest length of strips whose weights fit into ``room``, no more than ``most`` strips."""
    kinds = sorted(wanted, reverse=True)
    everything = sum(kind * count for kind, count in wanted.items())
    if not kinds or (
        sum(weight[k] * c for k, c in wanted.items()) <= room and wanted.total() <= most
    ):
        return everything
    *others, last = kinds
    if prod(wanted[kind] + 1 for kind in others) > MOST_COUNTED:
        return min(everything, room)
    best = 0
    for counts in product(*(range(wanted[kind] + 1) for kind in others)):
        left = room - sum(weight[k] * c for k, c in zip(others, counts, strict=True))
        free = most - sum(counts)
        if left < 0 or free < 0:
            continue
        fill = min(wanted[last], left // weight[last], free)
        best = max(best, fill * last + sum(k * c for k, c in zip(others, counts, strict=True)))
    return best
