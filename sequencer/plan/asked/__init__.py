"""What was asked, understood and made exact."""

from sequencer.plan.asked.request import (
    LARGEST_SIDE,
    METRIC,
    MM,
    MOST_ROWS,
    Length,
    Request,
    choose,
    join_loss,
    length,
    listed,
    number,
    parse_widths,
    read_pieces,
    read_size,
)
from sequencer.plan.asked.understand import understand
from sequencer.plan.asked.wishes import PlanWishes

__all__ = [
    "LARGEST_SIDE",
    "METRIC",
    "MM",
    "MOST_ROWS",
    "Length",
    "PlanWishes",
    "Request",
    "choose",
    "join_loss",
    "length",
    "listed",
    "number",
    "parse_widths",
    "read_pieces",
    "read_size",
    "understand",
]
