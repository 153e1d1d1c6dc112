"""Strip that must be lacking, whatever the lengths of the sets and however lanes are filled.

Two sums that every plan of these columns meets; the stronger one counts. Let N be the columns'
cut widths times the repeats, m the margin of a set (squaring and spare), S how many strips there
are, J how many joins, each at a loss l.

All strips together are N + m S long, and no more than the lanes give is made of them.

Every lane that is used gives one piece or more, and pieces are S + J. What lanes of lengths a, b …
make is therefore at most (a - t) + (b - t) + … of N, with t the lesser of m and l, or m where
nothing is joined; a lane too short to be a strip or worth joining gives nothing. Strips that are
not made lack their margin besides.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from sequencer.models import Column
from sequencer.plan.asked import Request
from sequencer.plan.cloth.box import Box


def net_needed(request: Request, columns: Sequence[Column]) -> Fraction:
    """Strip of each print that ends in columns."""
    return sum((column.cut_width for column in columns), Fraction(0)) * request.repeats


def least_strips(request: Request, columns: Sequence[Column]) -> int:
    """Strips of each print in as few sets as there can be."""
    sets = 2 if request.press == "nested" and len(columns) > 1 else 1
    return sets * (request.repeats if request.tall else 1)


def least_lacking(request: Request, box: Box, columns: Sequence[Column]) -> Fraction:
    """Inches of strip that no plan of these columns can find in the box."""
    net, strips = net_needed(request, columns), least_strips(request, columns)
    narrow = min(column.cut_width for column in columns)
    margin = request.squaring + request.spare
    short = Fraction(0)
    for key in box.sized:
        whole, lanes = most_net(box, key, strips, narrow)
        by_lanes = net - lanes + margin if net > lanes else Fraction(0)
        short += max(Fraction(0), net - whole, by_lanes)
    return short


def most_net(box: Box, key: str, strips: int, narrow: Fraction) -> tuple[Fraction, Fraction]:
    """Most of N that one print can give, by the first and by the second sum.

    ``strips``: at least so many. ``narrow``: cut width that no column is below.
    """
    request = box.request
    margin = request.squaring + request.spare
    toll, least = margin, margin + narrow
    if request.joins != "none":
        loss = box.loss(key)
        toll = min(margin, loss)
        least = min(least, loss + request.cut(request.strips[key]) / 2)
    return box.most(key) - margin * strips, box.most(key, toll, least)
