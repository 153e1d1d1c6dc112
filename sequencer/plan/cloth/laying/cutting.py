"""Strips cut from one print's scraps and joined end to end, in two efforts.

A cutting-stock problem (Gilmore and Gomory, Operations Research 9 (1961) 849) in which a strip
may also be put together from several pieces, each join costing a known length, and in which each
scrap may be cut in several ways. Least shortage counts first, then fewest joins, then what is
left: few scraps and lanes touched, so that the left-over stays in one piece.

The quick effort fills the lanes best-fit decreasing, for the ways that the bound favours. The
thorough one goes on to change one scrap's way at a time, up to MOST_FILLED fillings. Both are
counted in work, not seconds, and work in whole numbers, so that every machine finds the same.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import product

from sequencer.plan.cloth.laying.bound import Order
from sequencer.plan.cloth.laying.cuttings import Cutting, Mix
from sequencer.plan.cloth.laying.filling import Bench
from sequencer.plan.cloth.laying.lanes import Way

MOST_FILLED, MOST_LOOKS = 60, 20_000
"""Mixes of ways that the thorough effort may try, and lanes times strips looked at in all."""


@lru_cache(maxsize=8192)
def cut_quickly(order: Order) -> Cutting:
    """A good cutting at once."""
    return Bench(order).best(_first_mixes(order), until=True)


@lru_cache(maxsize=2048)
def cut_thoroughly(order: Order) -> Cutting:
    """The best of up to MOST_FILLED fillings; never worse than the quick one."""
    best = cut_quickly(order)
    if not order.scraps or not order.lengths:
        return best
    bench, filled = Bench(order), 0
    lanes = sum(max((len(way.lanes) for way in ways), default=0) for ways in order.scraps)
    most = min(MOST_FILLED, MOST_LOOKS // max(1, lanes * len(order.lengths)))
    better = not best.proved
    while better and filled < most:
        better = False
        for scrap, ways in enumerate(order.scraps):
            for way in ways:
                if way == best.ways[scrap] or filled >= most:
                    continue
                filled += 1
                mix = (*best.ways[:scrap], way, *best.ways[scrap + 1 :])
                found = bench.best([mix])
                if found.merit < best.merit:
                    best, better = found, True
    return best


def _first_mixes(order: Order) -> list[Mix]:
    """Each scrap the way that the bound favours; most whole strips; longest lanes; most length."""
    least = min(order.lengths, default=1)
    most = max(order.lengths, default=1)
    scores = (
        lambda way: (sum(way.lanes) + order.loss * _whole(way, least), max(way.lanes)),
        lambda way: (_whole(way, most), _whole(way, least), sum(way.lanes)),
        lambda way: (max(way.lanes), sum(way.lanes)),
        lambda way: (sum(way.lanes), max(way.lanes)),
    )
    mixes = [tuple(max(ways, key=score) if ways else None for ways in order.scraps)
             for score in scores]  # fmt: skip
    if len(order.scraps) == 1 and len(order.scraps[0]) <= 4:
        mixes += list(product(*order.scraps))
    return list(dict.fromkeys(mixes))


def _whole(way: Way, length: int) -> int:
    return sum(lane // length for lane in way.lanes)
